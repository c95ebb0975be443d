"""Whether a bone's yellowness has settled, and how much of it lies in yellow patches."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.measure.bone.target import clean_bone
from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.model import Verdict
from greasecheck.reference.advice import advice_value

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from numpy.typing import NDArray

    from greasecheck.model import BoneState, FloatArray

DAYS_PER_WEEK = 7.0
PATCH_LOOKS, LEAST_PATCH_LOOKS = 5, 3  # averaged; that give an interval; no source
UNSTATED_YI_STD = 2.4  # of readings by nominal patch values (tests.benchmarks.bone_yellowness)
SURE_STD = 2.0  # standard errors that are put down to noise; no source


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneLook:
    """One reading of a bone.

    Attributes
    ----------
    at : datetime.datetime
        Zone-aware time.
    yi_e313, yi_std : float, float or None
        Yellowness index (ASTM E313, D65/2) and its standard error.
    yellow_patch_share : float or None
        Share of its seen area in yellow patches, 0 to 1.
    yellow_share_std : float or None
        Its standard error; None where it is not stated.
    state : BoneState or None
        How wet it was.
    verdict : Verdict
        How far to trust it.
    """

    at: datetime
    yi_e313: float
    yi_std: float | None = None
    yellow_patch_share: float | None = None
    yellow_share_std: float | None = None
    state: BoneState | None = None
    verdict: Verdict = Verdict.GOOD


class BoneCourse(StrEnum):
    """How a bone's yellowness runs."""

    PALING = "paling"
    SETTLED = "settled"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneTrend:
    """How a bone stands.

    Attributes
    ----------
    course : BoneCourse
        Whether its yellowness still falls.
    looks : int
        Readings that were compared: recent, good, in the state of the newest.
    slope_per_week, slope_low_per_week, slope_high_per_week : float or None
        Change of the yellowness index with the ends of its confidence interval [1/week]; None
        with too few readings.
    yellow_patch_share, yellow_patch_share_high : float or None
        Share of its area in yellow patches, 0 to 1: mean of the last five readings, and the upper
        end of its confidence interval; None with too few readings.
    yellow_share_std : float or None
        Standard error of a share that the readings state; None where none does.
    has_cleared : bool
        Whether it fell from what it was at first to that of clean bone.
    """

    course: BoneCourse
    looks: int
    slope_per_week: float | None
    slope_low_per_week: float | None
    slope_high_per_week: float | None
    yellow_patch_share: float | None
    yellow_patch_share_high: float | None
    yellow_share_std: float | None
    has_cleared: bool


def bone_trend(looks: Sequence[BoneLook], now: datetime) -> BoneTrend:
    """Judge a bone by its recent readings.

    Parameters
    ----------
    looks : sequence of BoneLook
        Readings of one skull, in any order.
    now : datetime.datetime
        Zone-aware; later readings are not looked at.

    Notes
    -----
    Theil-Sen slope, which forgives outliers, with the distribution-free interval of Sen.
    The bone has settled when even the steep end of the interval falls slowly; it is paling when
    even the shallow end falls. Between the two, more readings are needed.

    References
    ----------
    P. K. Sen, J. Am. Stat. Assoc. 63, 1379 (1968).

    Examples
    --------
    >>> from datetime import UTC, datetime, timedelta
    >>> start = datetime(2026, 1, 5, tzinfo=UTC)
    >>> days = [start + timedelta(days=day) for day in range(0, 20, 2)]
    >>> pale = [BoneLook(at=day, yi_e313=20 + 0.1 * (n % 2)) for n, day in enumerate(days)]
    >>> bone_trend(pale, days[-1]).course
    <BoneCourse.SETTLED: 'settled'>
    """
    alike = _alike(looks, now)
    begin = now - timedelta(days=advice_value("bone_window_days"))
    used = [look for look in alike if look.at >= begin]
    earlier = alike[: len(alike) - len(used)]
    slope, low, high = _slopes(used) if _supports_a_trend(used) else (None, None, None)
    with_share = [look for look in used if look.yellow_patch_share is not None][-PATCH_LOOKS:]
    share_std = _stated_std(with_share)
    share, share_high = _mean_share(
        [look.yellow_patch_share or 0.0 for look in with_share], share_std or 0.0
    )
    return BoneTrend(
        course=_course(low, high),
        looks=len(used),
        slope_per_week=slope,
        slope_low_per_week=low,
        slope_high_per_week=high,
        yellow_patch_share=share,
        yellow_patch_share_high=share_high,
        yellow_share_std=share_std,
        has_cleared=_has_cleared(earlier, used),
    )


def _alike(looks: Sequence[BoneLook], now: datetime) -> list[BoneLook]:
    """Return the good readings in the state of the newest, oldest first."""
    good = sorted(
        (look for look in looks if look.at <= now and look.verdict is Verdict.GOOD),
        key=lambda look: look.at,
    )
    return [look for look in good if look.state is good[-1].state]


def _has_cleared(earlier: Sequence[BoneLook], used: Sequence[BoneLook]) -> bool:
    """Return whether the bone paled while it was looked at, and is now as pale as clean bone.

    Bone that was pale from the start, or that settled yellow, is no measure of the grease in it.
    """
    least = int(advice_value("least_bone_looks"))
    first = earlier[:least]
    if len(first) < 2 or len(used) < least:
        return False
    clean = float(yellowness_e313(clean_bone().xyz)) + clean_bone().yi_least_margin
    then, now = (float(np.median([look.yi_e313 for look in some])) for some in (first, used))
    error = float(np.hypot(_median_std(first), _median_std(used)))
    return now <= clean and then - now > SURE_STD * error


def _median_std(looks: Sequence[BoneLook]) -> float:
    """Return the standard error of a median of yellowness: of what readings state or scatter."""
    stated = [look.yi_std for look in looks if look.yi_std is not None]
    scatter = float(np.std([look.yi_e313 for look in looks], ddof=1))
    one = max(scatter, float(np.median(stated)) if stated else UNSTATED_YI_STD)
    return float(np.sqrt(np.pi / 2 / len(looks))) * one


def _supports_a_trend(used: Sequence[BoneLook]) -> bool:
    if len(used) < advice_value("least_bone_looks"):
        return False
    return used[-1].at - used[0].at >= timedelta(days=advice_value("least_bone_days"))


def _slopes(used: Sequence[BoneLook]) -> tuple[float, float, float]:
    """Return slope, low and high end of its interval [1/week]: Sen 1968, eq. 2.6 and section 6."""
    weeks = np.array([(look.at - used[0].at) / timedelta(days=DAYS_PER_WEEK) for look in used])
    yellow = np.array([look.yi_e313 for look in used])
    apart = weeks[:, None] - weeks
    slopes = np.sort(((yellow[:, None] - yellow)[apart > 0]) / apart[apart > 0])
    terms = (_variance_term(counts) for counts in (_ties(weeks), _ties(yellow)))
    variance = (_variance_term(np.array([len(used)])) - sum(terms)) / 18
    # It counts pairs that are tied in both twice, and so falls below 0 where nearly all are.
    reach = special.ndtri(advice_value("settled_confidence")) * np.sqrt(max(variance, 0.0))
    low = max(round((len(slopes) - reach) / 2) - 1, 0)
    high = min(round((len(slopes) + reach) / 2), len(slopes) - 1)
    return float(np.median(slopes)), float(slopes[low]), float(slopes[high])


def _ties(values: FloatArray) -> NDArray[np.intp]:
    """Return how often each value comes."""
    return np.unique(values, return_counts=True)[1]


def _variance_term(counts: NDArray[np.intp]) -> int:
    """Return the sum of n (n - 1) (2 n + 5), of which a value that comes once adds nothing."""
    return int((counts * (counts - 1) * (2 * counts + 5)).sum())


def _stated_std(looks: Sequence[BoneLook]) -> float | None:
    """Return the error of a share that looks state; it is that of sheet and camera, common to all.

    None where none states it.
    """
    stated = [look.yellow_share_std for look in looks if look.yellow_share_std is not None]
    return float(np.mean(stated)) if stated else None


def _mean_share(shares: Sequence[float], common_std: float) -> tuple[float | None, float | None]:
    """Return the mean and the upper end of its one-sided interval by Student's t.

    An error that is common to all shares does not shrink with their number.
    """
    if not shares:
        return None, None
    mean = float(np.mean(shares))
    if len(shares) < LEAST_PATCH_LOOKS:
        return mean, None
    error = np.hypot(np.std(shares, ddof=1) / np.sqrt(len(shares)), common_std)
    quantile = float(special.stdtrit(len(shares) - 1, advice_value("settled_confidence")))
    return mean, float(mean + quantile * error)


def _course(low: float | None, high: float | None) -> BoneCourse:
    if low is None or high is None:
        return BoneCourse.UNKNOWN
    if low > -advice_value("settled_fall_per_week"):
        return BoneCourse.SETTLED
    return BoneCourse.PALING if high < 0 else BoneCourse.UNKNOWN
