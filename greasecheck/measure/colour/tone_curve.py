"""The camera's residual tone curve: what its profile's curves leave undone."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.robust import robust_scales, robust_weights

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import BoolArray, FloatArray

# Without a source, where none is named; the comment beside each value states what it does.
KNOTS = 10  # of the spline in log light; doubled, it follows the noise of single greys
SLOPE_RANGE = (0.4, 2.5)  # the curve is held monotone within these log-log slopes
SLOPE_STD = 0.5  # prior: log-log slopes lie around 1
BEND_STD = 0.4  # prior: change of slope from knot to knot
LEAST_STEP = 1e-3  # between knots, in logs: a spoilt photo may show all greys alike
ROUNDS = 4  # of reweighting patches that stand apart; more change little
TABLE_SIZE = 4097  # of the inverse curve: finer than 12 bits
TABLE_TOP = 1.5  # demosaicing and resampling may overshoot full scale a little
LOG_OF_NOTHING = -1e3  # its exponential is 0
TABLE_LIGHT = np.linspace(0, math.sqrt(TABLE_TOP), TABLE_SIZE) ** 2
TABLE_LOGS = np.append(LOG_OF_NOTHING, np.log(TABLE_LIGHT[1:]))
SLOPES = np.diff(np.eye(KNOTS), axis=0)  # of heights at knots one apart, and how these change
BENDS = np.diff(SLOPES, axis=0)
SLOPE_GRAM, BEND_GRAM = SLOPES.T @ SLOPES, BENDS.T @ BENDS


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
    every = np.ones((1, len(linear)), dtype=bool)
    return fit_tones(linear[np.newaxis], expected, relative_std, every)[0]


def fit_tones(
    linear: FloatArray, expected: FloatArray, relative_std: FloatArray, used: BoolArray
) -> list[ToneCurve]:
    """Fit a curve to each of several choices of the neutrals, as `fit_tone` does to all.

    Parameters
    ----------
    linear : ndarray, shape (k, n)
        Profile-linear values for each choice, above 0.
    expected, relative_std : ndarray, shape (n,)
        As for `fit_tone`.
    used : ndarray, shape (k, n), bool
        Which neutrals each choice is of.
    """
    value, target = np.log(linear), np.log(expected)
    bottom = np.where(used, value, np.inf).min(axis=1, keepdims=True)
    top = np.where(used, value, -np.inf).max(axis=1, keepdims=True)
    step = np.maximum((top - bottom) / (KNOTS - 1), LEAST_STEP)
    heights = _penalised_heights((value - bottom) / step, target, step, relative_std, used)
    slopes = np.clip(np.diff(heights) / step, *SLOPE_RANGE)
    climbed = np.cumsum(slopes * step, axis=1)
    lowest = top - climbed[:, -1:]
    monotone = np.hstack([lowest, lowest + climbed])
    knots = bottom + step * np.arange(KNOTS)
    return [
        ToneCurve(table=_tabulate(*one)) for one in zip(knots, monotone, slopes[:, -1], strict=True)
    ]


def _penalised_heights(
    place: FloatArray,
    target: FloatArray,
    step: FloatArray,
    relative_std: FloatArray,
    used: BoolArray,
) -> FloatArray:
    """Heights of the log-log curves at the knots, shape (k, KNOTS), by normal equations.

    Values are given as places among the knots, shape (k, n), whose `step` has the shape (k, 1).
    """
    data = np.maximum(1 - np.abs(place[..., np.newaxis] - np.arange(KNOTS)), 0)
    sure = data.swapaxes(1, 2) * (used / relative_std**2)[:, np.newaxis]
    prior, wanted_prior = _prior(step)
    weights = np.ones(place.shape)
    for turn in range(ROUNDS):
        weighted = sure * weights[:, np.newaxis]
        wanted = (wanted_prior + weighted @ target)[..., np.newaxis]
        heights = np.linalg.solve(prior + weighted @ data, wanted)
        residual = (target - (data @ heights)[..., 0]) / relative_std
        first = turn < ROUNDS // 2
        scale = 1.0 if first else robust_scales(residual, used, 1.0)
        weights = robust_weights(residual, scale, absolute=first)
    return np.asarray(heights[..., 0])


def _prior(step: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return normal equations that pull slopes between even knots towards 1 and each other."""
    slope, bend = (step[..., np.newaxis] * std for std in (SLOPE_STD, BEND_STD))
    return SLOPE_GRAM / slope**2 + BEND_GRAM / bend**2, SLOPES.sum(axis=0) / (step * SLOPE_STD**2)


def _tabulate(knots: FloatArray, heights: FloatArray, last_slope: float) -> FloatArray:
    """Values of the curve, of slope 1 below the knots, of the last slope above them."""
    bottom, top = TABLE_LOGS[0], max(TABLE_LOGS[-1], knots[-1])
    places = np.concatenate([[bottom], knots, [top]])
    first, last = heights[0] + bottom - knots[0], heights[-1] + last_slope * (top - knots[-1])
    logs = np.interp(TABLE_LOGS, places, np.concatenate([[first], heights, [last]]))
    return np.asarray(np.exp(logs))
