from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from greasecheck.logbook.records import Skull, SkullEvent, Tub
from greasecheck.logbook.skulls.skulls import enter_event, enter_skull
from greasecheck.logbook.skulls.soaks import list_soaks, present_soaks
from greasecheck.logbook.water.baths import enter_tub
from greasecheck.stages import EventKind
from tests.logbook_samples import day

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook


@pytest.fixture
def season(book: Logbook) -> Logbook:
    for number in (12, 14):
        enter_tub(book, Tub(number=number))
    return book


def test_soaks_are_told_with_how_they_ended(season: Logbook) -> None:
    for name, kind in (("fox", EventKind.DEGREASED), ("roe", EventKind.RETURNED)):
        event = SkullEvent(skull=name, happened_at=day(0), kind=EventKind.ENTERED, tub=14)
        enter_skull(season, Skull(name=name, species=f"{name} kind"), event)
        moved = SkullEvent(skull=name, happened_at=day(5), kind=EventKind.MOVED, tub=12)
        enter_event(season, moved)
        enter_event(season, SkullEvent(skull=name, happened_at=day(30), kind=kind))
    again = SkullEvent(skull="fox", happened_at=day(40), kind=EventKind.RESOAKED, tub=12)
    enter_event(season, again)
    told = [(s.skull, s.species, s.tub, s.since, s.until, s.degreased) for s in list_soaks(season)]
    assert told == [
        ("fox", "fox kind", 12, day(0), day(30), True),
        ("fox", "fox kind", 12, day(40), None, False),
        ("roe", "roe kind", 12, day(0), day(30), False),
    ]
    assert [soak.skull for soak in present_soaks(season, 12)] == ["fox"]
