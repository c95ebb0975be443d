from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from greasecheck.model import Bound
from greasecheck.predict.advice.pace_break import FALLEN, _fall, find_falls, find_rises
from greasecheck.predict.advice.paces import Pace
from greasecheck.predict.fit.tub_fit import fit_tub
from greasecheck.predict.records import SoakingSkull, TubHistory
from tests.unit.predict.tubs import day, fading_tub


@pytest.mark.parametrize("half_life", [8.0, 20.0, 60.0])
def test_a_bone_that_runs_empty_breaks_nothing(half_life: float) -> None:
    fit = fit_tub(fading_tub(60, half_life=half_life), day(60))
    assert find_falls(fit) == ()
    assert find_rises(fit) == ()


@pytest.mark.parametrize("days", [36, 75])
def test_a_sudden_fall_is_found_and_stays_found(days: int) -> None:
    fit = fit_tub(fading_tub(days, broken=(20, days), share=0.12), day(days))
    fall = find_falls(fit)[0]
    assert abs(fall.since - day(20)) < timedelta(days=4)
    assert fall.share == pytest.approx(0.12, abs=0.1)


@pytest.mark.parametrize("until", [26, 29, 36])
def test_a_pace_that_comes_back_after_a_pause_neither_fell_nor_rose(until: int) -> None:
    fit = fit_tub(fading_tub(60, broken=(20, until), share=0.12), day(60))
    assert find_falls(fit) == ()
    assert find_rises(fit) == ()


@pytest.mark.parametrize("until", [29, 36])
def test_a_rise_over_the_pace_before_a_pause_is_told_over_that_pace(until: int) -> None:
    paused = fading_tub(60, broken=(20, until), share=0.12)
    readings = [
        replace(one, attenuation_per_m=1.5 + 3 * (one.attenuation_per_m - 1.5))
        if one.at >= day(39)
        else one
        for one in paused.readings
    ]
    (rise,) = find_rises(fit_tub(replace(paused, readings=tuple(readings)), day(60)))
    assert abs(rise.since - day(39)) < timedelta(days=4)
    assert 1.8 < rise.share < 3.6


def test_a_gradual_fall_is_no_pause() -> None:
    (rise,) = find_rises(fit_tub(swapped(5.0, half_life=9.0, until=48), day(48)))
    assert rise.since == day(30)


@pytest.mark.parametrize(("gap_days", "is_sure"), [(19.9, True), (20.1, False)])
def test_over_more_than_twenty_days_unread_no_fall_is_sure(
    gap_days: float, *, is_sure: bool
) -> None:
    paces = [Pace(days=3.0 * n, value=4.0, std=0.1) for n in range(3)]
    after = Pace(days=6.0 + gap_days, value=0.4, std=0.1)
    fall = _fall(3, 3, paces, after)
    assert fall.share == pytest.approx(0.1)
    assert (fall.bound < FALLEN) is is_sure


def test_a_tub_of_few_baths_says_nothing() -> None:
    fit = fit_tub(fading_tub(9), day(9))
    assert find_falls(fit) == ()
    assert find_rises(fit) == ()


def swapped(
    share: float, *, murky_from: float = 99.0, until: int = 36, half_life: float = 20.0
) -> TubHistory:
    """Return a tub whose pace is so many times that of the old skull from day 30 on."""
    old = fading_tub(until, half_life=half_life)
    readings = tuple(
        one
        if one.at < day(30)
        else replace(one, attenuation_per_m=1.5 + share * (one.attenuation_per_m - 1.5))
        for one in old.readings
    )
    return replace(
        old,
        readings=tuple(
            replace(one, attenuation_per_m=murky_from, bound=Bound.ABOVE)
            if one.attenuation_per_m > murky_from
            else one
            for one in readings
        ),
    )


@pytest.mark.parametrize(("share", "until"), [(2.5, 36), (4.0, 33), (3.0, 60)])
def test_another_skull_is_asked_about_in_the_bath_that_it_went_into(
    share: float, until: int
) -> None:
    (rise,) = find_rises(fit_tub(swapped(share, until=until), day(until)))
    assert rise.since == day(30)
    assert 0.6 * share < rise.share < 1.2 * share


def test_water_too_murky_to_read_rose_as_well() -> None:
    (rise,) = find_rises(fit_tub(swapped(20.0, murky_from=45.0), day(36)))
    assert rise.since == day(30)


def test_a_bath_a_little_warmer_is_not_asked_about() -> None:
    assert find_rises(fit_tub(swapped(1.2), day(36))) == ()


@pytest.mark.parametrize(("entered", "rises"), [(False, 1), (True, 0)])
def test_a_skull_that_was_entered_is_no_rise(entered: bool, rises: int) -> None:
    tub = swapped(3.0, until=60)
    second = SoakingSkull(name="doe", species="deer", since=day(30))
    tub = replace(tub, skulls=(*tub.skulls, second)) if entered else tub
    assert len(find_rises(fit_tub(tub, day(60)))) == rises


def test_a_rise_after_a_skull_that_was_entered_is_still_found() -> None:
    tub = swapped(3.0, until=60)
    second = SoakingSkull(name="doe", species="deer", since=day(9))
    (rise,) = find_rises(fit_tub(replace(tub, skulls=(*tub.skulls, second)), day(60)))
    assert rise.since == day(30)
