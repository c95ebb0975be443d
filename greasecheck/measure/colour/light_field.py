"""The light across the sheet, from bare paper and from patches printed twice."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.robust import robust_scale, robust_weights

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import BoolArray, FloatArray

# Without a source, where none is named; the comment beside each value states what it does.
CURVATURE_STD = 0.3  # prior of the second-order terms, in log light per half sheet squared
PAPER_TRUST = 10.0  # weight of a paper window against a patch
STIFF_STD = 0.005  # of the same, while the samples in a shadow are still to be found
HUE_SLOPE_STD = 0.1  # prior of the colour's slope, in log light per half sheet
NOISE_FLOOR = 0.004  # paper windows repeat no better than this, in log light
LEAST_PENALTY = 1e-9  # only keeps the equations solvable
ROUNDS = 8  # of reweighting samples that stand apart; more change little


@dataclass(frozen=True, slots=True, kw_only=True)
class LightField:
    """Relative light over the sheet's plane: a quadratic of log light, with a slope of colour.

    Attributes
    ----------
    centre_mm : ndarray, shape (2,)
        Centre of the sheet, where the light is 1 [mm].
    half_mm : ndarray, shape (2,)
        Half the sheet's width and height [mm].
    level : ndarray, shape (5,)
        Terms x, y, x2, xy, y2 of log light common to the channels, in half sheets.
    hue : ndarray, shape (2, 3)
        Terms x, y of log light for each channel beside `level`.
    """

    centre_mm: FloatArray
    half_mm: FloatArray
    level: FloatArray
    hue: FloatArray

    def __call__(self, points_mm: FloatArray) -> FloatArray:
        """Return the relative light, shape (n, 3), at points, shape (n, 2) [mm].

        Outside the sheet the quadratic goes on as its tangent at the sheet's edge.
        """
        position = (points_mm - self.centre_mm) / self.half_mm
        edge = position.clip(-1, 1)
        (x, y), (right, down) = edge.T, (position - edge).T
        a, b, c, d, e = self.level
        level = x * (a + c * x + d * y) + y * (b + e * y)
        level += right * (a + 2 * c * x + d * y) + down * (b + d * x + 2 * e * y)
        return np.asarray(np.exp(level[:, None] + position @ self.hue))


@dataclass(frozen=True, slots=True, kw_only=True)
class LightSamples:
    """Where the light is compared: groups of like colour.

    Attributes
    ----------
    points_mm : ndarray, shape (n, 2)
        Where each sample lies [mm].
    scene : ndarray, shape (n, 3)
        Its linear light, above 0.
    group : ndarray, shape (n,), int
        Samples of one number have one colour; each group has at least two samples.
    paper : ndarray, shape (n,), bool
        Windows of bare paper, which lie all over the sheet and so show a shadow best.
    """

    points_mm: FloatArray
    scene: FloatArray
    group: NDArray[np.int64]
    paper: BoolArray


def fit_light(samples: LightSamples, width_mm: float, height_mm: float) -> LightField:
    """Fit the light over a sheet of the given size [mm], whatever hides a few of the samples.

    Parameters
    ----------
    samples : LightSamples
        Paper windows and patches printed twice.
    width_mm, height_mm : float
        Size of the sheet [mm].

    Returns
    -------
    LightField
        Found by robust least squares with a free level per group: first nearly a plane, which no
        shadow can bend, then with curvature, without the samples that lie far off.
    """
    half = np.array([width_mm, height_mm]) / 2
    position = (samples.points_mm - half) / half
    numbers = np.flatnonzero(np.bincount(samples.group))
    groups = (samples.group[:, None] == numbers).astype(np.float64)
    design = np.column_stack([_terms(position), groups])
    logs = np.log(samples.scene)
    mean = logs.mean(axis=1)
    trust = np.where(samples.paper, PAPER_TRUST, 1.0)
    weights = trust
    for turn in range(ROUNDS):
        first = turn < ROUNDS // 2
        level_std = np.repeat([np.inf, STIFF_STD if first else CURVATURE_STD], [2, 3])
        level, residual = _solve(design, mean, weights, level_std)
        scale = NOISE_FLOOR if first else robust_scale(residual[samples.paper], NOISE_FLOOR)
        weights = trust * robust_weights(residual, scale, absolute=first)
    slope_design, slope_std = np.column_stack([position, groups]), np.full(2, HUE_SLOPE_STD)
    hue, _ = _solve(slope_design, logs - mean[:, None], weights, slope_std)
    return LightField(centre_mm=half, half_mm=half, level=level, hue=hue)


def _terms(position: FloatArray) -> FloatArray:
    x, y = position[:, 0], position[:, 1]
    return np.column_stack([x, y, x * x, x * y, y * y])


def _solve(
    design: FloatArray, logs: FloatArray, weights: FloatArray, std: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Weighted ridge fit: the coefficients that have a prior (`std`), and the residuals.

    The other columns of `design`, a level per group, are free.
    """
    weighted = design.T * weights
    penalty = np.full(len(weighted), LEAST_PENALTY)
    penalty[: len(std)] = (NOISE_FLOOR / std) ** 2
    solution = np.linalg.solve(weighted @ design + np.diag(penalty), weighted @ logs)
    return np.asarray(solution[: len(std)]), np.asarray(logs - design @ solution)
