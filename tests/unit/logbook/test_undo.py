from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.dependents import with_dependents
from greasecheck.logbook.readings.corrections import corrections_of, mark_wrong
from greasecheck.logbook.readings.photos import LogSettings, log_photos
from greasecheck.logbook.readings.readings import enter_by_hand, find_reading, list_readings
from greasecheck.logbook.records import HandReading, Tub
from greasecheck.logbook.renaming import renumber_tub
from greasecheck.logbook.store.safety import faults
from greasecheck.logbook.undo import (
    entries,
    last_entry,
    newest_entry,
    still_named,
    take_back,
    take_back_together,
    undo,
)
from greasecheck.logbook.water.baths import (
    Filling,
    change_water,
    correct_change,
    enter_tub,
    list_baths,
    list_tubs,
)
from greasecheck.model import Recipe
from tests.logbook_samples import day, measure_files, write_photos

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.logbook.store.book import Logbook


def undo_last(book: Logbook) -> None:
    last = last_entry(book)
    assert last is not None
    undo(book, last)


def test_an_entry_that_takes_another_back_cannot_be_taken_back_itself(book: Logbook) -> None:
    enter_tub(book, Tub(number=12))
    undo_last(book)
    newest = newest_entry(book)
    assert newest is not None
    with pytest.raises(LogbookError, match="no entry 2 that stands"):
        take_back(book, newest)
    with pytest.raises(LogbookError, match="taken back already"):
        take_back_together(book, with_dependents(book, newest))
    assert list_tubs(book) == ()


def test_what_was_taken_back_rests_on_nothing(book: Logbook) -> None:
    enter_tub(book, Tub(number=12))
    enter_tub(book, Tub(number=12, name="door"))
    assert with_dependents(book, 1) == (2, 1)
    undo_last(book)
    assert with_dependents(book, 1) == (1,)


def test_entries_of_a_tub_that_stays_for_its_reading_stay(book: Logbook) -> None:
    """The number of tub 12 remains, so that its bath has a tub, though its name goes."""
    enter_tub(book, Tub(number=12, name="door"))
    change_water(book, [12], day(0), Filling(recipe=Recipe.SOAP))
    assert with_dependents(book, 1) == (2, 1)
    enter_by_hand(book, HandReading(tub=12, taken_at=day(1), bone_yi_e313=30.0))
    assert with_dependents(book, 1) == (1,)
    take_back(book, 1)
    assert len(list_baths(book, 12)) == 1
    assert faults(book) == ()


def test_of_a_tub_that_a_reading_names_the_number_alone_stays(book: Logbook) -> None:
    enter_tub(book, Tub(number=12, name="by the door", volume_l=60.0))
    reading = HandReading(tub=12, taken_at=day(1), attenuation_per_m=5.0, attenuation_std_per_m=0.5)
    enter_by_hand(book, reading)
    take_back(book, 1)
    assert list_tubs(book) == (Tub(number=12),)
    assert still_named(book, [1]) == ("tub 12",)
    assert faults(book) == ()


@pytest.mark.parametrize("numbers", [(12, 30), (12, 30, 31)])
def test_what_was_entered_before_a_new_number_goes_with_its_tub(
    book: Logbook, numbers: tuple[int, ...]
) -> None:
    enter_tub(book, Tub(number=12))
    change_water(book, [12], day(0), Filling(recipe=Recipe.SOAP))
    for old, new in pairwise(numbers):
        renumber_tub(book, old, new)
    resting = with_dependents(book, 1)
    assert resting == tuple(range(len(numbers) + 1, 0, -1))
    take_back_together(book, resting)
    assert list_tubs(book) == ()
    assert faults(book) == ()


def test_an_empty_logbook_has_nothing_to_undo(book: Logbook) -> None:
    assert last_entry(book) is None


def test_entries_are_taken_back_one_after_the_other(book: Logbook) -> None:
    enter_tub(book, Tub(number=12, volume_l=60.0))
    enter_tub(book, Tub(number=12, volume_l=80.0))
    change_water(book, [12], day(0), Filling(recipe=Recipe.SOAP))
    undo_last(book)
    assert list_baths(book, 12) == ()
    undo_last(book)
    assert list_tubs(book) == (Tub(number=12, volume_l=60.0),)
    undo_last(book)
    assert list_tubs(book) == ()
    assert last_entry(book) is None


def test_the_last_entry_tells_what_it_holds(book: Logbook) -> None:
    enter_tub(book, Tub(number=12))
    enter_tub(book, Tub(number=14))
    change_water(book, [12, 14], day(0), Filling(recipe=Recipe.SOAP))
    last = last_entry(book)
    assert last is not None
    assert (last.what, last.rows, last.changed_rows) == ("water change of tub 12, 14", 2, 0)


def test_a_reading_is_marked_wrong_never_removed(book: Logbook) -> None:
    made = HandReading(tub=12, taken_at=day(0), bone_yi_e313=30.0)
    enter_by_hand(book, made)
    undo_last(book)
    assert list_readings(book, 12) == ()
    assert find_reading(book, 12).wrong
    assert [c.why for c in corrections_of(book, 12)] == ["taken back by undo"]


def test_a_run_over_photos_is_taken_back_as_a_whole(book: Logbook, tmp_path: Path) -> None:
    paths = write_photos(tmp_path / "photos", 10)
    list(log_photos(book, paths, measure_files, LogSettings()))
    undo_last(book)
    ((wrong,),) = book.rows("SELECT sum(wrong) FROM readings")
    ((attempts,),) = book.rows("SELECT count(*) FROM attempts")
    assert (wrong, attempts) == (9, 0)
    assert len(list_tubs(book)) == 5


def test_a_correction_is_taken_back_without_a_trace(book: Logbook) -> None:
    enter_by_hand(book, HandReading(tub=12, taken_at=day(0), bone_yi_e313=30.0))
    mark_wrong(book, find_reading(book, 12).key)
    undo_last(book)
    assert not find_reading(book, 12).wrong
    assert corrections_of(book, 12) == ()


def test_an_import_goes_with_its_readings(book: Logbook, tmp_path: Path) -> None:
    file = tmp_path / "readings.csv"
    file.write_text("tub,taken_at,bone_yi_e313\n12,2026-03-01T18:00:00Z,30\n", encoding="utf-8")
    import_tables(book, [file])
    undo_last(book)
    assert list_tubs(book) == ()
    assert list_readings(book, 12, wrong_too=True) == ()
    import_tables(book, [file])
    assert len(list_readings(book, 12)) == 1


def test_only_the_last_entry_is_taken_back(book: Logbook) -> None:
    enter_tub(book, Tub(number=12))
    last = last_entry(book)
    enter_tub(book, Tub(number=14))
    assert last is not None
    with pytest.raises(LogbookError, match="another entry has been made"):
        undo(book, last)
    assert len(list_tubs(book)) == 2


def test_nothing_that_stood_in_the_logbook_is_deleted(book: Logbook) -> None:
    enter_tub(book, Tub(number=12, name="by the door"))
    undo_last(book)
    assert list_tubs(book) == ()
    ((before,),) = book.rows("SELECT before FROM before_images")
    assert "by the door" in before
    taken, first = entries(book)
    assert (taken.undoes, taken.what) == (first.number, "taken back: tub 12")
    assert first.undone_at is not None
    assert faults(book) == ()


def test_an_earlier_entry_is_taken_back_too(book: Logbook) -> None:
    enter_tub(book, Tub(number=12))
    change_water(book, [12], day(0), Filling(recipe=Recipe.SOAP))
    change_water(book, [12], day(3), Filling())
    wrong = next(one for one in entries(book) if "water change" in one.what)
    change_water(book, [12], day(6), Filling())
    take_back(book, wrong.number)
    assert [bath.filled_at for bath in list_baths(book, 12)] == [day(0), day(6)]
    with pytest.raises(LogbookError, match="no entry"):
        take_back(book, wrong.number)
    assert faults(book) == ()


def test_an_entry_on_which_others_rest_is_kept(book: Logbook) -> None:
    enter_tub(book, Tub(number=12))
    enter_tub(book, Tub(number=12, name="door"))
    first = entries(book)[-1].number
    with pytest.raises(LogbookError, match="a later entry changed the same"):
        take_back(book, first)
    undo_last(book)
    change_water(book, [12], day(0), Filling(recipe=Recipe.SOAP))
    with pytest.raises(LogbookError, match="rest on"):
        take_back(book, first)
    assert len(list_baths(book, 12)) == 1
    assert faults(book) == ()


def test_what_rests_on_an_entry_goes_with_it_only_as_agreed(book: Logbook) -> None:
    enter_tub(book, Tub(number=12))
    change_water(book, [12], day(0), Filling(recipe=Recipe.SOAP))
    agreed = with_dependents(book, 1)
    change_water(book, [12], day(3), Filling(recipe=Recipe.SOAP))
    with pytest.raises(LogbookError, match="rest on this one by now"):
        take_back_together(book, agreed)
    assert len(list_baths(book, 12)) == 2
    take_back_together(book, with_dependents(book, 1))
    assert list_baths(book, 12) == ()
    assert list_tubs(book) == ()


def test_an_entry_whose_date_was_corrected_twice_goes_with_all_its_corrections(
    book: Logbook,
) -> None:
    enter_tub(book, Tub(number=12))
    change_water(book, [12], day(0), Filling(recipe=Recipe.SOAP))
    correct_change(book, 12, day(0), day(1), Filling())
    correct_change(book, 12, day(1), day(2), Filling())
    change_water(book, [12], day(0), Filling(recipe=Recipe.AMMONIA))  # now that the time is free
    correct_change(book, 12, day(0), day(0), Filling(temperature_c=30.0))
    assert with_dependents(book, 2) == (4, 3, 2)
    assert with_dependents(book, 3) == (4, 3)
    assert with_dependents(book, 5) == (6, 5)
    for numbers in ((6, 5), (4, 3, 2)):
        take_back_together(book, numbers)
    assert list_baths(book, 12) == ()
    assert faults(book) == ()


def test_a_name_that_another_tub_has_by_now_is_not_brought_back(book: Logbook) -> None:
    enter_tub(book, Tub(number=12, name="door"))
    enter_tub(book, Tub(number=12, name="window"))
    enter_tub(book, Tub(number=14, name="door"))
    with pytest.raises(LogbookError, match="tub 12 and tub 14 would have the same name"):
        take_back(book, 2)
    assert [tub.name for tub in list_tubs(book)] == ["window", "door"]
    take_back_together(book, with_dependents(book, 3))
    take_back(book, 2)
    assert [tub.name for tub in list_tubs(book)] == ["door"]
