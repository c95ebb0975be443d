"""Whether the pace of leaching broke: fell, or rose, at once as no bone that runs empty does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.fit.likelihood import expected_of
from greasecheck.predict.fit.noise import usual_noise
from greasecheck.predict.model.course import pace

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.tub_fit import TubFit

# Without a source; the comment beside each value states what it does.
BATHS_BEFORE, LEAST_BEFORE = 5, 3  # that the pace is carried on from; with twice as many it lags
BATHS_AFTER = 3  # that are held against it
LEAST_AFTER = 2  # readings; one alone may be a wrong jar
LONGEST_GAP_DAYS = 20.0  # over which a pace is carried on
FALLEN = 0.6  # surely below; a bath 20 degrees C colder slows to a third
RISEN = 1.25  # surely above; a bath 4 degrees C warmer does not reach it
BATHS_LEVEL = 3  # whose mean the pace may not rise above
SURE_STD = 2.0  # standard errors that are put down to noise
BACK = 0.6  # of the pace before: a tub back at it has recovered
LIKE_AGE = 1.2  # older baths saturate: with twice as much a longer bath looks like a slower one
LEAST_AGE_DAYS = 0.2  # younger baths say nothing of the pace


@dataclass(frozen=True, slots=True, kw_only=True)
class PaceBreak:
    """A break of the pace.

    Attributes
    ----------
    since : datetime.datetime
        When the last bath was filled that may still have leached as before.
    share : float
        The pace after a fall over the one to be expected; after a rise over the one before it.
    """

    since: datetime
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rises:
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

    def of(self, chosen: NDArray[np.bool_]) -> _Rises:
        """Return some of them."""
        return _Rises(
            bath=self.bath[chosen],
            days=self.days[chosen],
            age_days=self.age_days[chosen],
            rise_per_m=self.rise_per_m[chosen],
            std_per_m=self.std_per_m[chosen],
            fresh_std_per_m=self.fresh_std_per_m[chosen],
            above=self.above[chosen],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pace:
    """The mean pace of some readings [1/m a day], its standard error, and when it was [days]."""

    days: float
    value: float
    std: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Step:
    """How the pace fell about a bath.

    Attributes
    ----------
    bath : int
        Index of the filling.
    before : _Pace
        The pace in the bath before it.
    of_due, most_of_due : float
        The pace after it over that carried on, and the most that this may be.
    """

    bath: int
    before: _Pace
    of_due: float
    most_of_due: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rise:
    """How the pace rose with a bath, counted among those read.

    Attributes
    ----------
    place, bath : int
        Which of the baths read it is, and its filling.
    share, least : float
        The pace from then on over that before, and the least that this may be.
    """

    place: int
    bath: int
    share: float
    least: float


def find_falls(fit: TubFit) -> tuple[PaceBreak, ...]:
    """Return sudden falls of the pace after which it never came back, the surest first.

    Parameters
    ----------
    fit : TubFit
        The tub.

    Notes
    -----
    Grease that leaves by any mixture of exponentials, as from pools or by diffusion, does so at a
    completely monotone rate, and such a rate is log-convex: it never falls below the line that
    carries on its own logarithm. Baths far below that line did not run out of grease; the water
    grew cold, or the bone left it.

    References
    ----------
    W. Feller, An Introduction to Probability Theory and Its Applications II, 2nd ed. (1971),
    XIII.4 (Bernstein's theorem; from memory).
    """
    rises = _rises(fit)
    rises = rises.of(~rises.above)
    fallen = [one for one in _steps(rises) if one.most_of_due < FALLEN and not _is_back(rises, one)]
    surest = sorted(fallen, key=lambda one: one.most_of_due)
    return tuple(_break(fit, one.bath, one.of_due) for one in surest)


def find_rises(fit: TubFit) -> tuple[PaceBreak, ...]:
    """Return sudden rises of the pace, oldest first: another bone put in, or marrow that opened.

    Parameters
    ----------
    fit : TubFit
        The tub.

    Notes
    -----
    As for `find_falls`: a completely monotone rate never rises, so that the pace lies at most as
    high as its mean over the baths before. A bath in which it begins to rise counts as risen, and
    so does water too murky to read: both can only make the rise smaller than it was. The reading
    that rose most is left out, so that none makes a rise alone.
    """
    runs: list[list[_Rise]] = []
    for one in _risings(_rises(fit)):
        if one.least <= RISEN:
            continue
        if runs and one.place <= runs[-1][-1].place + 1:
            runs[-1].append(one)
        else:
            runs.append([one])
    surest = [max(run, key=lambda one: one.least) for run in runs]
    return tuple(_break(fit, one.bath, one.share) for one in surest)


def _break(fit: TubFit, bath: int, share: float) -> PaceBreak:
    calendar = fit.timeline.calendar
    filled = calendar.event_days[calendar.changed][bath]
    return PaceBreak(since=calendar.at(float(filled)), share=share)


def _risings(rises: _Rises) -> Iterator[_Rise]:
    """Yield how the pace rose with each bath."""
    baths = np.unique(rises.bath)
    for place in range(LEAST_BEFORE, len(baths)):
        before = np.isin(rises.bath, baths[max(place - BATHS_BEFORE, 0) : place])
        after = np.isin(rises.bath, baths[place : place + BATHS_AFTER])
        risen = _without_highest(rises.of(after))
        paces = _like_paces(rises.of(before & ~rises.above), risen)
        if paces is None:
            continue
        past, now = paces
        level = _level(past[-BATHS_LEVEL:])
        yield _Rise(
            place=place,
            bath=int(baths[place]),
            share=now.value / level.value,
            least=(now.value - SURE_STD * now.std) / (level.value + SURE_STD * level.std),
        )


def _without_highest(rises: _Rises) -> _Rises:
    """Return readings without that of the highest pace: foam, or a wrong jar."""
    highest = np.argmax(rises.rise_per_m / rises.age_days)
    return rises.of(np.arange(len(rises.days)) != highest)


def _level(paces: list[_Pace]) -> _Pace:
    """Return the weighted mean of paces, its error no less than they scatter; never below 0."""
    values, weights = (
        np.array([one.value for one in paces]),
        np.array([one.std**-2 for one in paces]),
    )
    std = max(weights.sum() ** -0.5, float(np.std(values, ddof=1)) / len(values) ** 0.5)
    value = float(np.average(values, weights=weights))
    return _Pace(days=paces[-1].days, value=max(value, std), std=float(std))


def _rises(fit: TubFit) -> _Rises:
    """Return the readings as rises; those of baths in which skulls came or left are out."""
    timeline, draws = fit.timeline, fit.fits[0].peak.draws
    seen, expected = timeline.observations, expected_of(timeline, draws)
    moments = seen.moments
    speed = pace(timeline.calendar, draws)[:, 0]
    speed = speed / speed[timeline.usual]
    spent = moments.exposure_days.sum(axis=1)
    quick = (moments.exposure_days @ speed) / np.maximum(spent, LEAST_AGE_DAYS / 100)
    soaked = np.cumsum(timeline.gaps_days @ speed)[moments.event] + moments.exposure_days @ speed
    rises = _Rises(
        bath=moments.bath,
        days=soaked,
        age_days=moments.bath_age_days * quick,
        rise_per_m=seen.haze_per_m - expected.fresh - expected.bloom,
        std_per_m=np.hypot(seen.std_per_m, usual_noise().scatter * seen.haze_per_m),
        fresh_std_per_m=usual_noise().fresh * expected.fresh,
        above=seen.above,
    )
    old_enough = ~seen.below & (rises.age_days > LEAST_AGE_DAYS)
    return rises.of(old_enough & ~np.isin(moments.bath, _mixed_baths(fit)))


def _mixed_baths(fit: TubFit) -> NDArray[np.intp]:
    """Return the baths in which a skull came or left, but for the first."""
    calendar = fit.timeline.calendar
    moved = (calendar.enters | calendar.leaves).any(axis=1) & (np.arange(len(calendar.changed)) > 0)
    baths: NDArray[np.intp] = (np.cumsum(calendar.changed) - 1)[moved]
    return baths[baths > 0]


def _steps(rises: _Rises) -> Iterator[_Step]:
    """Yield how the pace fell about each bath, which is left out: it may hold the change."""
    baths = np.unique(rises.bath)
    for place in range(LEAST_BEFORE, len(baths) - 1):
        before = np.isin(rises.bath, baths[max(place - BATHS_BEFORE, 0) : place])
        after = np.isin(rises.bath, baths[place + 1 : place + 1 + BATHS_AFTER])
        paces = _like_paces(rises.of(before), rises.of(after))
        if paces is not None:
            yield _step(int(baths[place]), *paces)


def _like_paces(before: _Rises, after: _Rises) -> tuple[list[_Pace], _Pace] | None:
    """Return the paces of some baths and the mean one of later baths, over baths of like age."""
    top = LIKE_AGE * min(before.age_days.max(initial=0.0), after.age_days.max(initial=0.0))
    before, after = before.of(before.age_days <= top), after.of(after.age_days <= top)
    baths = np.unique(before.bath)
    if len(baths) < LEAST_BEFORE or len(after.days) < LEAST_AFTER:
        return None
    paces = [_mean_pace(before.of(before.bath == bath)) for bath in baths]
    now = _mean_pace(after)
    return None if now.days - paces[-1].days > LONGEST_GAP_DAYS else (paces, now)


def _step(bath: int, paces: list[_Pace], now: _Pace) -> _Step:
    sure = [one for one in paces if one.value > SURE_STD * one.std]
    due, log_std = _carried_on(sure, now.days) if len(sure) >= LEAST_BEFORE else (0.0, 0.0)
    share = max(now.value, 0.0) / (due or paces[-1].value)
    doubt = float(np.hypot(share * log_std, now.std / due)) if due else np.inf
    return _Step(
        bath=bath,
        before=paces[-1],
        of_due=share,
        most_of_due=share + SURE_STD * doubt,
    )


def _mean_pace(rises: _Rises) -> _Pace:
    """Return the slope through the origin of the rises over the ages of their baths."""
    weights = rises.age_days / rises.std_per_m**2
    total = float(weights @ rises.age_days)
    value = float(weights @ rises.rise_per_m) / total
    of_bath = np.hypot(weights @ rises.fresh_std_per_m / total, usual_noise().pace * value)
    baths = len(np.unique(rises.bath))
    return _Pace(
        days=float(rises.days.mean()),
        value=value,
        std=float(np.hypot(total**-0.5, of_bath / baths**0.5)),
    )


def _carried_on(paces: list[_Pace], days: float) -> tuple[float, float]:
    """Return the pace carried on to a day [1/m a day], and the standard error of its logarithm.

    A straight line through the logarithms that does not rise: a pace that seems to is level.
    """
    values = np.log([one.value for one in paces])
    weights = np.array([one.value / one.std for one in paces])
    times = np.array([one.days for one in paces]) - days
    line, covariance = np.polyfit(times, values, 1, w=weights, cov="unscaled")
    value, std = line[1], covariance[1, 1] ** 0.5
    if line[0] >= 0:
        value, std = np.average(values, weights=weights**2), (weights**2).sum() ** -0.5
    missed = weights * (values - np.polyval(line, times))
    scatter = max((missed @ missed / (len(paces) - 2)) ** 0.5, 1.0)
    return float(np.exp(value)), float(std * scatter)


def _is_back(rises: _Rises, step: _Step) -> bool:
    """Return whether a later bath leached about as before again."""
    later = np.unique(rises.bath[rises.bath > step.bath])
    paces = (_mean_pace(rises.of(rises.bath == bath)) for bath in later)
    return any(one.value - one.std > BACK * step.before.value for one in paces)
