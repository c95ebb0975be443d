"""A fit is kept under all that it rests on; that of a running soak serves for some hours."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from greasecheck.garage.soaks import kept
from greasecheck.garage.soaks.fits import SoakFit
from greasecheck.garage.soaks.kept import SERVES_FOR, kept_or_fitted
from greasecheck.garage.soaks.past import PastSoak
from greasecheck.logbook.skulls.soaks import Soak
from greasecheck.logbook.store.book import Logbook
from tests.unit.predict.tubs import day, fading_tub

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import datetime
    from pathlib import Path

SKULL = Soak(
    skull="deer",
    species="deer",
    tub=12,
    since=day(0),
    until=day(30),
    degreased=True,
    rinses=False,
)
ENDED = PastSoak(tub=12, until=day(30), soaks=(SKULL,), history=fading_tub(30))


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with Logbook(tmp_path / "season.logbook", create=True) as found:
        yield found


@pytest.fixture
def fits(book: Logbook, monkeypatch: pytest.MonkeyPatch) -> Callable[[PastSoak, datetime], bool]:
    """Ask for the fit of a soak; tell whether it was made anew."""
    made: list[PastSoak] = []

    def fitted(soak: PastSoak) -> SoakFit:
        made.append(soak)
        return SoakFit(soak=soak, rate=None, why_no_rate="", residuals={})

    monkeypatch.setattr(kept, "fit_soak", fitted)

    def ask(soak: PastSoak, now: datetime) -> bool:
        before = len(made)
        [found] = kept_or_fitted(book, [soak], now)
        assert found.soak == soak
        return len(made) > before

    return ask


@pytest.mark.parametrize(
    "other",
    [
        replace(ENDED, until=day(29)),
        replace(ENDED, tub=14),
        replace(ENDED, history=fading_tub(29)),
        replace(ENDED, history=replace(ENDED.history, volume_l=30.0)),
    ],
    ids=["end", "tub", "readings", "volume"],
)
def test_a_soak_is_fitted_once_and_another_by_itself(
    fits: Callable[[PastSoak, datetime], bool], other: PastSoak
) -> None:
    assert fits(ENDED, day(40))
    assert not fits(ENDED, day(90))
    assert fits(other, day(90))
    assert not fits(ENDED, day(91))


def test_a_running_soak_is_fitted_anew_after_some_hours_and_for_an_earlier_time(
    fits: Callable[[PastSoak, datetime], bool],
) -> None:
    def anew(now: datetime) -> bool:
        return fits(replace(ENDED, until=now), now)

    hour = timedelta(hours=1)
    assert anew(day(30))
    assert not anew(day(30) + SERVES_FOR - hour)
    assert anew(day(30) - hour)
    assert anew(day(30) - hour + SERVES_FOR + hour)
