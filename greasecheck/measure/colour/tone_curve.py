"""The camera's residual tone curve: what its profile's curves leave undone."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.robust import robust_scale, robust_weights

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray

# Without a source, where none is named; the comment beside each value states what it does.
KNOTS = 10  # of the spline in log light; doubled, it follows the noise of single greys
SLOPE_RANGE = (0.4, 2.5)  # the curve is held monotone within these log-log slopes
SLOPE_STD = 0.5  # prior: log-log slopes lie around 1
BEND_STD = 0.4  # prior: change of slope from knot to knot
ROUNDS = 4  # of reweighting patches that stand apart; more change little
TABLE_SIZE = 4097  # of the inverse curve: finer than 12 bits
TABLE_TOP = 1.5  # demosaicing and resampling may overshoot full scale a little
LOG_OF_NOTHING = -1e3  # its exponential is 0
TABLE_LIGHT = np.linspace(0, math.sqrt(TABLE_TOP), TABLE_SIZE) ** 2
TABLE_LOGS = np.append(LOG_OF_NOTHING, np.log(TABLE_LIGHT[1:]))
SLOPES = np.diff(np.eye(KNOTS), axis=0)  # of heights at knots one apart, and how these change
BENDS = np.diff(SLOPES, axis=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneCurve:
    """Monotone curve from profile-linear values to linear scene light, one for all channels.

    Attributes
    ----------
    table : ndarray, shape (k,)
        Scene light at the squares of k evenly spaced values from 0 to sqrt(1.5).
    """

    table: FloatArray

    def __call__(self, linear: FloatArray | NDArray[np.float32]) -> FloatArray:
        """Return the scene light of profile-linear values, same shape; below 0 counts as 0."""
        position = np.sqrt(np.maximum(linear, 0)) * ((TABLE_SIZE - 1) / math.sqrt(TABLE_TOP))
        position = np.minimum(position, TABLE_SIZE - 1.001)
        cell = position.astype(np.intp)
        low, scene = self.table.take(cell), self.table[1:].take(cell)
        scene -= low
        scene *= position - cell
        scene += low
        return np.asarray(scene)


def identity_tone() -> ToneCurve:
    """Return the curve that changes nothing."""
    return ToneCurve(table=TABLE_LIGHT)


def fit_tone(linear: FloatArray, expected: FloatArray, relative_std: FloatArray) -> ToneCurve:
    """Fit the curve that takes the neutrals' values to the light they should send.

    Parameters
    ----------
    linear : ndarray, shape (n,)
        Profile-linear values of neutral patches in the green channel, above 0: of the three it is
        nearest to the luminance that patch values state.
    expected : ndarray, shape (n,)
        Light each should send, in any scale, above 0.
    relative_std : ndarray, shape (n,)
        Relative standard error of `expected`; the larger it is, the closer the curve stays to a
        straight line.

    Returns
    -------
    ToneCurve
        Piecewise a power law, found by robust penalised least squares in log-log; a straight line
        through zero below the darkest value, the last power law above the lightest.

    Examples
    --------
    >>> grey = np.geomspace(0.02, 0.8, 8)
    >>> curve = fit_tone(grey**1.2, grey, relative_std=np.full(8, 0.01))
    >>> ratio = curve(np.array([0.4**1.2])) / curve(np.array([0.1**1.2]))
    >>> bool(abs(ratio[0] - 4) < 0.05)
    True
    """
    value, target = np.log(linear), np.log(expected)
    knots = np.linspace(value.min(), value.max(), KNOTS)
    heights = _penalised_heights(value, target, knots, relative_std)
    steps = np.diff(knots)
    slopes = np.clip(np.diff(heights) / steps, *SLOPE_RANGE)
    monotone = np.concatenate([[0], np.cumsum(slopes * steps)])
    return ToneCurve(table=_tabulate(knots, knots[-1] + monotone - monotone[-1], slopes[-1]))


def _penalised_heights(
    value: FloatArray, target: FloatArray, knots: FloatArray, relative_std: FloatArray
) -> FloatArray:
    """Heights of the log-log curve at the knots, by normal equations."""
    step = knots[1] - knots[0]
    data = np.maximum(1 - np.abs(value[:, np.newaxis] - knots) / step, 0)
    prior, wanted_prior = _prior(step)
    weights = np.ones(len(data))
    for turn in range(ROUNDS):
        weighted = data.T * (weights / relative_std**2)
        solution = np.linalg.solve(prior + weighted @ data, wanted_prior + weighted @ target)
        residual = (target - data @ solution) / relative_std
        first = turn < ROUNDS // 2
        scale = 1.0 if first else robust_scale(residual, 1.0)
        weights = robust_weights(residual, scale, absolute=first)
    return np.asarray(solution)


def _prior(step: float) -> tuple[FloatArray, FloatArray]:
    """Return normal equations that pull slopes between even knots towards 1 and each other."""
    slope = SLOPES / (step * SLOPE_STD)
    bend = BENDS / (step * BEND_STD)
    return slope.T @ slope + bend.T @ bend, slope.sum(axis=0) / SLOPE_STD


def _tabulate(knots: FloatArray, heights: FloatArray, last_slope: float) -> FloatArray:
    """Values of the curve, of slope 1 below the knots, of the last slope above them."""
    bottom, top = TABLE_LOGS[0], max(TABLE_LOGS[-1], knots[-1])
    places = np.concatenate([[bottom], knots, [top]])
    first, last = heights[0] + bottom - knots[0], heights[-1] + last_slope * (top - knots[-1])
    logs = np.interp(TABLE_LOGS, places, np.concatenate([[first], heights, [last]]))
    return np.asarray(np.exp(logs))
