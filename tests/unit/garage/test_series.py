from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from greasecheck.garage.milestones import milestones
from greasecheck.garage.series import (
    degreasing,
    degreasing_tubs,
    finished_tubs,
    skull_bones,
    tub_history,
)
from greasecheck.garage.soaks.past import running_soak
from greasecheck.logbook.readings.corrections import mark_wrong
from greasecheck.logbook.readings.readings import (
    enter_by_hand,
    find_reading,
    insert_reading,
    newest_bone_photo,
)
from greasecheck.logbook.records import (
    BathTemperature,
    FollowUp,
    HandReading,
    Skull,
    ToppedUp,
    Tub,
)
from greasecheck.logbook.skulls.skulls import enter_follow_up, enter_skull
from greasecheck.logbook.skulls.soaks import list_soaks
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water, dump_water, enter_tub
from greasecheck.logbook.water.between import enter_temperature, enter_top_up
from greasecheck.model import BodyCondition, Recipe
from greasecheck.predict.records import FinishedTub, TemperatureRecord, TopUp
from greasecheck.stages import EventKind, Stage
from tests.logbook_samples import make_reading
from tests.skull_log import happen, put_in

START = datetime(2025, 3, 1, 18, tzinfo=UTC)
SOAP = Filling(recipe=Recipe.SOAP, temperature_c=40.0, carry_over_share=0.1)


def day(number: float) -> datetime:
    return START + timedelta(days=number)


@pytest.fixture
def book(book: Logbook) -> Logbook:
    """Two tubs, of which one is filled."""
    enter_tub(book, Tub(number=12))
    enter_tub(book, Tub(number=13))
    change_water(book, [12], day(0), SOAP)
    return book


def enter(book: Logbook, name: str, at: float, species: str | None = "deer") -> None:
    put_in(book, name, day(at), 12, species=species)


def log(book: Logbook, name: str, kind: EventKind, at: float) -> None:
    tub = {EventKind.MOVED: 13, EventKind.RESOAKED: 12}.get(kind)
    happen(book, name, kind, day(at), tub)


def read(book: Logbook, at: float, *, skull: str | None = None) -> None:
    enter_by_hand(
        book,
        HandReading(
            tub=12,
            taken_at=day(at),
            attenuation_per_m=10.0 + at,
            attenuation_std_per_m=0.3,
            bone_yi_e313=30.0 - at,
            bone_yi_std=0.5,
            skull=skull,
        ),
    )


def test_a_tub_becomes_a_history(book: Logbook) -> None:
    enter(book, "buck", 0, species=None)
    read(book, 1)
    history = tub_history(book, 12, day(2))
    assert history is not None
    (skull,), (change,), (reading,) = history.skulls, history.changes, history.readings
    assert (skull.name, skull.species, skull.since) == ("buck", "unknown", day(0))
    assert (change.at, change.temperature_c, change.carry_over) == (day(0), 40.0, 0.1)
    assert (reading.at, reading.attenuation_per_m, reading.std_per_m) == (day(1), 11.0, 0.3)


@pytest.mark.parametrize(("std", "believed"), [(0.001, 1.2), (1.1, 1.2), (4.0, 4.0)])
def test_no_reading_is_surer_than_any_way_of_measuring(
    book: Logbook, std: float, believed: float
) -> None:
    enter(book, "buck", 0)
    absurd = HandReading(tub=12, taken_at=day(1), attenuation_per_m=60.0, attenuation_std_per_m=std)
    enter_by_hand(book, absurd)
    history = tub_history(book, 12, day(2))
    assert history is not None
    assert [one.std_per_m for one in history.readings] == [pytest.approx(believed)]
    assert find_reading(book, 12, day(1)).attenuation_std_per_m == std  # kept as it was entered


def test_a_history_begins_with_the_bath_that_was_there_and_holds_what_people_entered(
    book: Logbook,
) -> None:
    change_water(book, [12], day(2), SOAP)
    enter(book, "buck", 3)
    for at, haze in ((1, 15.0), (4, 14.0), (5, 90.0), (6, 2.0)):
        reading = HandReading(
            tub=12, taken_at=day(at), attenuation_per_m=haze, attenuation_std_per_m=0.3
        )
        enter_by_hand(book, reading)
    mark_wrong(book, find_reading(book, 12, day(5)).key)
    history = tub_history(book, 12, day(7))
    assert history is not None
    assert [change.at for change in history.changes] == [day(2)]
    assert [reading.attenuation_per_m for reading in history.readings] == [14.0, 2.0]


def test_without_skull_or_water_there_is_no_history(book: Logbook) -> None:
    assert tub_history(book, 12, day(2)) is None
    enter(book, "buck", 1)
    assert tub_history(book, 12, day(0.5)) is None
    dump_water(book, [12], day(2))
    assert tub_history(book, 12, day(3)) is None


def test_a_soak_after_whitening_draws_no_grease(book: Logbook) -> None:
    enter(book, "buck", 0)
    assert degreasing_tubs(book, day(89)) == {12}
    for kind, at in ((EventKind.DEGREASED, 90), (EventKind.WHITENED, 91), (EventKind.RESOAKED, 92)):
        log(book, "buck", kind, at)
    assert degreasing(book, 12, day(93)) == ()
    assert degreasing_tubs(book, day(93)) == frozenset()
    assert [soak.rinses for soak in list_soaks(book)] == [False, True]
    assert [mark.stage for mark in milestones(book, "buck")][-1] is Stage.RINSING
    assert finished_tubs(book) == (FinishedTub(species="deer", days=90.0),)


def test_a_skull_that_yellowed_soaks_again(book: Logbook) -> None:
    enter(book, "buck", 0)
    for kind, at in ((EventKind.DEGREASED, 90), (EventKind.WHITENED, 91), (EventKind.DRIED, 99)):
        log(book, "buck", kind, at)
    enter_follow_up(book, FollowUp(skull="buck", seen_at=day(140), yellowed=True))
    log(book, "buck", EventKind.RESOAKED, 141)
    (soak,) = degreasing(book, 12, day(142))
    assert soak.since == day(141)
    stages = sorted(milestones(book, "buck"), key=lambda mark: mark.at)
    assert [mark.stage for mark in stages][-2:] == [Stage.FOLLOWED_UP, Stage.SOAKING]


def test_moving_between_tubs_is_no_stage(book: Logbook) -> None:
    enter(book, "buck", 0)
    log(book, "buck", EventKind.MOVED, 5)
    assert [mark.stage for mark in milestones(book, "buck")] == [Stage.SOAKING]


def test_bone_readings_go_to_the_skull_they_name(book: Logbook) -> None:
    enter(book, "buck", 0)
    read(book, 1)
    ((bone),) = skull_bones(book, 12, day(2))
    assert [look.yi_e313 for look in bone.looks] == [29.0]
    enter(book, "doe", 2)
    read(book, 3, skull="doe")
    buck, doe = sorted(skull_bones(book, 12, day(4)), key=lambda bone: bone.name)
    assert buck.looks == ()
    assert [look.yi_e313 for look in doe.looks] == [27.0]
    assert skull_bones(book, 13, day(4)) == ()


@pytest.mark.parametrize("stated", [0.5, None])
def test_an_error_of_the_yellowness_that_nobody_stated_is_none(
    book: Logbook, stated: float | None
) -> None:
    enter(book, "buck", 0)
    seen = HandReading(tub=12, taken_at=day(1), bone_yi_e313=30.0, bone_yi_std=stated)
    enter_by_hand(book, seen)
    [bone] = skull_bones(book, 12, day(2))
    assert [look.yi_std for look in bone.looks] == [stated]


def test_the_newest_photo_of_a_bone_is_found(book: Logbook) -> None:
    enter(book, "buck", 0)
    read(book, 1)
    assert newest_bone_photo(book, 12, "buck") is None
    with book.entry("photos") as entry:
        for name, at, bone in (("first", 2, True), ("second", 3, True), ("water", 4, False)):
            insert_reading(entry, make_reading(name, at=day(at), bone=bone), 12, None)
    read(book, 5)
    assert newest_bone_photo(book, 12, "buck") == "photos/second.jpg"


def test_what_is_entered_between_changes_reaches_the_forecast(book: Logbook) -> None:
    enter_tub(book, Tub(number=12, volume_l=60.0))
    enter(book, "buck", 2)
    enter_skull(book, Skull(name="buck", condition=BodyCondition.FAT))
    for at, warm_c in ((1, 38.0), (4, 33.0), (9, 44.0)):
        found = BathTemperature(tub=12, at=day(at), temperature_c=warm_c)
        enter_temperature(book, found)
    for at, litres in ((3, 6.0), (8, 3.0)):
        enter_top_up(book, ToppedUp(tub=12, at=day(at), litres=litres))
    history = tub_history(book, 12, day(7))
    assert history is not None
    assert history.temperatures == (
        TemperatureRecord(at=day(1), temperature_c=38.0),
        TemperatureRecord(at=day(4), temperature_c=33.0),
    )
    assert history.top_ups == (TopUp(at=day(3), share=0.1),)
    assert history.skulls[0].condition is BodyCondition.FAT
    now = datetime.now(UTC)
    running = running_soak(book, 12, now)
    assert running is not None
    assert running.history == tub_history(book, 12, now)
    assert len(running.history.temperatures) == 3


def test_what_a_tub_cannot_hold_was_no_topping_up(book: Logbook) -> None:
    enter_tub(book, Tub(number=12, volume_l=60.0))
    enter(book, "buck", 0)
    for at, litres in ((3, 6.0), (4, 1.0)):
        enter_top_up(book, ToppedUp(tub=12, at=day(at), litres=litres))
    enter_tub(book, Tub(number=12, volume_l=5.0))  # a slip mended later
    story = tub_history(book, 12, day(5))
    assert story is not None
    assert story.top_ups == (TopUp(at=day(4), share=0.2),)


def test_a_heater_found_well_says_that_the_bath_is_as_warm_as_it_was_filled(book: Logbook) -> None:
    enter(book, "buck", 0)
    enter_tub(book, Tub(number=12, checked_at=day(3)))
    story = tub_history(book, 12, day(5))
    assert story is not None
    assert story.temperatures == (TemperatureRecord(at=day(3), temperature_c=40.0),)
    early = tub_history(book, 12, day(2))
    assert early is not None
    assert early.temperatures == ()
