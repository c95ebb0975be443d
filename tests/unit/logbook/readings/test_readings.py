from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.readings.checks import checks_of
from greasecheck.logbook.readings.corrections import (
    corrections_of,
    mark_wrong,
    move_to_tub,
    shift_readings,
)
from greasecheck.logbook.readings.readings import (
    enter_by_hand,
    find_reading,
    insert_reading,
    list_readings,
    reading_under,
)
from greasecheck.logbook.records import HandReading
from greasecheck.logbook.water.baths import list_tubs
from greasecheck.model import BoneState, Bound, Drawn, Stroke, Verdict
from tests.logbook_samples import day, make_check, make_ladder, make_reading

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook


def log(book: Logbook, name: str, at: float, tub: int = 12) -> str:
    reading = make_reading(name, at=day(at))
    with book.entry("reading") as entry:
        insert_reading(entry, reading, tub, None)
    return reading.photo_sha256


DRAWN = Drawn(stroke=Stroke.LEAVE_OUT, points=((1.0, 2.0), (3.0, 4.0), (5.0, 1.5)), in_px=True)


def test_all_measured_values_are_kept(book: Logbook) -> None:
    reading = replace(make_reading(), ladder=make_ladder(), fingerprint="AAAA", drawn=(DRAWN,))
    with book.entry("test") as entry:
        insert_reading(entry, reading, 12, None)
    ((*values,),) = book.rows("SELECT * FROM readings")
    assert None not in [v for v, c in zip(values, _columns(book), strict=True) if c not in BLANK]
    one = find_reading(book, 12)
    assert (one.attenuation_per_m, one.attenuation_std_per_m, one.turbidity) == (12.5, 0.4, 26.25)
    assert (one.bone_yi_e313, one.bone_state) == (27.5, BoneState.BLOTTED)
    assert one.verdict is Verdict.GOOD
    assert checks_of(book, one.key) == (make_check(),)


BLANK = {"bound", "skull", "note"}


def _columns(book: Logbook) -> list[str]:
    return [name for (name,) in book.rows("SELECT name FROM pragma_table_info('readings')")]


def test_an_unknown_tub_is_entered_unnamed(book: Logbook) -> None:
    with book.entry("reading") as entry:
        assert insert_reading(entry, make_reading(), 31, None)
        assert not insert_reading(entry, make_reading("two"), 31, None)
    assert [(tub.number, tub.name) for tub in list_tubs(book)] == [(31, None)]


def test_an_unknown_skull_is_refused(book: Logbook) -> None:
    with (
        pytest.raises(LogbookError, match="no skull is called 'wolf'"),
        book.entry("reading") as entry,
    ):
        insert_reading(entry, make_reading(), 12, "wolf")
    assert list_tubs(book) == ()


def test_an_older_reading_takes_its_place(book: Logbook) -> None:
    for name, at in (("late", 5), ("early", 1), ("middle", 3)):
        log(book, name, at)
    assert [one.taken_at for one in list_readings(book, 12)] == [day(1), day(3), day(5)]
    assert [one.taken_at for one in list_readings(book, 12, since=day(3))] == [day(3), day(5)]


def test_a_reading_is_entered_by_hand(book: Logbook) -> None:
    made = HandReading(
        tub=12,
        taken_at=day(0),
        attenuation_per_m=70.0,
        attenuation_std_per_m=0.0,
        bound=Bound.ABOVE,
        note="no camera",
    )
    assert enter_by_hand(book, made)
    one = find_reading(book, 12)
    assert (one.key, one.bound, one.note) == (
        "hand:12:2026-03-01T18:00:00Z",
        Bound.ABOVE,
        "no camera",
    )
    assert checks_of(book, one.key) == ()
    with pytest.raises(LogbookError, match="already has a reading by hand"):
        enter_by_hand(book, made)


@pytest.mark.parametrize(
    ("made", "problem"),
    [
        (HandReading(tub=12, taken_at=day(0)), "neither haze nor yellowness"),
        (HandReading(tub=12, taken_at=day(0), attenuation_per_m=1.0), "no standard error"),
        (
            HandReading(tub=12, taken_at=day(0), attenuation_per_m=1.0, attenuation_std_per_m=0.0),
            "is zero",
        ),
        (
            HandReading(tub=12, taken_at=day(0), attenuation_per_m=6e4, attenuation_std_per_m=1.0),
            "murkier than milk",
        ),
        (HandReading(tub=12, taken_at=day(90000), bone_yi_e313=30.0), "future"),
        (HandReading(tub=12, taken_at=day(0), bone_yi_e313=30.0, skull="wolf"), "no skull"),
    ],
)
def test_a_reading_by_hand_that_says_nothing_is_refused(
    book: Logbook, made: HandReading, problem: str
) -> None:
    with pytest.raises(LogbookError, match=problem):
        enter_by_hand(book, made)


def test_a_wrong_reading_stays_to_be_seen(book: Logbook) -> None:
    key = log(book, "one", 0)
    mark_wrong(book, key, why="foam")
    assert list_readings(book, 12) == ()
    (one,) = list_readings(book, 12, wrong_too=True)
    assert one.wrong
    mark_wrong(book, key, wrong=False)
    mark_wrong(book, key, wrong=False)
    told = [(c.number, c.field, c.before, c.after, c.why) for c in corrections_of(book, 12)]
    assert told == [(1, "wrong", "no", "yes", "foam"), (2, "wrong", "yes", "no", None)]


def test_a_reading_moves_to_its_true_tub(book: Logbook) -> None:
    key = log(book, "one", 0)
    move_to_tub(book, key, 14, "wrong tag")
    assert list_readings(book, 12) == ()
    assert find_reading(book, 14).key == key
    assert [c.before for c in corrections_of(book, 14)] == ["12"]


def test_times_of_readings_move_together_or_not_at_all(book: Logbook) -> None:
    log(book, "one", 0)
    log(book, "two", 1)
    shift_readings(book, list_readings(book, 12), timedelta(hours=-1))
    times = [day(0) - timedelta(hours=1), day(1) - timedelta(hours=1)]
    assert [one.taken_at for one in list_readings(book, 12)] == times
    with pytest.raises(LogbookError, match="future"):
        shift_readings(book, list_readings(book, 12), timedelta(days=90000))
    assert [one.taken_at for one in list_readings(book, 12)] == times


def test_a_reading_is_found_by_the_nearest_time(book: Logbook) -> None:
    for name, at in (("a", 0), ("b", 2), ("c", 5)):
        log(book, name, at)
    assert find_reading(book, 12, day(2.9)).taken_at == day(2)
    assert find_reading(book, 12).taken_at == day(5)
    with pytest.raises(LogbookError, match="tub 13 has no reading"):
        find_reading(book, 13)


def test_correcting_what_is_not_there_is_refused(book: Logbook) -> None:
    with pytest.raises(LogbookError, match="no reading under the key"):
        mark_wrong(book, "nothing")
    assert reading_under(book, "nothing") is None
