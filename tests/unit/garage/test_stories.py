"""Which skulls and tubs a tub's haze is judged by, and since when."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from greasecheck.garage.series import tub_history
from greasecheck.garage.stories import tub_story
from greasecheck.logbook.readings.readings import enter_by_hand
from greasecheck.logbook.records import HandReading, Tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.model import Recipe
from greasecheck.predict.outlook.forecasting import forecast
from greasecheck.stages import EventKind
from tests.skull_log import happen, put_in

START = datetime(2025, 3, 1, 18, tzinfo=UTC)
SOAP = Filling(recipe=Recipe.SOAP, temperature_c=40.0)


def day(number: float) -> datetime:
    return START + timedelta(days=number)


def enter(book: Logbook, name: str, at: float, tub: int) -> None:
    put_in(book, name, day(at), tub, species="deer")


def move(book: Logbook, name: str, at: float, tub: int) -> None:
    happen(book, name, EventKind.MOVED, day(at), tub)


def leave(book: Logbook, name: str, at: float) -> None:
    happen(book, name, EventKind.DEGREASED, day(at))


def read(book: Logbook, tub: int, at: float, haze: float) -> None:
    enter_by_hand(
        book,
        HandReading(tub=tub, taken_at=day(at), attenuation_per_m=haze, attenuation_std_per_m=0.3),
    )


@pytest.fixture
def book(book: Logbook) -> Logbook:
    """Two deer in tub 1; after 30 days one of them is moved to tub 2."""
    for tub in (1, 2):
        enter_tub(book, Tub(number=tub, volume_l=20.0 * tub))
    for at in range(0, 60, 3):
        change_water(book, [1], day(at), SOAP)
        read(book, 1, at + 2.5, 2.0 + 25.0 * 0.96**at * (2 if at < 30 else 1))
    enter(book, "buck", 0, 1)
    enter(book, "doe", 0, 1)
    for at in range(30, 60, 3):
        change_water(book, [2], day(at), SOAP)
        read(book, 2, at + 2.5, 2.0 + 25.0 * 0.96**at)
    move(book, "doe", 30, 2)
    return book


def test_a_skull_that_left_is_in_the_story_of_the_tub_it_left(book: Logbook) -> None:
    history = tub_history(book, 1, day(60))
    assert history is not None
    assert {skull.name: skull.until for skull in history.skulls} == {"buck": None, "doe": day(30)}
    assert len(history.readings) == 20
    assert [skull.name for skull in forecast(history, day(60)).skulls] == ["buck"]


def test_a_moved_skull_brings_the_story_of_the_tub_it_came_from(book: Logbook) -> None:
    history = tub_history(book, 2, day(60))
    assert history is not None
    (doe,) = history.skulls
    assert doe.since == day(30)
    (before,) = doe.earlier
    assert before.until == day(30)
    assert {skull.name for skull in before.tub.skulls} == {"buck", "doe"}
    assert len(history.readings) == 10
    assert history.volume_l == 40.0
    found = forecast(history, day(60))
    as_new = forecast(replace(history, skulls=(replace(doe, earlier=()),)), day(60))
    assert found.grease_left_share[1] < 0.6
    assert np.median(found.degreased.days) < np.median(as_new.degreased.days)


def story_of(book: Logbook, tub: int, at: float) -> tuple[datetime, list[tuple[str, datetime]]]:
    story = tub_story(book, tub, day(at))
    assert story is not None
    return story.since, sorted((stay.skull, stay.since) for stay in story.stays)


def test_a_story_begins_with_the_first_of_a_chain_that_shared_the_tub(book: Logbook) -> None:
    """Fox never met hare, but marten met both: the haze that hare is judged by began with fox."""
    enter_tub(book, Tub(number=3))
    for name, since, until in (("fox", 0, 20), ("marten", 10, 40), ("hare", 30, None)):
        enter(book, name, since, 3)
        if until is not None:
            leave(book, name, until)
    chain = [("fox", day(0)), ("hare", day(30)), ("marten", day(10))]
    assert story_of(book, 3, 60) == (day(0), chain)


def test_a_skull_that_came_out_as_the_next_went_in_is_no_part_of_its_story(book: Logbook) -> None:
    enter_tub(book, Tub(number=3))
    enter(book, "fox", 0, 3)
    leave(book, "fox", 20)
    enter(book, "hare", 20, 3)
    assert story_of(book, 3, 30) == (day(20), [("hare", day(20))])


def test_a_skull_that_only_rinses_adds_nothing_to_a_story(book: Logbook) -> None:
    enter_tub(book, Tub(number=3))
    enter(book, "fox", 0, 1)
    leave(book, "fox", 10)
    happen(book, "fox", EventKind.WHITENED, day(11))
    happen(book, "fox", EventKind.RESOAKED, day(12), 3)
    assert tub_story(book, 3, day(15)) is None
    enter(book, "hare", 14, 3)
    assert story_of(book, 3, 15) == (day(14), [("hare", day(14))])


def test_a_skull_moved_twice_comes_from_the_tub_before(book: Logbook) -> None:
    enter_tub(book, Tub(number=3, volume_l=60.0))
    change_water(book, [3], day(45), SOAP)
    read(book, 3, 50, 5.0)
    move(book, "doe", 45, 3)
    history = tub_history(book, 3, day(60))
    assert history is not None
    (doe,) = history.skulls
    (before,) = doe.earlier
    assert (before.until, before.tub.volume_l) == (day(45), 40.0)  # tub 2, not tub 1 of 20 L
    (then,) = before.tub.skulls
    (first,) = then.earlier
    assert (first.until, first.tub.volume_l) == (day(30), 20.0)


def test_an_earlier_soak_that_ended_is_no_part_of_a_new_one(book: Logbook) -> None:
    """Taken out as degreased, and soaked again later: not moved, so nothing goes on."""
    leave(book, "doe", 40)
    happen(book, "doe", EventKind.RESOAKED, day(50), 2)
    history = tub_history(book, 2, day(60))
    assert history is not None
    assert [(one.since, one.earlier) for one in history.skulls if one.until is None] == [
        (day(50), ())
    ]
