from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from greasecheck.logbook.records import Tub
from greasecheck.logbook.skulls.soaks import list_soaks, present_soaks
from greasecheck.logbook.water.baths import enter_tub
from greasecheck.stages import EventKind
from tests.logbook_samples import day
from tests.skull_log import happen, put_in

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook


@pytest.fixture
def season(book: Logbook) -> Logbook:
    for number in (12, 14):
        enter_tub(book, Tub(number=number))
    return book


def test_soaks_are_told_with_how_they_ended(season: Logbook) -> None:
    for name, kind in (("fox", EventKind.DEGREASED), ("roe", EventKind.RETURNED)):
        put_in(season, name, day(0), 14, species=f"{name} kind")
        happen(season, name, EventKind.MOVED, day(5), 12)
        happen(season, name, kind, day(30))
    happen(season, "fox", EventKind.RESOAKED, day(40), 12)
    told = [(s.skull, s.species, s.tub, s.since, s.until, s.degreased) for s in list_soaks(season)]
    assert told == [
        ("fox", "fox kind", 12, day(0), day(30), True),
        ("fox", "fox kind", 12, day(40), None, False),
        ("roe", "roe kind", 12, day(0), day(30), False),
    ]
    assert [soak.skull for soak in present_soaks(season, 12)] == ["fox"]
