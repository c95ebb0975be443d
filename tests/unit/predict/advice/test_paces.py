"""Slopes of the haze over its fresh baths, worked by hand: ages, means, errors, carrying on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from greasecheck.model import Bound
from greasecheck.predict.advice.paces import (
    Pace,
    Rises,
    carried_on,
    level,
    like_paces,
    mean_pace,
    rises_of,
)
from greasecheck.predict.fit.noise import usual_noise
from greasecheck.predict.fit.tub_fit import fit_tub
from greasecheck.predict.model.arrhenius import rate_factor
from greasecheck.predict.model.course import run_course
from greasecheck.predict.records import SoakingSkull, TubHistory
from tests.unit.predict.tubs import day, fading_tub, reading


def rises(*read: tuple[int, float, float], fresh_std: float = 0.0) -> Rises:
    """Return readings as their bath, its age in days, and the rise; baths last three days."""
    baths, ages, heights = (np.array(column) for column in zip(*read, strict=True))
    return Rises(
        bath=baths.astype(np.intp),
        days=3.0 * baths + ages,
        age_days=ages,
        rise_per_m=heights,
        std_per_m=np.ones(len(ages)),
        fresh_std_per_m=np.full(len(ages), fresh_std),
        above=np.zeros(len(ages), dtype=np.bool_),
    )


def test_a_pace_is_the_slope_from_zero_and_its_error_that_of_readings_and_baths() -> None:
    """Ages 1 and 2, rises 4 and 6: (4 + 12) / 5. Fresh water off by 0.5 moves that by 1.5 / 5."""
    usual = usual_noise().pace * 3.2
    one_bath = mean_pace(rises((0, 1.0, 4.0), (0, 2.0, 6.0), fresh_std=0.5))
    assert (one_bath.days, one_bath.value) == pytest.approx((1.5, 3.2))
    assert one_bath.std == pytest.approx((1 / 5 + 0.3**2 + usual**2) ** 0.5)
    two_baths = mean_pace(rises((0, 1.0, 4.0), (1, 2.0, 6.0), fresh_std=0.5))
    assert two_baths.std == pytest.approx((1 / 5 + (0.3**2 + usual**2) / 2) ** 0.5)


BEFORE = rises((0, 1.0, 2.0), (1, 1.0, 2.0), (2, 1.0, 2.0))


@pytest.mark.parametrize(
    ("baths", "readings", "is_told"), [(3, 2, True), (2, 2, False), (3, 1, False)]
)
def test_a_pace_wants_three_baths_before_and_two_readings_after(
    baths: int, readings: int, *, is_told: bool
) -> None:
    after = rises((3, 1.0, 1.0), (3, 1.1, 1.0))
    told = like_paces(BEFORE.of(BEFORE.bath < baths), after.of(np.arange(2) < readings))
    assert (told is not None) is is_told


def test_baths_are_compared_over_ages_that_both_have() -> None:
    """Older baths are nearer to full and look slower: 1.2 times the younger's age counts."""
    old = rises((0, 1.0, 2.0), (1, 1.0, 2.0), (2, 1.0, 2.0), (2, 1.25, 2.0))
    young = rises((3, 1.0, 2.0), (3, 1.0, 2.0))
    told = like_paces(old, young)
    assert told is not None
    paces, now = told
    assert [one.value for one in (*paces, now)] == pytest.approx([2.0] * 4)
    older = rises((3, 1.0, 2.0), (3, 1.19, 2.38), (3, 1.25, 2.0))
    told = like_paces(BEFORE, older)
    assert told is not None
    assert told[1].value == pytest.approx(2.0)


def test_a_pace_that_seems_to_rise_is_level_and_as_unsure_as_it_scatters() -> None:
    paces = [Pace(days=float(n), value=2.0**n, std=0.01 * 2.0**n) for n in range(4)]
    value, log_std = carried_on(paces, 9.0)
    assert value == pytest.approx(2**1.5)
    # the mean of 0, 1, 2 and 3 times ln 2: its standard error is their deviation over root 4
    assert log_std == pytest.approx(np.log(2) * np.std([0, 1, 2, 3], ddof=1) / 2)


def test_a_falling_pace_is_carried_on_along_its_logarithm() -> None:
    """8, 4, 2 go on with 1. A line through three points, read two steps from their middle.

    Its variance is theirs times 1/3 + 2^2 / 2, where they scatter less than their errors say.
    """
    paces = [Pace(days=float(n), value=8 / 2.0**n, std=0.01 * 8 / 2.0**n) for n in range(3)]
    value, log_std = carried_on(paces, 3.0)
    assert value == pytest.approx(1.0)
    assert log_std == pytest.approx(0.01 * (1 / 3 + 2.0) ** 0.5)


def test_a_level_pace_is_the_weighted_mean_as_unsure_as_paces_scatter() -> None:
    """Weights 4 and 1: (4 * 3 + 8) / 5, off by 5^-1/2 as errors say, by 5 / 2 as they scatter."""
    near, far = Pace(days=1.0, value=3.0, std=0.5), Pace(days=2.0, value=8.0, std=1.0)
    mean = level([near, far])
    assert (mean.days, mean.value, mean.std) == pytest.approx((2.0, 4.0, 2.5))
    alike = [replace(near, days=n, std=0.6) for n in (1.0, 2.0, 3.0)]
    assert level(alike).std == pytest.approx(0.6 / 3**0.5)
    below = level([replace(one, value=-3.0) for one in alike])
    assert below.value == below.std == pytest.approx(0.6 / 3**0.5)


def test_a_cold_bath_is_younger_than_the_clock_says() -> None:
    tub = fading_tub(21)
    cold = replace(tub.changes[-1], temperature_c=20.0)
    fit = fit_tub(replace(tub, changes=(*tub.changes[:-1], cold)), day(21))
    ages = rises_of(fit).age_days
    energy = float(fit.fits[0].peak.draws.activation_kj_per_mol[0])
    slower = float(rate_factor(20.0, energy) / rate_factor(40.0, energy))
    assert ages[:18] == pytest.approx(np.tile([0.9, 1.9, 2.9], 6))
    assert ages[18:] == pytest.approx(np.array([0.9, 1.9, 2.9]) * slower)


def test_rises_are_over_fresh_water_and_what_grows_in_it() -> None:
    fit = fit_tub(fading_tub(27, every=9), day(27))
    draws, seen = fit.fits[0].peak.draws, fit.timeline.observations
    grown = run_course(fit.timeline, draws).bloom_per_m(seen.moments)[:, 0]
    assert grown.max() > 0.1
    rise = seen.haze_per_m - draws.fresh_per_m[0, 0] - grown
    assert rises_of(fit).rise_per_m == pytest.approx(rise)


def short_tub() -> TubHistory:
    return replace(
        fading_tub(9), readings=(reading(0.19, 2.0), reading(0.21, 2.0), reading(1.0, 5.0))
    )


def test_young_baths_and_bounds_below_show_no_rise_but_bounds_above_do() -> None:
    ages = rises_of(fit_tub(short_tub(), day(9))).age_days
    assert ages == pytest.approx([0.21, 1.0])
    for bound, count in ((Bound.BELOW, 1), (Bound.ABOVE, 2)):
        *rest, last = short_tub().readings
        tub = replace(short_tub(), readings=(*rest, replace(last, bound=bound)))
        found = rises_of(fit_tub(tub, day(9)))
        assert len(found.days) == count
        assert found.above.any() == (bound is Bound.ABOVE)


def test_baths_in_which_a_skull_came_are_out_but_for_the_first() -> None:
    doe = SoakingSkull(name="doe", species="deer", since=day(4))
    tub = fading_tub(12)
    found = rises_of(fit_tub(replace(tub, skulls=(*tub.skulls, doe)), day(12)))
    assert sorted(set(found.bath.tolist())) == [0, 2, 3]
