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
        scene: FloatArray = np.diff(self.table, append=self.table[-1]).take(cell)
        scene *= position - cell
        scene += self.table.take(cell)
        return scene


def identity_tone() -> ToneCurve:
    """Return the curve that changes nothing."""
    return ToneCurve(table=_table_values())


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
    slopes = np.clip(np.diff(heights) / np.diff(knots), *SLOPE_RANGE)
    monotone = knots[-1] + np.concatenate([[0], np.cumsum(slopes * np.diff(knots))])
    return ToneCurve(table=_tabulate(knots, monotone - (monotone[-1] - knots[-1]), slopes[-1]))


def _penalised_heights(
    value: FloatArray, target: FloatArray, knots: FloatArray, relative_std: FloatArray
) -> FloatArray:
    """Heights of the log-log curve at the knots."""
    data = np.stack([np.interp(value, knots, row) for row in np.eye(KNOTS)], axis=-1)
    prior, wanted_prior = _prior(knots)
    weights = np.ones(len(data))
    for turn in range(ROUNDS):
        certainty = np.sqrt(weights) / relative_std
        design = np.concatenate([data * certainty[:, None], prior])
        wanted = np.concatenate([target * certainty, wanted_prior])
        solution = np.linalg.lstsq(design, wanted, rcond=None)[0]
        residual = (target - data @ solution) / relative_std
        first = turn < ROUNDS // 2
        scale = 1.0 if first else robust_scale(residual, 1.0)
        weights = robust_weights(residual, scale, absolute=first)
    return np.asarray(solution)


def _prior(knots: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Rows that pull the slopes towards 1 and towards each other, and what they should give."""
    slope = np.diff(np.eye(KNOTS), axis=0) / np.diff(knots)[:, None]
    bend = np.diff(slope, axis=0)
    rows = np.concatenate([slope / SLOPE_STD, bend / BEND_STD])
    return rows, np.concatenate([np.full(len(slope), 1 / SLOPE_STD), np.zeros(len(bend))])


def _table_values() -> FloatArray:
    values: FloatArray = np.linspace(0, np.sqrt(TABLE_TOP), TABLE_SIZE) ** 2
    return values


def _tabulate(knots: FloatArray, heights: FloatArray, last_slope: float) -> FloatArray:
    values = _table_values()
    logs = np.log(np.maximum(values, np.exp(knots[0])))
    inside = np.exp(np.interp(logs, knots, heights))
    below = np.minimum(values / np.exp(knots[0]), 1)
    above = np.exp(last_slope * np.maximum(logs - knots[-1], 0))
    table: FloatArray = inside * below * above
    return table
