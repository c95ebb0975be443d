"""Which dates of an entry contradict others: every limit from both sides."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from greasecheck.logbook.date_slips import early_readings, entry_slips
from greasecheck.logbook.readings.corrections import mark_wrong
from greasecheck.logbook.readings.readings import enter_by_hand, list_readings
from greasecheck.logbook.records import HandReading, Tub
from greasecheck.logbook.undo import newest_entry
from greasecheck.logbook.water.baths import Filling, change_water, correct_change, enter_tub
from greasecheck.model import Recipe
from greasecheck.stages import EventKind
from tests.logbook_samples import day
from tests.skull_log import happen, put_in

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook

SOAP = Filling(recipe=Recipe.SOAP)
HOUR = 1 / 24


@pytest.fixture
def book(book: Logbook) -> Logbook:
    """A logbook with tub 12, of which nothing else is known."""
    enter_tub(book, Tub(number=12))
    return book


def slips(book: Logbook) -> tuple[str, ...]:
    return entry_slips(book, newest_entry(book))


def fill(book: Logbook, at: float) -> tuple[str, ...]:
    change_water(book, [12], day(at), SOAP)
    return slips(book)


def soak(book: Logbook, at: float, name: str = "fox") -> tuple[str, ...]:
    put_in(book, name, day(at), 12)
    return slips(book)


def read(book: Logbook, at: float) -> tuple[str, ...]:
    haze = HandReading(tub=12, taken_at=day(at), attenuation_per_m=5.0, attenuation_std_per_m=0.5)
    enter_by_hand(book, haze)
    return slips(book)


@pytest.mark.parametrize(("before_days", "is_said"), [(0.5, False), (1.0, False), (1.1, True)])
def test_a_skull_may_be_entered_on_the_day_of_its_first_bath_not_before(
    book: Logbook, before_days: float, *, is_said: bool
) -> None:
    fill(book, 10)
    found = soak(book, 10 - before_days)
    assert [("before the tub's first day" in one) for one in found] == [True] * is_said


@pytest.mark.parametrize(("days", "is_said"), [(29.0, False), (30.0, False), (30.1, True)])
def test_a_skull_in_month_old_water_is_asked_about(
    book: Logbook, days: float, *, is_said: bool
) -> None:
    fill(book, 0)
    found = soak(book, days)
    assert [one.endswith("30 days old by then") for one in found] == [True] * is_said


def test_a_bath_dated_back_is_asked_about_by_the_skull_that_went_into_it(book: Logbook) -> None:
    fill(book, 100)
    soak(book, 105)
    correct_change(book, 12, day(100), day(80), SOAP)
    assert slips(book) == ()
    correct_change(book, 12, day(80), day(50), SOAP)
    (old,) = slips(book)
    assert old.startswith("fox lies in tub 12 from ")
    assert old.endswith("55 days old by then")


def test_a_filling_before_the_tubs_first_day_of_use_is_asked_about(book: Logbook) -> None:
    enter_tub(book, Tub(number=12, started_at=day(100)))
    (early,) = fill(book, 90)
    assert early.startswith("tub 12 was filled on ")
    assert "before its first day of use" in early


def test_water_is_idle_only_where_nothing_lay_in_it_and_nobody_read_it(book: Logbook) -> None:
    fill(book, 100)
    assert fill(book, 70) == ()  # thirty days before the next filling
    (idle,) = fill(book, 39)
    assert "nobody read it" in idle
    assert idle.endswith("31 days later")


def test_water_that_somebody_read_is_not_idle(book: Logbook) -> None:
    fill(book, 100)
    read(book, 60)
    assert fill(book, 39) == ()


def test_water_after_a_skull_came_out_is_idle_though_it_lay_in_the_water_before(
    book: Logbook,
) -> None:
    fill(book, 0)
    soak(book, 1)
    happen(book, "fox", EventKind.DEGREASED, day(20))
    fill(book, 100)
    (idle,) = fill(book, 39)
    assert "nothing lay in the water" in idle
    assert soak(book, 40, "hare") == ()
    assert fill(book, 41) == ()  # the hare lies in it


def test_a_reading_before_the_tub_counts_for_no_soak_unless_it_is_wrong_anyway(
    book: Logbook,
) -> None:
    fill(book, 10)
    assert read(book, 10) == ()
    (early,) = read(book, 10 - HOUR)
    assert early.endswith("it counts for no soak")
    assert early_readings(book, newest_entry(book)) == {12: 1}
    (reading,) = (one for one in list_readings(book, 12) if one.taken_at < day(10))
    mark_wrong(book, reading.key)
    assert slips(book) == ()
    mark_wrong(book, reading.key, wrong=False)
    assert slips(book) == (early,)


def test_an_entry_that_changes_no_date_says_no_slip_again(book: Logbook) -> None:
    fill(book, 10)
    enter_tub(book, Tub(number=12, started_at=day(10) + timedelta(days=5)))
    assert len(slips(book)) == 1
    enter_tub(book, Tub(number=12, note="by the door"))
    assert slips(book) == ()


def test_without_an_entry_there_is_nothing_to_say(book: Logbook) -> None:
    fill(book, 10)
    read(book, 2)
    assert entry_slips(book, None) == ()
