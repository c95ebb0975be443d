from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, theilslopes

from greasecheck.model import BoneState, Verdict
from greasecheck.predict.advice.bone_trend import BoneCourse, BoneLook, bone_trend

START = datetime(2026, 3, 1, 18, tzinfo=UTC)
SEEDS = 150
NOW = START + timedelta(days=24)


def looks_of(
    slope_per_week: float, *, std: float = 0.3, share: float | None = 0.01, seed: int = 7
) -> tuple[BoneLook, ...]:
    generator = np.random.default_rng(seed)
    return tuple(
        BoneLook(
            at=START + timedelta(days=day),
            yi_e313=25.0 + slope_per_week * day / 7 + std * generator.standard_normal(),
            yellow_patch_share=share,
            state=BoneState.BLOTTED,
        )
        for day in range(0, 25, 2)
    )


def test_a_level_bone_has_settled_and_a_falling_one_pales() -> None:
    assert bone_trend(looks_of(0.0), NOW).course is BoneCourse.SETTLED
    assert bone_trend(looks_of(-3.0), NOW).course is BoneCourse.PALING


@pytest.mark.parametrize("std", [0.3, 1.0, 3.0])
def test_the_interval_holds_the_true_slope_as_often_as_it_says(std: float) -> None:
    trends = [bone_trend(looks_of(-1.5, std=std, seed=seed), NOW) for seed in range(SEEDS)]
    held = sum(
        trend.slope_low_per_week is not None
        and trend.slope_high_per_week is not None
        and trend.slope_low_per_week <= -1.5 <= trend.slope_high_per_week
        for trend in trends
    )
    # one-sided 80 % at each end is a central interval of 60 %
    least, most = (binom.ppf(tail, SEEDS, 0.6) for tail in (1e-3, 1 - 1e-3))
    assert least <= held <= most


def test_a_bone_at_the_limit_is_seldom_called_settled() -> None:
    courses = [bone_trend(looks_of(-1.0, std=2.0, seed=seed), NOW).course for seed in range(SEEDS)]
    assert courses.count(BoneCourse.SETTLED) <= binom.ppf(1 - 1e-3, SEEDS, 0.2)
    assert courses.count(BoneCourse.UNKNOWN) > 0


def test_too_few_readings_or_too_short_a_span_tell_no_trend() -> None:
    looks = looks_of(0.0)
    for few in ((), looks[-3:], looks[-4:]):
        trend = bone_trend(few, NOW)
        assert (trend.course, trend.slope_per_week, trend.looks) == (
            BoneCourse.UNKNOWN,
            None,
            len(few),
        )


def test_one_wild_reading_changes_little() -> None:
    looks = list(looks_of(0.0))
    looks[5] = replace(looks[5], yi_e313=60.0, yellow_patch_share=0.9)
    trend = bone_trend(looks, NOW)
    assert trend.course is BoneCourse.SETTLED
    assert trend.yellow_patch_share == pytest.approx(0.01)


def test_only_like_is_compared_with_like() -> None:
    dry = [
        replace(look, state=BoneState.DRY, yi_e313=look.yi_e313 - 9) for look in looks_of(0.0)[:6]
    ]
    wet = looks_of(0.0)[6:]
    assert bone_trend([*dry, *wet], NOW).looks == len(wet)
    assert bone_trend([*dry, *wet], NOW).course is BoneCourse.SETTLED


def test_doubtful_old_and_later_readings_are_not_looked_at() -> None:
    looks = looks_of(0.0)
    doubtful = [replace(look, verdict=Verdict.DOUBTFUL) for look in looks]
    assert bone_trend(doubtful, NOW).looks == 0
    assert bone_trend(looks, NOW + timedelta(days=40)).looks == 0
    assert bone_trend(looks, START + timedelta(days=1)).looks == 1


def test_the_share_of_patches_is_the_mean_of_the_last_five_with_its_upper_end() -> None:
    shares = (0.3, 0.02, 0.04, 0.03, 0.05, 0.06)
    looks = [
        replace(look, yellow_patch_share=share)
        for look, share in zip(looks_of(0.0)[-6:], shares, strict=True)
    ]
    trend = bone_trend(looks, NOW)
    assert trend.yellow_patch_share == pytest.approx(0.04)
    # standard error 0.0158 / sqrt(5) = 0.00707; Student's t, 4 degrees, one-sided 80 %: 0.941
    assert trend.yellow_patch_share_high == pytest.approx(0.04 + 0.941 * 0.00707, abs=1e-5)


def test_what_all_shares_are_off_together_does_not_shrink_with_their_number() -> None:
    looks = [replace(look, yellow_share_std=0.03) for look in looks_of(0.0)[-5:]]
    trend = bone_trend(looks, NOW)
    assert trend.yellow_share_std == pytest.approx(0.03)
    # all shares are 0.01; Student's t, 4 degrees, one-sided 80 %: 0.941
    assert trend.yellow_patch_share_high == pytest.approx(0.01 + 0.941 * 0.03, abs=1e-5)
    assert bone_trend(looks_of(0.0)[-5:], NOW).yellow_share_std is None


def test_two_readings_tell_too_little_of_patches() -> None:
    trend = bone_trend(looks_of(0.0)[-2:], NOW)
    assert trend.yellow_patch_share == pytest.approx(0.01)
    assert trend.yellow_patch_share_high is None


@pytest.mark.parametrize(
    ("first", "last", "has_cleared"),
    [
        (45.0, 22.0, True),
        (45.0, 34.0, False),  # 22.6 is clean bone, 32.6 a yellow patch
        (23.0, 22.0, False),  # pale from the start
    ],
)
def test_a_bone_cleared_that_paled_until_it_is_as_pale_as_clean_bone(
    first: float, last: float, has_cleared: bool
) -> None:
    early = [replace(look, yi_e313=first) for look in looks_of(0.0)[:5]]
    late = [
        replace(look, at=look.at + timedelta(days=40), yi_e313=last) for look in looks_of(0.0)[:5]
    ]
    now = late[-1].at
    assert bone_trend([*early, *late], now).has_cleared is has_cleared
    assert not bone_trend(late, now).has_cleared
    assert not bone_trend(early, now).has_cleared


def test_a_fall_of_the_yellowness_within_its_error_clears_nothing() -> None:
    early, late = (
        [
            replace(look, at=look.at + timedelta(days=away), yi_e313=yi + n % 2, yi_std=6.0)
            for n, look in enumerate(looks_of(0.0)[:5])
        ]
        for away, yi in ((0, 30.0), (40, 26.0))
    )
    # the standard error of a median of 5 is 6 sqrt(pi / 10) = 3.4, of the difference 4.8
    assert not bone_trend([*early, *late], late[-1].at).has_cleared
    sure = [replace(look, yi_std=0.5) for look in [*early, *late]]
    assert bone_trend(sure, late[-1].at).has_cleared


def test_a_share_never_read_is_unknown() -> None:
    assert bone_trend(looks_of(0.0, share=None), NOW).yellow_patch_share is None


@settings(deadline=None, max_examples=25)
@given(st.permutations(looks_of(-1.0)))
def test_the_order_of_readings_changes_nothing(shuffled: list[BoneLook]) -> None:
    assert bone_trend(shuffled, NOW) == bone_trend(looks_of(-1.0), NOW)


@pytest.mark.parametrize("looks", [10, 13, 24])
@pytest.mark.parametrize("digits", [0, 1, 6])
def test_slope_and_interval_are_those_of_scipy_with_ties_and_without(
    looks: int, digits: int
) -> None:
    generator = np.random.default_rng(looks)
    days = np.sort(generator.integers(0, 20, looks)).astype(float)
    yellow = np.round(25 - 0.1 * days + generator.normal(0, 1, looks), digits)
    found = bone_trend(
        [
            BoneLook(at=START + timedelta(days=day), yi_e313=one)
            for day, one in zip(days.tolist(), yellow.tolist(), strict=True)
        ],
        START + timedelta(days=20),
    )
    one_sided = 0.8  # settled_confidence
    scipys = theilslopes(yellow, (days - days[0]) / 7, alpha=2 * one_sided - 1)
    assert found.slope_per_week == pytest.approx(scipys.slope)
    assert found.slope_low_per_week == pytest.approx(scipys.low_slope)
    assert found.slope_high_per_week == pytest.approx(scipys.high_slope)


def test_a_bone_that_always_read_alike_has_settled_though_two_readings_share_a_time() -> None:
    looks = [
        BoneLook(at=START + timedelta(days=day), yi_e313=25.0) for day in (0, 5, 10, 15, 15, 20)
    ]
    found = bone_trend(looks, START + timedelta(days=20))
    slopes = (found.slope_per_week, found.slope_low_per_week, found.slope_high_per_week)
    assert (found.course, *slopes) == (BoneCourse.SETTLED, 0.0, 0.0, 0.0)
