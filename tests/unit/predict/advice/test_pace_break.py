from __future__ import annotations

from datetime import timedelta

import pytest

from greasecheck.predict.advice.pace_break import find_falls, find_rise
from greasecheck.predict.fit.tub_fit import fit_tub
from tests.unit.predict.tubs import day, fading_tub


@pytest.mark.parametrize("half_life", [8.0, 20.0, 60.0])
def test_a_bone_that_runs_empty_breaks_nothing(half_life: float) -> None:
    fit = fit_tub(fading_tub(60, half_life=half_life), day(60))
    assert find_falls(fit) == ()
    assert find_rise(fit) is None


@pytest.mark.parametrize("days", [36, 75])
def test_a_sudden_fall_is_found_and_stays_found(days: int) -> None:
    fit = fit_tub(fading_tub(days, broken=(20, days), share=0.12), day(days))
    fall = find_falls(fit)[0]
    assert abs(fall.since - day(20)) < timedelta(days=4)
    assert fall.share == pytest.approx(0.12, abs=0.1)


def test_a_fall_that_came_back_is_no_fall_any_more_but_a_rise() -> None:
    fit = fit_tub(fading_tub(60, broken=(20, 36), share=0.12), day(60))
    assert find_falls(fit) == ()
    rise = find_rise(fit)
    assert rise is not None
    assert abs(rise.since - day(36)) < timedelta(days=4)
    assert rise.share > 2


def test_a_tub_of_few_baths_says_nothing() -> None:
    fit = fit_tub(fading_tub(9), day(9))
    assert find_falls(fit) == ()
    assert find_rise(fit) is None
