"""Whether the pace of leaching broke: a fall or rise quicker than any emptying of pools."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.advice.paces import (
    LEAST_BEFORE,
    Pace,
    Rises,
    carried_on,
    level,
    like_paces,
    mean_pace,
    mixed_baths,
    rises_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from numpy.typing import NDArray

    from greasecheck.predict.fit.tub_fit import TubFit

# Without a source; the comment beside each value states what it does.
BATHS_BEFORE = 5  # that the pace is carried on from; with twice as many it lags
BATHS_AFTER = 3  # that are held against it
FALLEN = 0.6  # surely below; a bath 20 degrees C colder slows to a third
RISEN = 1.25  # surely above; a bath 4 degrees C warmer does not reach it
BATHS_LEVEL = 3  # whose mean the pace may not rise above
LONGEST_GAP_DAYS = 20.0  # over which a pace is carried on
SURE_STD = 2.0  # standard errors that are put down to noise
BACK = 0.6  # of the pace before: a tub back at it has recovered


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
class _Change:
    """How the pace changed with a bath.

    Attributes
    ----------
    place, bath : int
        Which of the baths read it is, and its filling.
    before, after : Pace
        The pace before and after it.
    share, bound : float
        The pace after it over the one to be expected, and the most (of a fall) or the least (of a
        rise) that this may be.
    """

    place: int
    bath: int
    before: Pace
    after: Pace
    share: float
    bound: float


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
    rises = rises_of(fit)
    rises = rises.of(~rises.above)
    fallen = [one for one in _fallings(rises) if one.bound < FALLEN and not _is_back(rises, one)]
    surest = sorted(fallen, key=lambda one: one.bound)
    return tuple(_break(fit, one.bath, one.share) for one in surest)


def find_rises(fit: TubFit) -> tuple[PaceBreak, ...]:
    """Return sudden rises of the pace, oldest first: another bone put in, or marrow that opened.

    Parameters
    ----------
    fit : TubFit
        The tub.

    Notes
    -----
    As for `find_falls`: a completely monotone rate never rises, so that the pace lies at most as
    high as its mean over the baths before. A pause, as of a heater that was mended, is left out of
    these where the pace then is at least the one that carries on the line of its logarithm, as it
    is of the same grease. A bath in which it begins to rise counts as risen, and so does water too
    murky to read: both can only make the rise smaller than it was. The reading that rose most is
    left out, so that none makes a rise alone. Baths are held only against those with the same
    skulls in them: one that was entered explains its rise.
    """
    rises, moved = rises_of(fit), mixed_baths(fit)
    since = np.searchsorted(moved, rises.bath)
    surest = [one for stay in np.unique(since) for one in _surest_risings(rises.of(since == stay))]
    return tuple(_break(fit, one.bath, one.share) for one in surest)


def _surest_risings(rises: Rises) -> list[_Change]:
    """Return the surest of each run of baths in which the pace rose."""
    runs: list[list[_Change]] = []
    for one in _risings(rises):
        if one.bound <= RISEN:
            continue
        if runs and one.place <= runs[-1][-1].place + 1:
            runs[-1].append(one)
        else:
            runs.append([one])
    return [max(run, key=lambda one: one.bound) for run in runs]


def _break(fit: TubFit, bath: int, share: float) -> PaceBreak:
    calendar = fit.timeline.calendar
    filled = calendar.event_days[calendar.changed][bath]
    return PaceBreak(since=calendar.at(float(filled)), share=share)


def _risings(rises: Rises) -> Iterator[_Change]:
    """Yield how the pace rose with each bath, over that before a pause where it comes after one."""
    baths = np.unique(rises.bath)
    for place in range(LEAST_BEFORE, len(baths)):
        risen = _rise(rises, baths, place, place)
        paused = _pause_began(rises, baths, risen) if risen and risen.bound > RISEN else None
        risen = risen if paused is None else _rise(rises, baths, paused, place)
        if risen is not None:
            yield risen


def _rise(rises: Rises, baths: NDArray[np.intp], until: int, place: int) -> _Change | None:
    """Return how the pace of the baths from a place on rose over that of those until another."""
    past_baths = np.isin(rises.bath, baths[max(until - BATHS_BEFORE, 0) : until])
    risen = rises.of(np.isin(rises.bath, baths[place : place + BATHS_AFTER]))
    paces = like_paces(rises.of(past_baths & ~rises.above), _without_highest(risen))
    if paces is None:
        return None
    past, now = paces
    before = level(past[-BATHS_LEVEL:])
    return _Change(
        place=place,
        bath=int(baths[place]),
        before=before,
        after=now,
        share=now.value / before.value,
        bound=(now.value - SURE_STD * now.std) / (before.value + SURE_STD * before.std),
    )


def _pause_began(rises: Rises, baths: NDArray[np.intp], risen: _Change) -> int | None:
    """Return where a pause began after which a pace came back, in a bath or in the one before."""
    ends = (risen.place, risen.place - 1)
    for end, start in product(ends, range(risen.place - 1, LEAST_BEFORE - 1, -1)):
        paces = _paces_about(rises, baths, start, slice(start, end))
        fall = paces and _fall(start, int(baths[start]), *paces)
        if not (paces and fall and fall.bound < FALLEN):
            continue
        meanwhile = rises.of(rises.bath < baths[end])
        if not _is_back(meanwhile, fall) and _goes_on(paces[0], risen.after):
            return start
    return None


def _goes_on(before: list[Pace], after: Pace) -> bool:
    """Return whether a pace may be the one before that goes on, however long it paused."""
    due, log_std = carried_on(_sure(before), after.days)
    return after.value + SURE_STD * after.std >= due * float(np.exp(-SURE_STD * log_std))


def _without_highest(rises: Rises) -> Rises:
    """Return readings without that of the highest pace: foam, or a wrong jar."""
    highest = np.argmax(rises.rise_per_m / rises.age_days)
    return rises.of(np.arange(len(rises.days)) != highest)


def _fallings(rises: Rises) -> Iterator[_Change]:
    """Yield how the pace fell about each bath, which is left out: it may hold the change."""
    baths = np.unique(rises.bath)
    for place in range(LEAST_BEFORE, len(baths) - 1):
        paces = _paces_about(rises, baths, place, slice(place + 1, place + 1 + BATHS_AFTER))
        if paces is not None:
            yield _fall(place, int(baths[place]), *paces)


def _paces_about(
    rises: Rises, baths: NDArray[np.intp], place: int, after: slice
) -> tuple[list[Pace], Pace] | None:
    """Return the paces of the baths before a place, and the mean one of some after it."""
    before = np.isin(rises.bath, baths[max(place - BATHS_BEFORE, 0) : place])
    return like_paces(rises.of(before & ~rises.above), rises.of(np.isin(rises.bath, baths[after])))


def _fall(place: int, bath: int, paces: list[Pace], now: Pace) -> _Change:
    sure = _sure(paces)
    told = len(sure) >= LEAST_BEFORE and now.days - paces[-1].days <= LONGEST_GAP_DAYS
    due, log_std = carried_on(sure, now.days) if told else (0.0, 0.0)
    share = max(now.value, 0.0) / (due or paces[-1].value)
    doubt = float(np.hypot(share * log_std, now.std / due)) if due else np.inf
    return _Change(
        place=place,
        bath=bath,
        before=paces[-1],
        after=now,
        share=share,
        bound=share + SURE_STD * doubt,
    )


def _sure(paces: list[Pace]) -> list[Pace]:
    return [one for one in paces if one.value > SURE_STD * one.std]


def _is_back(rises: Rises, fall: _Change) -> bool:
    """Return whether a later bath leached about as before again."""
    later = np.unique(rises.bath[rises.bath > fall.bath])
    paces = (mean_pace(rises.of(rises.bath == bath)) for bath in later)
    return any(one.value - one.std > BACK * fall.before.value for one in paces)
