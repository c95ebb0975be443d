"""When a tub runs clear, in its own litres and beside the day on which it is degreased."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from greasecheck.predict.forecast_records import ClearDates, Forecast
from greasecheck.predict.outlook.forecasting import forecast
from greasecheck.words.figures import clear_limit_words
from tests.unit.predict.tubs import day, fading_tub


@pytest.fixture(scope="module", name="found")
def fixture_found() -> Forecast:
    return forecast(replace(fading_tub(20), volume_l=30.0), day(20))


def dates(*days: float) -> ClearDates:
    return ClearDates(origin=day(0), days=np.array(days))


def test_a_gain_is_told_in_the_tub_s_own_litres(found: Forecast) -> None:
    known = found.litres_over_standard
    assert known > 1
    assert np.multiply(found.gain_in_tub_per_m, known) == pytest.approx(found.gain_now_per_m)
    assert found.clear_in_tub_per_m * known == pytest.approx(found.rule.gain_per_m)
    unknown = forecast(fading_tub(20), day(20))
    assert unknown.litres_over_standard == 1
    assert unknown.gain_in_tub_per_m == unknown.gain_now_per_m


@pytest.mark.parametrize(
    ("clear", "degreased", "sure", "is_last"),
    [
        ((40, 50, 60), (20, 30, 40), 0.1, True),
        ((20, 30, 40), (40, 50, 60), 0.1, False),
        ((40, np.inf, np.inf), (20, 30, 40), 0.0, True),
        ((np.inf,) * 3, (np.inf,) * 3, 0.0, False),
        ((10, 15, 60), (5, 6, 7), 0.7, False),
    ],
)
def test_water_that_is_not_clear_yet_may_run_clear_last(
    found: Forecast,
    clear: tuple[float, ...],
    degreased: tuple[float, ...],
    sure: float,
    is_last: bool,
) -> None:
    told = replace(
        found, dates=dates(*clear), degreased=dates(*degreased), probability_clear_now=sure
    )
    assert told.clears_last is is_last


def test_little_water_has_a_limit_of_its_own_too() -> None:
    assert clear_limit_words(6.0, 0.5) == "6: its grease lies in 0.5 times the usual water"
    assert clear_limit_words(2.5, 1.2) == "2.5"
