"""From a tub's present state to the day that a fresh soak gains too little to matter."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.model.leaching import (
    Modes,
    decay,
    fresh_soak_gain,
    keep_bath_share,
)
from greasecheck.predict.records import LATEST_DAYS

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

LEAST_KEPT = 1e-9
LEAST_GAIN = 1e-9
HALVINGS = 45


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
    """What a fresh soak would gain after m more changes: sum_j size_j exp(-rate_j m).

    Attributes
    ----------
    sizes_per_m, rates : ndarray, shape (modes, draws)
        Sizes [1/m] and rates per change.
    """

    sizes_per_m: FloatArray
    rates: FloatArray

    def gain(self, changes: FloatArray) -> FloatArray:
        """Return the gain after `changes`, shape (draws,), whole or not [1/m]."""
        total: FloatArray = (self.sizes_per_m * np.exp(-self.rates * changes)).sum(axis=0)
        return total


def decline_of(
    modes: Modes, weights: FloatArray, routine: Routine, soak_days: FloatArray
) -> Decline:
    """Return the decline of a fresh soak's gain, counted from just after a change.

    Parameters
    ----------
    modes : Modes
        Eigenmodes of the network.
    weights : ndarray, shape (modes, draws)
        State just after a change.
    routine : Routine
        The tub's routine.
    soak_days : ndarray, shape (draws,)
        Effective days of the standard soak.
    """
    cycle = _cycle(modes, routine)
    fresh = np.exp(modes.decay_per_day * soak_days) * modes.bath
    gained = np.einsum("dcm,md->dc", cycle.vectors, fresh)
    gained[:, -1] = 0.0
    sizes = np.einsum("dcm,dc->md", cycle.turned, gained) * cycle.parts(weights)
    return Decline(sizes_per_m=sizes, rates=cycle.rates)


def weights_after_changes(
    modes: Modes, weights: FloatArray, routine: Routine, changes: FloatArray
) -> FloatArray:
    """Return the mode weights just after so many more changes.

    Parameters
    ----------
    modes : Modes
        Eigenmodes of the network.
    weights : ndarray, shape (modes, draws)
        State just after a change.
    routine : Routine
        The tub's routine.
    changes : ndarray, shape (times,)
        How many changes later.

    Returns
    -------
    ndarray, shape (times, modes, draws)
        In closed form: the cost does not grow with the number of changes.
    """
    cycle = _cycle(modes, routine)
    parts = np.exp(-cycle.rates * changes[:, None, None]) * cycle.parts(weights)
    scaled = np.einsum("dcm,tmd->tcd", cycle.turned, parts)
    scaled[:, -1] *= cycle.kept_root
    after: FloatArray = np.einsum("dcm,tcd->tmd", cycle.vectors, scaled)
    return after


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cycle:
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


def _cycle(modes: Modes, routine: Routine) -> _Cycle:
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
    return _Cycle(
        vectors=vectors,
        turned=turned,
        rates=-np.log(np.clip(values.T, 1e-300, 1.0)),
        kept_root=kept_root,
    )


def changes_until(decline: Decline, gain_per_m: float, most: float) -> FloatArray:
    """Return how many changes, as a real number, until the gain falls below `gain_per_m`."""
    low = np.zeros(decline.rates.shape[1])
    high = np.full_like(low, most)
    never = decline.gain(high) >= gain_per_m
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        above = decline.gain(middle) >= gain_per_m
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return np.where(never, np.inf, high)


def days_until_clear(
    modes: Modes,
    weights: FloatArray,
    routine: Routine,
    soak_days: FloatArray,
    gain_per_m: float,
) -> FloatArray:
    """Return the days from now until clear, for draws that are not clear yet, shape (draws,).

    Parameters
    ----------
    modes, routine, soak_days
        As for `decline_of`.
    weights : ndarray, shape (modes, draws)
        State now.
    gain_per_m : float
        Threshold of the standard soak's gain [1/m].
    """
    span = (routine.first_days * routine.first_pace)[None, :]
    at_change = weights * decay(modes, span)[0]
    now_gain = fresh_soak_gain(modes, weights, soak_days)
    then_gain = fresh_soak_gain(modes, at_change, soak_days)
    share = crossing_share(now_gain, then_gain, gain_per_m)
    decline = decline_of(modes, keep_bath_share(modes, at_change, routine.kept), routine, soak_days)
    changes = changes_until(decline, gain_per_m, LATEST_DAYS / routine.interval_days)
    later = routine.first_days + changes * routine.interval_days
    return np.where(then_gain < gain_per_m, share * routine.first_days, later)


def crossing_share(before: FloatArray, after: FloatArray, threshold: float) -> FloatArray:
    """Return where between two gains, 0 to 1, an exponential fall meets `threshold`."""
    fall = np.log(np.maximum(before, LEAST_GAIN) / np.maximum(after, LEAST_GAIN))
    above = np.log(np.maximum(before, LEAST_GAIN) / threshold)
    share: FloatArray = np.clip(above / np.maximum(fall, LEAST_GAIN), 0.0, 1.0)
    return share


def days_since_clear(
    event_days: FloatArray, gains_per_m: FloatArray, gain_per_m: float
) -> FloatArray:
    """Return when, in days from the origin, the gain last fell below the threshold.

    Parameters
    ----------
    event_days : ndarray, shape (times,)
        Times from the origin to now, ascending [days].
    gains_per_m : ndarray, shape (times, draws)
        What a fresh soak would have gained then [1/m].
    gain_per_m : float
        Threshold [1/m].

    Returns
    -------
    ndarray, shape (draws,)
        Infinite for draws not clear at the last time; 0 for those never above the threshold.

    Examples
    --------
    >>> gains = np.array([[12.0, 12.0, 2.0], [6.0, 6.0, 1.0], [1.5, 5.0, 1.0]])
    >>> days_since_clear(np.array([0.0, 10.0, 20.0]), gains, 3.0).tolist()
    [15.0, inf, 0.0]
    """
    above = gains_per_m >= gain_per_m
    times, draws = above.shape
    last = np.where(above.any(axis=0), times - 1 - np.argmax(above[::-1], axis=0), -1)
    start = np.clip(last, 0, times - 2) if times > 1 else np.zeros(draws, dtype=int)
    column, stop = np.arange(draws), np.minimum(start + 1, times - 1)
    share = crossing_share(gains_per_m[start, column], gains_per_m[stop, column], gain_per_m)
    days = event_days[start] + share * (event_days[stop] - event_days[start])
    return np.where(last < 0, 0.0, np.where(last == times - 1, np.inf, days))
