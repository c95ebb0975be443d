from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.answers import KeptAnswer, keep_answer
from greasecheck.logbook.changes import (
    confirm_change,
    deny_change,
    possible_change,
    probable_changes,
)
from greasecheck.logbook.readings.corrections import mark_wrong
from greasecheck.logbook.readings.readings import (
    enter_by_hand,
    find_reading,
    insert_reading,
    list_readings,
)
from greasecheck.logbook.records import HandReading, ProbableChange, Tub
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub, list_baths
from greasecheck.model import Bound, Recipe, Verdict
from tests.logbook_samples import day, make_reading

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook


def add(
    book: Logbook, at: float, haze: float, std: float = 0.4, bound: Bound | None = None
) -> None:
    enter_by_hand(
        book,
        HandReading(
            tub=12,
            taken_at=day(at),
            attenuation_per_m=haze,
            attenuation_std_per_m=std,
            bound=bound,
        ),
    )


@pytest.fixture
def fallen(book: Logbook) -> Logbook:
    """A tub whose haze rose to 15 per metre and fell to 4 between days 3 and 4."""
    enter_tub(book, Tub(number=12))
    change_water(book, [12], day(-1), Filling(recipe=Recipe.SOAP))
    for at, haze in enumerate((3.0, 8.0, 12.0, 15.0, 4.0, 7.0)):
        add(book, at, haze)
    return book


def spans(book: Logbook) -> list[tuple[object, object]]:
    return [(one.earliest, one.latest) for one in probable_changes(book, 12)]


def test_a_sharp_fall_is_a_probable_change(fallen: Logbook) -> None:
    (one,) = probable_changes(fallen, 12)
    assert (one.earliest, one.latest) == (day(3), day(4))
    assert (one.before_per_m, one.after_per_m) == (15.0, 4.0)


def test_a_logged_change_explains_the_fall(fallen: Logbook) -> None:
    change_water(fallen, [12], day(3.5), Filling())
    assert spans(fallen) == []


def test_a_change_entered_some_hours_late_explains_it_too(fallen: Logbook) -> None:
    change_water(fallen, [12], day(4.2), Filling())
    assert spans(fallen) == []


def test_a_change_a_day_later_does_not(fallen: Logbook) -> None:
    change_water(fallen, [12], day(5), Filling())
    assert spans(fallen) == [(day(3), day(4))]


def test_a_confirmed_change_is_entered_halfway(fallen: Logbook) -> None:
    (one,) = probable_changes(fallen, 12)
    confirm_change(fallen, one, Filling())
    assert list_baths(fallen, 12)[-1].filled_at == day(3.5)
    assert spans(fallen) == []


def test_a_change_is_confirmed_only_where_it_was(fallen: Logbook) -> None:
    (one,) = probable_changes(fallen, 12)
    with pytest.raises(LogbookError, match="not between the two readings"):
        confirm_change(fallen, one, Filling(), day(5))


def test_a_denied_change_stays_denied_when_a_reading_comes_between(fallen: Logbook) -> None:
    (one,) = probable_changes(fallen, 12)
    deny_change(fallen, one)
    deny_change(fallen, one)
    assert spans(fallen) == []
    add(fallen, 3.5, 16.0)
    assert spans(fallen) == []


def test_a_change_is_denied_by_its_time_alone(fallen: Logbook) -> None:
    one = possible_change(fallen, 12, day(3.6))
    assert (one.earliest, one.latest) == (day(3), day(4))
    deny_change(fallen, one)
    assert spans(fallen) == []
    for at in (-1, 40):
        with pytest.raises(LogbookError, match="not read both before and after"):
            possible_change(fallen, 12, day(at))
    change_water(fallen, [12], day(2.5), Filling())
    with pytest.raises(LogbookError, match="a change of tub 12 stands there"):
        possible_change(fallen, 12, day(2.2))
    with pytest.raises(LogbookError, match="tub 99 is not in the logbook"):
        possible_change(fallen, 99, day(3.6))


def test_a_change_is_denied_between_sound_readings_whatever_came_later(fallen: Logbook) -> None:
    change_water(fallen, [12], day(4.5), Filling())
    one = possible_change(fallen, 12, day(3.6))
    assert (one.earliest, one.latest) == (day(3), day(4))
    wrong = next(r for r in list_readings(fallen, 12) if r.taken_at == day(3))
    mark_wrong(fallen, wrong.key)
    one = possible_change(fallen, 12, day(3.6))
    assert (one.earliest, one.before_per_m) == (day(2), 12.0)


def test_small_noisy_and_gentle_falls_are_no_changes(book: Logbook) -> None:
    add(book, 0, 2.0, 0.05)
    add(book, 1, 0.9, 0.05)
    add(book, 2, 20.0, 3.0)
    add(book, 3, 10.0, 3.0)
    add(book, 4, 30.0)
    add(book, 5, 20.0)
    assert spans(book) == []


def test_a_bound_counts_only_on_its_safe_side(book: Logbook) -> None:
    add(book, 0, 70.0, 0.0, Bound.ABOVE)
    add(book, 1, 5.0)
    assert spans(book) == [(day(0), day(1))]
    add(book, 2, 80.0, 0.0, Bound.BELOW)
    add(book, 3, 6.0)
    add(book, 4, 40.0)
    add(book, 5, 10.0, 0.0, Bound.ABOVE)
    assert spans(book) == [(day(0), day(1))]


def test_a_doubtful_reading_must_fall_further(book: Logbook) -> None:
    with book.entry("readings") as entry:
        for name, at, haze in (("a", 0, 5.0), ("b", 1, 2.5)):
            verdict = Verdict.DOUBTFUL
            reading = make_reading(name, at=day(at), haze_per_m=haze, verdict=verdict)
            insert_reading(entry, reading, 12, None)
    assert spans(book) == []


def test_wrong_readings_betray_nothing(fallen: Logbook) -> None:
    mark_wrong(fallen, find_reading(fallen, 12, day(4)).key)
    mark_wrong(fallen, find_reading(fallen, 12, day(5)).key)
    assert spans(fallen) == []


def fitted(book: Logbook, made_at: float, *found: tuple[float, float]) -> None:
    """Keep an answer whose fit found changes between some days."""
    changes = tuple(
        ProbableChange(
            tub=12, earliest=day(first), latest=day(last), before_per_m=9.0, after_per_m=8.0
        )
        for first, last in found
    )
    answer = KeptAnswer(
        tub=12, key="1", made_at=day(made_at), good_until=day(99), brief="{}", unlogged=changes
    )
    keep_answer(book, answer, None)


def test_what_the_fit_found_goes_before_sharp_falls_that_it_saw(fallen: Logbook) -> None:
    fitted(fallen, 5, (1, 2))
    assert spans(fallen) == [(day(1), day(2))]


def test_a_sharp_fall_that_no_fit_has_seen_is_asked_about(fallen: Logbook) -> None:
    fitted(fallen, 5)
    assert spans(fallen) == []
    add(fallen, 6, 2.0)
    assert spans(fallen) == [(day(5), day(6))]


def test_what_the_fit_found_is_settled_by_an_entry(fallen: Logbook) -> None:
    fitted(fallen, 5, (1, 2), (2, 3))
    confirm_change(fallen, probable_changes(fallen, 12)[0], Filling())
    assert spans(fallen) == [(day(2), day(3))]
    deny_change(fallen, probable_changes(fallen, 12)[0])
    assert spans(fallen) == []
    fitted(fallen, 5, (0, 1))
    mark_wrong(fallen, find_reading(fallen, 12, day(1)).key)
    assert spans(fallen) == []
