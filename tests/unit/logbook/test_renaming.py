"""A skull gets another name or a tub another number: all that is known goes along, once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.dependents import with_dependents
from greasecheck.logbook.readings.corrections import corrections_of
from greasecheck.logbook.readings.photos import LogSettings, log_photos
from greasecheck.logbook.readings.readings import enter_by_hand, list_readings, open_attempts
from greasecheck.logbook.records import HandReading, Skull, SkullEvent, Tub
from greasecheck.logbook.renaming import rename_skull, renumber_tub
from greasecheck.logbook.skulls.skulls import enter_event, enter_skull, skull_named
from greasecheck.logbook.skulls.stays import skull_events
from greasecheck.logbook.skulls.tags import skull_with_tag
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.safety import faults
from greasecheck.logbook.store.tables import SKULL_EVENTS
from greasecheck.logbook.store.times import to_text
from greasecheck.logbook.undo import last_entry, take_back_together, undo
from greasecheck.logbook.water.baths import (
    Filling,
    change_water,
    correct_change,
    enter_tub,
    list_baths,
    list_tubs,
)
from greasecheck.model import Recipe, Verdict
from greasecheck.stages import EventKind
from greasecheck.words.ways import way_of
from tests.logbook_samples import day, make_reading
from tests.skull_log import happen, soak

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from greasecheck.logbook.store.columns import Value


def test_no_move_is_left_between_two_numbers_of_one_tub(season: Logbook) -> None:
    moves = [(3, 14), (5, 12), (8, 14)]
    for at, tub in moves:
        moved = SkullEvent(skull="fox", happened_at=day(at), kind=EventKind.MOVED, tub=tub)
        enter_event(season, moved)
    renumber_tub(season, 14, 12, merge=True)
    assert [one.kind for one in skull_events(season, "fox")] == [EventKind.ENTERED]
    last = last_entry(season)
    assert last is not None
    undo(season, last)
    assert [one.tub for one in skull_events(season, "fox")] == [12, 14, 12, 14]
    assert faults(season) == ()


def test_a_reading_entered_for_both_numbers_of_a_tub_counts_once(season: Logbook) -> None:
    for tub, at, haze in ((12, 1, 9.0), (14, 1, 9.0), (12, 2, 8.0), (14, 2, 7.0), (14, 3, 6.0)):
        reading = HandReading(
            tub=tub, taken_at=day(at), attenuation_per_m=haze, attenuation_std_per_m=0.5
        )
        enter_by_hand(season, reading)
    renumber_tub(season, 14, 12, merge=True)
    found = [one.attenuation_per_m for one in list_readings(season, 12)]
    assert sorted(found, key=lambda haze: haze or 0.0) == [6.0, 7.0, 8.0, 9.0]
    assert len(list_readings(season, 12, wrong_too=True)) == 5
    whys = {one.field: one.why for one in corrections_of(season, 12)}
    assert whys == {
        "tub": "the tub has another number",
        "wrong": "entered for both numbers: counts once",
    }
    assert faults(season) == ()
    last = last_entry(season)
    assert last is not None
    undo(season, last)
    assert len(list_readings(season, 14)) == 3


def test_a_renamed_skull_keeps_its_story(season: Logbook) -> None:
    enter_event(season, SkullEvent(skull="fox", happened_at=day(3), kind=EventKind.DEGREASED))
    rename_skull(season, "fox", "vixen")
    told = [(one.kind, one.happened_at) for one in skull_events(season, "vixen")]
    assert told == [(EventKind.ENTERED, day(0)), (EventKind.DEGREASED, day(3))]
    assert skull_events(season, "fox") == ()
    with pytest.raises(LogbookError, match="called vixen already"):
        rename_skull(season, "vixen", "vixen")


def test_two_skulls_with_the_same_entry_at_a_time_stay_two(season: Logbook) -> None:
    soak(season, "roe", 14)
    with pytest.raises(LogbookError, match="there is a skull roe already"):
        rename_skull(season, "fox", "roe")
    with pytest.raises(LogbookError, match=r"in skull_events, and they are not alike"):
        rename_skull(season, "fox", "roe", merge=True)
    assert len(skull_events(season, "roe")) == 1


def test_two_names_of_one_skull_become_one(season: Logbook) -> None:
    soak(season, "roe", 14, 1)
    enter_event(season, SkullEvent(skull="roe", happened_at=day(2), kind=EventKind.DEGREASED))
    rename_skull(season, "fox", "roe", merge=True)
    assert [one.happened_at for one in skull_events(season, "roe")] == [day(0), day(1), day(2)]


def test_a_renumbered_tub_keeps_its_baths_and_readings(season: Logbook) -> None:
    change_water(season, [12], day(0), Filling(recipe=Recipe.SOAP))
    change_water(season, [12], day(4), Filling())
    enter_by_hand(season, HandReading(tub=12, taken_at=day(1), bone_yi_e313=30.0))
    renumber_tub(season, 12, 20)
    assert [bath.filled_at for bath in list_baths(season, 20)] == [day(0), day(4)]
    assert list_baths(season, 12) == ()
    assert [one.tub for one in list_readings(season, 20)] == [20]


def test_a_change_entered_for_two_numbers_of_one_tub_is_one(season: Logbook) -> None:
    change_water(season, [12, 14], day(0), Filling(recipe=Recipe.SOAP))
    change_water(season, [12], day(4), Filling(recipe=Recipe.SOAP))
    change_water(season, [14], day(4), Filling(recipe=Recipe.SOAP_AMMONIA))
    with pytest.raises(LogbookError, match="14 and 12 both have an entry of"):
        renumber_tub(season, 14, 12, merge=True)
    correct_change(season, 14, day(4), day(5), Filling())
    renumber_tub(season, 14, 12, merge=True)
    assert [bath.filled_at for bath in list_baths(season, 12)] == [day(0), day(4), day(5)]
    last = last_entry(season)
    assert last is not None
    undo(season, last)
    assert [bath.filled_at for bath in list_baths(season, 14)] == [day(0), day(5)]
    assert faults(season) == ()


def bone(book: Logbook, at: float, skull: str) -> None:
    enter_by_hand(book, HandReading(tub=12, taken_at=day(at), bone_yi_e313=30.0, skull=skull))


def test_readings_name_a_skull_as_it_is_called_now(season: Logbook) -> None:
    bone(season, 1, "fox")
    rename_skull(season, "fox", "vixen")
    assert [one.skull for one in list_readings(season, 12)] == ["vixen"]
    (changed,) = corrections_of(season, 12)
    assert (changed.field, changed.before, changed.after) == ("skull", "fox", "vixen")


def test_species_and_tag_go_along_with_a_name(season: Logbook) -> None:
    soak(season, "roe", 14, tag=7)
    rename_skull(season, "roe", "doe")
    assert skull_named(season, "doe") == Skull(name="doe", species="fox", tag=7)
    assert skull_with_tag(season, 7) == "doe"
    enter_skull(season, Skull(name="doe", tag=7))  # it bears its own tag, not one of another
    last = last_entry(season)
    assert last is not None
    take_back_together(season, with_dependents(season, last.number - 1))
    assert skull_with_tag(season, 7) == "roe"
    assert faults(season) == ()


def test_a_tag_that_a_former_name_still_states_is_that_of_the_name_now(season: Logbook) -> None:
    """As logbooks of earlier versions hold it."""
    soak(season, "roe", 14, tag=7)
    rename_skull(season, "roe", "doe")
    season.connection.execute("UPDATE skulls SET tag = 7 WHERE name = 'roe'")
    assert skull_with_tag(season, 7) == "doe"
    enter_skull(season, Skull(name="doe", tag=7))
    assert skull_named(season, "doe").tag == 7


def test_a_former_name_says_nothing_of_the_next_to_bear_it(season: Logbook) -> None:
    """Tub 12 of 60 L becomes tub 20; the tub that is called 12 then is another one."""
    enter_tub(season, Tub(number=12, name="door", volume_l=60.0))
    enter_tub(season, Tub(number=14, volume_l=30.0))
    renumber_tub(season, 12, 20)
    renumber_tub(season, 14, 12)
    assert [(one.number, one.name, one.volume_l) for one in list_tubs(season)] == [
        (12, None, 30.0),
        (20, "door", 60.0),
    ]
    enter_tub(season, Tub(number=14))
    assert list_tubs(season)[1] == Tub(number=14)
    rename_skull(season, "fox", "vixen")
    enter_skull(season, Skull(name="fox"))
    assert skull_named(season, "fox") == Skull(name="fox")


def test_of_two_names_of_one_skull_each_tells_what_the_other_does_not(season: Logbook) -> None:
    enter_skull(season, Skull(name="roe", owner="Eva", species="roe deer"))
    enter_skull(season, Skull(name="fox", owner="Ann", tag=7))
    rename_skull(season, "fox", "roe", merge=True)
    found = Skull(name="roe", owner="Eva", species="roe deer", tag=7)
    assert skull_named(season, "roe") == found


def test_nothing_is_entered_under_a_former_name(season: Logbook) -> None:
    rename_skull(season, "fox", "vixen")
    renumber_tub(season, 12, 20)
    with pytest.raises(LogbookError, match="fox is called vixen now"):
        happen(season, "fox", EventKind.DEGREASED, day(3))
    with pytest.raises(LogbookError, match="fox is called vixen now"):
        rename_skull(season, "fox", "ermine")
    with pytest.raises(LogbookError, match="12"):
        renumber_tub(season, 12, 21)
    assert [one.number for one in list_tubs(season)] == [14, 20]


def test_what_is_not_there_gets_no_other_name(season: Logbook) -> None:
    with pytest.raises(LogbookError, match="no skull is called 'otter'"):
        rename_skull(season, "otter", "ermine")
    with pytest.raises(LogbookError, match="13"):
        renumber_tub(season, 13, 21)


def test_a_former_name_can_be_taken_again(season: Logbook) -> None:
    rename_skull(season, "fox", "vixen")
    rename_skull(season, "vixen", "fox")
    happen(season, "fox", EventKind.DEGREASED, day(3))
    assert len(skull_events(season, "fox")) == 2
    with pytest.raises(LogbookError, match="vixen is called fox now"):
        skull_named(season, "vixen")
    assert faults(season) == ()


def test_names_taken_anew_do_not_take_the_first_skulls_soak_with_them(book: Logbook) -> None:
    enter_tub(book, Tub(number=9))
    enter_skull(book, Skull(name="fox 1"))
    enter_event(book, SkullEvent(skull="fox 1", happened_at=day(1), kind=EventKind.ENTERED, tub=9))
    entered = last_entry(book)
    rename_skull(book, "fox 1", "fox 2")
    renamed = last_entry(book)
    assert entered is not None
    assert renamed is not None
    rename_skull(book, "fox 2", "fox 3")
    for name in ("fox 1", "fox 2"):
        enter_skull(book, Skull(name=name))
    found = with_dependents(book, renamed.number)
    assert entered.number not in found
    take_back_together(book, found)
    assert [one.tub for one in skull_events(book, "fox 1")] == [9]
    assert faults(book) == ()


def test_an_earlier_name_taken_back_leaves_the_soak(book: Logbook) -> None:
    enter_tub(book, Tub(number=9))
    soak(book, "fox 1", 9)
    rename_skull(book, "fox 1", "fox 2")
    renamed = last_entry(book)
    assert renamed is not None
    rename_skull(book, "fox 2", "fox 3")
    found = with_dependents(book, renamed.number)
    assert found == (renamed.number + 1, renamed.number)
    take_back_together(book, found)
    assert [one.tub for one in skull_events(book, "fox 1")] == [9]


def test_an_event_entered_under_both_names_of_a_skull_is_one(season: Logbook) -> None:
    soak(season, "roe", 12)
    for name in ("fox", "roe"):
        happen(season, name, EventKind.DEGREASED, day(5))
    rename_skull(season, "fox", "roe", merge=True)
    assert [one.happened_at for one in skull_events(season, "roe")] == [day(0), day(5)]
    assert skull_events(season, "fox") == ()


def test_refused_photos_of_a_tub_go_along_with_its_number(season: Logbook, tmp_path: Path) -> None:
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(b"refused")
    refused = make_reading(at=day(1), verdict=Verdict.REFUSED)
    list(log_photos(season, [photo], lambda _: [(refused,)], LogSettings()))
    assert [one.tub for one in open_attempts(season)] == [12]
    renumber_tub(season, 12, 20)
    assert [one.tub for one in open_attempts(season)] == [20]


def test_a_move_that_led_nowhere_before_stays(season: Logbook) -> None:
    """An import may hold a move to the tub that a skull lies in; only those between go."""
    with season.entry("as an import") as entry:
        row: dict[str, Value] = {"skull": "fox", "kind": EventKind.MOVED, "tub": 12}
        entry.insert(SKULL_EVENTS, {**row, "happened_at": to_text(day(2))})
    happen(season, "fox", EventKind.MOVED, day(4), 14)
    renumber_tub(season, 14, 12, merge=True)
    assert [one.happened_at for one in skull_events(season, "fox")] == [day(0), day(2)]


@pytest.mark.parametrize("rename", [rename_skull, renumber_tub])
def test_the_way_to_say_that_both_are_the_same_is_told(
    season: Logbook, rename: Callable[..., None]
) -> None:
    names = ("fox", "marten") if rename is rename_skull else (12, 14)
    if rename is rename_skull:
        enter_skull(season, Skull(name="marten"))
    with pytest.raises(LogbookError) as caught:
        rename(season, *names)
    assert caught.value.hint == "say that both are the same, or give another name or number"
    assert way_of(caught.value.hint) == "--same"
