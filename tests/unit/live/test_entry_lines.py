"""The entries on the page of a tub or a skull are all that wrote about it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from greasecheck.live.entries.lines import entries_of_skull, entries_of_tub
from greasecheck.logbook.records import Promise, Skull, Tub
from greasecheck.logbook.skulls.promises import enter_promise
from greasecheck.logbook.skulls.skulls import enter_skull
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import enter_tub

if TYPE_CHECKING:
    from pathlib import Path

NOW = datetime.now(UTC)


def test_a_promise_is_among_the_entries_of_its_skull_alone(tmp_path: Path) -> None:
    with Logbook(tmp_path / "season.greasecheck", create=True) as book:
        enter_tub(book, Tub(number=12))
        for name in ("fox 3", "mink 1"):
            enter_skull(book, Skull(name=name))
        ready_by = NOW + timedelta(days=90)
        enter_promise(book, Promise(skull="fox 3", promised_at=NOW, ready_by=ready_by))
        of_fox, of_mink = (entries_of_skull(book, name) for name in ("fox 3", "mink 1"))
        assert [one.what for one in of_fox] == ["Promise of skull fox 3", "Skull fox 3"]
        assert [one.what for one in of_mink] == ["Skull mink 1"]
        assert [one.what for one in entries_of_tub(book, 12)] == ["Tub 12"]
