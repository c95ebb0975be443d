"""What a skull's photos say of it at the end of its soak, and how surely."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.garage.risk.signs import YELLOWNESS_STD, signs_at_end
from greasecheck.garage.soaks.past import past_soaks
from greasecheck.logbook.readings.readings import enter_by_hand
from greasecheck.logbook.records import HandReading, Tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.measure.bone.target import clean_bone
from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.model import BoneState, Recipe
from greasecheck.predict.advice.bone_trend import UNSTATED_YI_STD
from tests.logbook_samples import day
from tests.skull_log import put_in

if TYPE_CHECKING:
    from greasecheck.predict.yellowing.records import Measured

CLEAN_YI = float(yellowness_e313(clean_bone().xyz))


@pytest.fixture
def book(book: Logbook) -> Logbook:
    """A tub with a soaking fox."""
    enter_tub(book, Tub(number=1))
    change_water(book, [1], day(0), Filling(recipe=Recipe.SOAP))
    put_in(book, "fox", day(0), 1, species="fox")
    return book


def look(
    book: Logbook,
    at: float,
    yi_e313: float,
    yi_std: float | None,
    state: BoneState = BoneState.BLOTTED,
) -> None:
    reading = HandReading(
        tub=1,
        taken_at=day(at),
        bone_yi_e313=yi_e313,
        bone_yi_std=yi_std,
        bone_state=state,
    )
    enter_by_hand(book, reading)


def yellowness(book: Logbook) -> Measured | None:
    [span] = past_soaks(book, day(20))
    return signs_at_end(book, span, span.soaks[0], day(20), {}).yellowness_at_end


@pytest.mark.parametrize(("stated", "common"), [(4.0, 4.0), (None, UNSTATED_YI_STD)])
def test_the_error_of_the_card_does_not_shrink_with_photos(
    book: Logbook, stated: float | None, common: float
) -> None:
    for at, yi_e313 in ((10, 30.0), (12, 34.0), (14, 31.0)):
        look(book, at, yi_e313, stated)
    found = yellowness(book)
    assert found is not None
    assert found.value == pytest.approx(31.0 - CLEAN_YI)
    assert found.std == pytest.approx(np.sqrt(common**2 + YELLOWNESS_STD**2 / 3))


def test_doubtful_looks_say_nothing_of_the_end(book: Logbook) -> None:
    look(book, 10, 30.0, 1.0)
    look(book, 12, 60.0, 1.0)
    doubted = "UPDATE readings SET verdict = 'doubtful' WHERE bone_yi_e313 > ?"
    book.connection.execute(doubted, (50.0,))
    found = yellowness(book)
    assert found is not None
    assert found.value == pytest.approx(30.0 - CLEAN_YI)
    book.connection.execute(doubted, (0.0,))
    assert yellowness(book) is None


def fall_per_week(book: Logbook) -> Measured | None:
    [span] = past_soaks(book, day(20))
    return signs_at_end(book, span, span.soaks[0], day(20), {}).yellowness_fall_per_week


@pytest.mark.parametrize("per_week", [-7.0, 3.5])
def test_a_bone_that_pales_has_a_fall_above_zero(book: Logbook, per_week: float) -> None:
    for number in range(8):
        look(book, 4 + 2 * number, 40.0 + per_week * 2 * number / 7, 1.0)
    found = fall_per_week(book)
    assert found is not None
    assert found.value == pytest.approx(-per_week)


def test_only_looks_in_the_last_state_tell_the_end(book: Logbook) -> None:
    for at, yi_e313, state in (
        (10, 50.0, BoneState.WET),
        (12, 30.0, BoneState.BLOTTED),
        (14, 52.0, BoneState.WET),
    ):
        look(book, at, yi_e313, 1.0, state)
    found = yellowness(book)
    assert found is not None
    assert found.value == pytest.approx(51.0 - CLEAN_YI)


def test_a_look_at_the_very_end_of_the_soak_counts(book: Logbook) -> None:
    look(book, 12, 30.0, 1.0)
    look(book, 20, 20.0, 1.0)
    found = yellowness(book)
    assert found is not None
    assert found.value == pytest.approx(25.0 - CLEAN_YI)
