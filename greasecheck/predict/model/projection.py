"""From a tub's present state to the day that a quantity of it falls below a limit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model.longest_soak import LATEST_DAYS
from greasecheck.predict.model.leaching import (
    Modes,
    decay,
    keep_bath_share,
)

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

LEAST_KEPT = 1e-9
LEAST_VALUE = 1e-9
MOST_STEPS = 45
CHANGES_TOLERANCE = 1e-7


@dataclass(frozen=True, slots=True, kw_only=True)
class Routine:
    """How the tub is run from now on, for many draws.

    Attributes
    ----------
    first_days, interval_days : float
        Days until the next change, and between changes after that.
    first_pace, pace : ndarray, shape (draws,)
        Effective days per day until the next change, and after it.
    kept : ndarray, shape (draws,)
        Share of the haze that a change leaves.
    """

    first_days: float
    interval_days: float
    first_pace: FloatArray
    pace: FloatArray
    kept: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Decline:
    """A quantity after m more changes: sum_j size_j exp(-rate_j m).

    Attributes
    ----------
    sizes, rates : ndarray, shape (modes, draws)
        Sizes in the unit of the quantity, and rates per change.
    """

    sizes: FloatArray
    rates: FloatArray

    def value(self, changes: FloatArray) -> FloatArray:
        """Return the quantity after `changes`, shape (draws,), whole or not."""
        total: FloatArray = (self.sizes * np.exp(-self.rates * changes)).sum(axis=0)
        return total


def gain_row(modes: Modes, soak_days: FloatArray) -> FloatArray:
    """Return the row whose product with mode weights is what a fresh soak would gain.

    Parameters
    ----------
    modes : Modes
        Eigenmodes of the network.
    soak_days : ndarray, shape (draws,)
        Length of the soak [days of the reference bath].

    Returns
    -------
    ndarray, shape (modes, draws)
    """
    soaked = np.exp(modes.decay_per_day * soak_days)
    row: FloatArray = modes.bath * (soaked - (modes.bath**2 * soaked).sum(axis=0))
    return row


def grease_row(modes: Modes, pools: slice) -> FloatArray:
    """Return the row whose product with mode weights is the grease in some pools [1/m]."""
    row: FloatArray = np.einsum("cmd,cd->md", modes.vectors[pools], modes.scale[pools])
    return row


def value_of(row: FloatArray, weights: FloatArray) -> FloatArray:
    """Return the quantity of a row; the mode axis of `weights` is its last but one."""
    value: FloatArray = np.einsum("md,...md->...d", row, weights)
    return value


def decline_of(cycle: Cycle, weights: FloatArray, row: FloatArray) -> Decline:
    """Return the decline of a quantity, counted from just after a change.

    Parameters
    ----------
    cycle : Cycle
        A soak and a change of the tub.
    weights : ndarray, shape (modes, draws)
        State just after a change.
    row : ndarray, shape (modes, draws)
        The quantity; what the bath holds must not count in it.
    """
    seen = np.einsum("dcm,md->dc", cycle.vectors, row)
    seen[:, -1] = 0.0
    sizes = np.einsum("dcm,dc->md", cycle.turned, seen) * cycle.parts(weights)
    return Decline(sizes=sizes, rates=cycle.rates)


def weights_after_changes(cycle: Cycle, weights: FloatArray, changes: FloatArray) -> FloatArray:
    """Return the mode weights just after so many more changes.

    Parameters
    ----------
    cycle : Cycle
        A soak and a change of the tub.
    weights : ndarray, shape (modes, draws)
        State just after a change.
    changes : ndarray, shape (times,)
        How many changes later.

    Returns
    -------
    ndarray, shape (times, modes, draws)
        In closed form: the cost does not grow with the number of changes.
    """
    parts = np.exp(-cycle.rates * changes[:, None, None]) * cycle.parts(weights)
    scaled = np.einsum("dcm,tmd->tcd", cycle.turned, parts)
    scaled[:, -1] *= cycle.kept_root
    after: FloatArray = np.einsum("dcm,tcd->tmd", cycle.vectors, scaled)
    return after


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """A soak and a change together, as a sum of exponentials of the number of changes.

    Attributes
    ----------
    vectors : ndarray, shape (draws, components, modes)
        The network's eigenvectors.
    turned : ndarray, shape (draws, components, modes)
        Eigenvectors of the symmetric soak and change.
    rates : ndarray, shape (modes, draws)
        Decay per change.
    kept_root : ndarray, shape (draws,)
        Square root of the share of the haze that a change leaves.
    """

    vectors: FloatArray
    turned: FloatArray
    rates: FloatArray
    kept_root: FloatArray

    def parts(self, weights: FloatArray) -> FloatArray:
        """Split a state just after a change, shape (modes, draws), into the cycle's modes."""
        state = np.einsum("dcm,md->dc", self.vectors, weights)
        state[:, -1] /= self.kept_root
        split: FloatArray = np.einsum("dcm,dc->md", self.turned, state)
        return split


def cycle_of(modes: Modes, routine: Routine) -> Cycle:
    """Return the eigenmodes of a soak and the change that ends it.

    Notes
    -----
    A soak and a change together are M E with E = V exp(L d) V' and M = diag(1, ..., 1, kept).
    M^1/2 E M^1/2 is symmetric, so that the m-th power is again a sum of exponentials.
    """
    kept_root = np.sqrt(np.maximum(routine.kept, LEAST_KEPT))
    factor = np.exp(modes.decay_per_day * routine.interval_days * routine.pace)
    vectors = modes.vectors.transpose(2, 0, 1)
    rooted = vectors.copy()
    rooted[:, -1, :] *= kept_root[:, None]
    values, turned = np.linalg.eigh((rooted * factor.T[:, None, :]) @ rooted.transpose(0, 2, 1))
    return Cycle(
        vectors=vectors,
        turned=turned,
        rates=-np.log(np.clip(values.T, 1e-300, 1.0)),
        kept_root=kept_root,
    )


def changes_until(decline: Decline, limit: FloatArray, most: float) -> FloatArray:
    """Return how many changes, as a real number, until the quantity falls below `limit`.

    Newton steps on its log, kept inside a bracket that always holds the answer.
    """
    low = np.zeros(decline.rates.shape[1])
    high = np.full_like(low, most)
    never = decline.value(high) >= limit
    changes = low
    for _ in range(MOST_STEPS):
        parts = decline.sizes * np.exp(-decline.rates * changes)
        value, slope = parts.sum(axis=0), -(decline.rates * parts).sum(axis=0)
        above = value >= limit
        low, high = np.where(above, changes, low), np.where(above, high, changes)
        with np.errstate(all="ignore"):
            step = changes - np.log(value / limit) * value / slope
        inside = (step >= low) & (step <= high)
        moved, changes = changes, np.where(inside, step, (low + high) / 2)
        if np.all(never | (np.abs(changes - moved) <= CHANGES_TOLERANCE * (1 + changes))):
            break
    return np.where(never, np.inf, changes)


def days_until_below(
    modes: Modes,
    cycle: Cycle,
    weights: FloatArray,
    routine: Routine,
    row: FloatArray,
    limit: FloatArray,
) -> FloatArray:
    """Return the days from now until a quantity is below its limit, shape (draws,).

    Parameters
    ----------
    modes : Modes
        Eigenmodes of the network.
    cycle : Cycle
        Of these modes and this routine.
    weights : ndarray, shape (modes, draws)
        State now.
    routine : Routine
        The tub's routine.
    row : ndarray, shape (modes, draws)
        The quantity; what the bath holds must not count in it. Now it is above its limit.
    limit : ndarray, shape (draws,)
        In the unit of the quantity.
    """
    span = (routine.first_days * routine.first_pace)[None, :]
    at_change = weights * decay(modes, span)[0]
    now, then = value_of(row, weights), value_of(row, at_change)
    share = crossing_share(now, then, limit)
    fresh = keep_bath_share(modes, at_change, routine.kept)
    decline = decline_of(cycle, fresh, row)
    changes = changes_until(decline, limit, LATEST_DAYS / routine.interval_days)
    later = routine.first_days + changes * routine.interval_days
    return np.where(then < limit, share * routine.first_days, later)


def crossing_share(before: FloatArray, after: FloatArray, threshold: FloatArray) -> FloatArray:
    """Return where between two values, 0 to 1, an exponential fall meets `threshold`.

    Parameters
    ----------
    before, after, threshold : ndarray, shape (draws,)
        The quantity at both ends, and what it is to meet.
    """
    fall = np.log(np.maximum(before, LEAST_VALUE) / np.maximum(after, LEAST_VALUE))
    lowest = np.maximum(threshold, np.finfo(float).tiny)
    above = np.log(np.maximum(before, LEAST_VALUE)) - np.log(lowest)
    share: FloatArray = np.clip(above / np.maximum(fall, LEAST_VALUE), 0.0, 1.0)
    return share


def days_since_below(event_days: FloatArray, values: FloatArray, limit: FloatArray) -> FloatArray:
    """Return when, in days from the origin, a quantity last fell below its limit.

    Parameters
    ----------
    event_days : ndarray, shape (times,)
        Times from the origin to now, ascending [days].
    values : ndarray, shape (times, draws)
        The quantity then.
    limit : ndarray, shape (draws,)
        In the same unit.

    Returns
    -------
    ndarray, shape (draws,)
        Infinite for draws not below at the last time; 0 for those never above.

    Examples
    --------
    >>> gains = np.array([[12.0, 12.0, 2.0], [6.0, 6.0, 1.0], [1.5, 5.0, 1.0]])
    >>> days_since_below(np.array([0.0, 10.0, 20.0]), gains, np.full(3, 3.0)).tolist()
    [15.0, inf, 0.0]
    """
    above = values >= limit
    newest, columns = len(values) - 1, np.arange(values.shape[1])
    last = np.where(above.any(axis=0), newest - np.argmax(above[::-1], axis=0), -1)
    start = np.clip(last, 0, max(newest - 1, 0))
    stop = np.minimum(start + 1, newest)
    share = crossing_share(values[start, columns], values[stop, columns], limit)
    days = event_days[start] + share * (event_days[stop] - event_days[start])
    return np.where(last < 0, 0.0, np.where(last == newest, np.inf, days))
