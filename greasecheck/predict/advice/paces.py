"""The pace of leaching by a tub's readings: rises over the fresh bath, and their slopes."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.fit.likelihood import expected_of
from greasecheck.predict.fit.noise import usual_noise
from greasecheck.predict.model.course import pace

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.tub_fit import TubFit

# Without a source; the comment beside each value states what it does.
LEAST_BEFORE = 3  # baths that a pace is carried on from
LEAST_AFTER = 2  # readings; one alone may be a wrong jar
LIKE_AGE = 1.2  # older baths saturate: with twice as much a longer bath looks like a slower one
LEAST_AGE_DAYS = 0.2  # in younger baths the rise is lost in the noise


@dataclass(frozen=True, slots=True, kw_only=True)
class Rises:
    """Readings as rises over the fresh bath, shape (readings,).

    Attributes
    ----------
    bath : ndarray of int
        Which filling each is of.
    days, age_days : ndarray
        Days of soaking, and days since the filling, both as if always at the usual pace.
    rise_per_m, std_per_m : ndarray
        Rise and its standard error [1/m].
    fresh_std_per_m : ndarray
        Standard error of the fresh bath's haze, common to a bath [1/m].
    above : ndarray of bool
        Whether it is more than was read: too murky to see through.
    """

    bath: NDArray[np.intp]
    days: FloatArray
    age_days: FloatArray
    rise_per_m: FloatArray
    std_per_m: FloatArray
    fresh_std_per_m: FloatArray
    above: NDArray[np.bool_]

    def of(self, chosen: NDArray[np.bool_]) -> Rises:
        """Return some of them."""
        return Rises(**{part.name: getattr(self, part.name)[chosen] for part in fields(self)})


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """The mean pace of some readings [1/m a day], its standard error, and when it was [days]."""

    days: float
    value: float
    std: float


def rises_of(fit: TubFit) -> Rises:
    """Return the readings as rises; those of baths in which skulls came or left are out."""
    timeline, draws = fit.timeline, fit.fits[0].peak.draws
    seen, expected = timeline.observations, expected_of(timeline, draws)
    moments = seen.moments
    speed = pace(timeline.calendar, draws)[:, 0]
    speed = speed / speed[timeline.usual]
    spent = moments.exposure_days.sum(axis=1)
    quick = (moments.exposure_days @ speed) / np.maximum(spent, LEAST_AGE_DAYS / 100)
    soaked = np.cumsum(timeline.gaps_days @ speed)[moments.event] + moments.exposure_days @ speed
    rises = Rises(
        bath=moments.bath,
        days=soaked,
        age_days=moments.bath_age_days * quick,
        rise_per_m=seen.haze_per_m - expected.fresh - expected.bloom,
        std_per_m=np.hypot(seen.std_per_m, usual_noise().scatter * seen.haze_per_m),
        fresh_std_per_m=usual_noise().fresh * expected.fresh,
        above=seen.above,
    )
    old_enough = ~seen.below & (rises.age_days > LEAST_AGE_DAYS)
    return rises.of(old_enough & ~np.isin(moments.bath, mixed_baths(fit)))


def mixed_baths(fit: TubFit) -> NDArray[np.intp]:
    """Return the baths in which a skull came or left, except for the first, oldest first."""
    calendar = fit.timeline.calendar
    moved = (calendar.enters | calendar.leaves).any(axis=1) & (np.arange(len(calendar.changed)) > 0)
    baths: NDArray[np.intp] = (np.cumsum(calendar.changed) - 1)[moved]
    return baths[baths > 0]


def like_paces(before: Rises, after: Rises) -> tuple[list[Pace], Pace] | None:
    """Return the paces of some baths and the mean one of later baths, over baths of like age."""
    top = LIKE_AGE * min(before.age_days.max(initial=0.0), after.age_days.max(initial=0.0))
    before, after = before.of(before.age_days <= top), after.of(after.age_days <= top)
    baths = np.unique(before.bath)
    if len(baths) < LEAST_BEFORE or len(after.days) < LEAST_AFTER:
        return None
    paces = [mean_pace(before.of(before.bath == bath)) for bath in baths]
    return paces, mean_pace(after)


def mean_pace(rises: Rises) -> Pace:
    """Return the slope through the origin of the rises over the ages of their baths."""
    weights = rises.age_days / rises.std_per_m**2
    total = float(weights @ rises.age_days)
    value = float(weights @ rises.rise_per_m) / total
    of_bath = np.hypot(weights @ rises.fresh_std_per_m / total, usual_noise().pace * value)
    baths = len(np.unique(rises.bath))
    return Pace(
        days=float(rises.days.mean()),
        value=value,
        std=float(np.hypot(total**-0.5, of_bath / baths**0.5)),
    )


def carried_on(paces: list[Pace], days: float) -> tuple[float, float]:
    """Return the pace carried on to a day [1/m a day], and the standard error of its logarithm.

    A straight line through the logarithms that does not rise: a pace that seems to is level.
    """
    values = np.log([one.value for one in paces])
    weights = np.array([one.value / one.std for one in paces])
    times = np.array([one.days for one in paces]) - days
    line, covariance = np.polyfit(times, values, 1, w=weights, cov="unscaled")
    if line[0] >= 0:
        line, covariance = np.polyfit(times, values, 0, w=weights, cov="unscaled")
    missed = weights * (values - np.polyval(line, times))
    scatter = max((missed @ missed / (len(paces) - len(line))) ** 0.5, 1.0)
    return float(np.exp(line[-1])), float(covariance[-1, -1] ** 0.5 * scatter)


def level(paces: list[Pace]) -> Pace:
    """Return the weighted mean of paces, its error no less than they scatter; never below 0."""
    values, weights = (
        np.array([one.value for one in paces]),
        np.array([one.std**-2 for one in paces]),
    )
    std = max(weights.sum() ** -0.5, float(np.std(values, ddof=1)) / len(values) ** 0.5)
    value = float(np.average(values, weights=weights))
    return Pace(days=paces[-1].days, value=max(value, std), std=float(std))
