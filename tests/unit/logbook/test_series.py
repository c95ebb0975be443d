from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from greasecheck.logbook.corrections import mark_wrong
from greasecheck.logbook.readings import enter_by_hand, find_reading
from greasecheck.logbook.records import EventKind, HandReading, Skull, SkullEvent, Tub
from greasecheck.logbook.series import list_soaks, soak_start, tub_series
from greasecheck.logbook.skulls import enter_event, enter_skull
from greasecheck.logbook.water import Filling, change_water, enter_tub
from greasecheck.model import Recipe
from tests.logbook_samples import day

if TYPE_CHECKING:
    from greasecheck.logbook.book import Logbook

FILLINGS = (
    (-3.0, Filling(recipe=Recipe.ACETONE)),
    (-1.0, Filling(recipe=Recipe.SOAP, temperature_c=40.0, carry_over_share=0.1)),
)


@pytest.fixture
def season(book: Logbook) -> Logbook:
    for number in (12, 14):
        enter_tub(book, Tub(number=number))
    for at, filling in FILLINGS:
        change_water(book, [12], day(at), filling)
    for at, haze in enumerate((3.0, 8.0, 12.0, 15.0, 4.0)):
        enter_by_hand(
            book,
            HandReading(
                tub=12,
                taken_at=day(at),
                attenuation_per_m=haze,
                attenuation_std_per_m=0.3,
                bone_yi_e313=30.0 - at if at % 2 else None,
            ),
        )
    return book


def test_the_series_holds_readings_and_changes_logged_and_probable(season: Logbook) -> None:
    mark_wrong(season, find_reading(season, 12, day(1)).key)
    series = tub_series(season, 12)
    assert [point.attenuation_per_m for point in series.hazes] == [3.0, 12.0, 15.0, 4.0]
    assert [point.yi_e313 for point in series.bones] == [27.0]
    assert [(c.at, c.recipe, c.logged) for c in series.changes] == [
        (day(-3), Recipe.ACETONE, True),
        (day(-1), Recipe.SOAP, True),
        (day(3.5), Recipe.SOAP, False),
    ]
    assert (series.changes[2].earliest, series.changes[2].latest) == (day(3), day(4))
    assert series.changes[1].carry_over_share == 0.1


def test_a_series_starts_with_the_bath_that_was_there(season: Logbook) -> None:
    series = tub_series(season, 12, since=day(2))
    assert [point.taken_at for point in series.hazes] == [day(2), day(3), day(4)]
    assert [change.at for change in series.changes] == [day(-1), day(3.5)]


def test_a_probable_change_of_an_unknown_bath_has_no_recipe(book: Logbook) -> None:
    for at, haze in ((0, 20.0), (1, 3.0)):
        enter_by_hand(
            book,
            HandReading(
                tub=12, taken_at=day(at), attenuation_per_m=haze, attenuation_std_per_m=0.3
            ),
        )
    (change,) = tub_series(book, 12).changes
    assert (change.recipe, change.temperature_c) == (None, None)


def test_the_soak_starts_with_the_longest_soaking_skull(season: Logbook) -> None:
    assert soak_start(season, 12) is None
    for name, at, tub in (("fox", 0, 14), ("roe", 1, 12)):
        event = SkullEvent(skull=name, happened_at=day(at), kind=EventKind.ENTERED, tub=tub)
        enter_skull(season, Skull(name=name), event)
    assert soak_start(season, 12) == day(1)
    moved = SkullEvent(skull="fox", happened_at=day(2), kind=EventKind.MOVED, tub=12)
    enter_event(season, moved)
    assert soak_start(season, 12) == day(0)


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
    assert [soak.skull for soak in tub_series(season, 12).soaks] == ["fox"]
