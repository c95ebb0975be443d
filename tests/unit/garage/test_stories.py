from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.garage.series import tub_history
from greasecheck.logbook.readings.readings import enter_by_hand
from greasecheck.logbook.records import HandReading, Skull, SkullEvent, Tub
from greasecheck.logbook.skulls.skulls import enter_event, enter_skull
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.model import Recipe
from greasecheck.predict.outlook.forecasting import forecast
from greasecheck.stages import EventKind

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

START = datetime(2025, 3, 1, 18, tzinfo=UTC)
SOAP = Filling(recipe=Recipe.SOAP, temperature_c=40.0)


def day(number: float) -> datetime:
    return START + timedelta(days=number)


def enter(book: Logbook, name: str, at: float, tub: int) -> None:
    event = SkullEvent(skull=name, happened_at=day(at), kind=EventKind.ENTERED, tub=tub)
    enter_skull(book, Skull(name=name, species="deer"), event)


def move(book: Logbook, name: str, at: float, tub: int) -> None:
    enter_event(book, SkullEvent(skull=name, happened_at=day(at), kind=EventKind.MOVED, tub=tub))


def read(book: Logbook, tub: int, at: float, haze: float) -> None:
    enter_by_hand(
        book,
        HandReading(tub=tub, taken_at=day(at), attenuation_per_m=haze, attenuation_std_per_m=0.3),
    )


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    """Two deer in tub 1; after 30 days one of them is moved to tub 2."""
    with Logbook(tmp_path / "season.logbook", create=True) as opened:
        for tub in (1, 2):
            enter_tub(opened, Tub(number=tub, volume_l=20.0 * tub))
        for at in range(0, 60, 3):
            change_water(opened, [1], day(at), SOAP)
            read(opened, 1, at + 2.5, 2.0 + 25.0 * 0.96**at * (2 if at < 30 else 1))
        enter(opened, "buck", 0, 1)
        enter(opened, "doe", 0, 1)
        for at in range(30, 60, 3):
            change_water(opened, [2], day(at), SOAP)
            read(opened, 2, at + 2.5, 2.0 + 25.0 * 0.96**at)
        move(opened, "doe", 30, 2)
        yield opened


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
