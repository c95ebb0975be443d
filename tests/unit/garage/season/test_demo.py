"""The demo's own logbook is made anew; one of somebody's own is never touched."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Self

import pytest

from greasecheck.errors import LogbookError
from greasecheck.garage.season import demo
from greasecheck.logbook.readings.standards import put_in_force
from greasecheck.logbook.records import Standard, StandardKind, Tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import enter_tub, list_tubs

if TYPE_CHECKING:
    from datetime import tzinfo
    from pathlib import Path


def put(book: Logbook, note: str, since: datetime) -> None:
    kind = StandardKind.TURBIDITY
    put_in_force(book, Standard(kind=kind, in_force_from=since, body="{}", note=note))


def test_a_logbook_without_the_demos_mark_is_left_alone(tmp_path: Path) -> None:
    with Logbook(tmp_path / demo.LOGBOOK, create=True) as own:
        enter_tub(own, Tub(number=3, name="mine"))
    with pytest.raises(LogbookError, match="somebody's own"), demo.fresh_logbook(tmp_path):
        pass
    with Logbook(tmp_path / demo.LOGBOOK) as own:
        assert [tub.name for tub in list_tubs(own)] == ["mine"]


def test_the_demos_own_is_made_anew_also_with_more_in_it(tmp_path: Path) -> None:
    with demo.fresh_logbook(tmp_path) as book:
        put(book, demo.MARK, demo.NOW)
        put(book, "tried out", demo.NOW + timedelta(days=1))
        enter_tub(book, Tub(number=3))
    with demo.fresh_logbook(tmp_path) as book:
        assert list_tubs(book) == ()
        put(book, demo.MARK, demo.NOW)


@pytest.mark.parametrize("days", [-1, 0, 9])
def test_now_is_the_clock_but_never_before_the_seasons_end(
    monkeypatch: pytest.MonkeyPatch, days: int
) -> None:
    class Clock(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> Self:
            return cls.fromtimestamp((demo.NOW + timedelta(days=days)).timestamp(), tz)

    monkeypatch.setattr(demo, "datetime", Clock)
    assert demo.present() == demo.NOW + timedelta(days=max(days, 0))
