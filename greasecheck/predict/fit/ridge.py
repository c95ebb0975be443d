"""Follows a posterior's ridge along one coordinate, where one proposal would cut its tails."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.fit.optimise import linearise
from greasecheck.predict.fit.sampling import StudentT, student_t_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from greasecheck.model import FloatArray

RUNGS = np.array([-3.0, -1.5, 1.5, 3.0, 5.0, 8.0])  # in standard deviations of the first proposal
SHARES = np.array([1.0, 0.5, 0.2, 0.0])  # of a Gauss-Newton step
STEPS = 2  # of Gauss and Newton at each rung
LOWEST_LOG_RATIO = -7.0  # rungs with less than a thousandth of the peak's density are left out


def ridge_proposals(
    residuals: Callable[[FloatArray], FloatArray], first: StudentT, along: int
) -> tuple[StudentT, ...]:
    """Return proposals on the ridge of exp(-|residuals|^2 / 2), conditional on one coordinate.

    Parameters
    ----------
    residuals : callable
        Takes points as columns, shape (p, points); returns residuals, shape (m, points).
    first : StudentT
        The Laplace approximation at the peak.
    along : int
        The coordinate that is stepped; all others are fitted anew at each rung, all rungs in
        one call.

    Notes
    -----
    The nested Laplace approximation of H. Rue, S. Martino and N. Chopin, J. R. Stat. Soc. B 71,
    319 (2009), section 3, with one outer coordinate.
    """
    covariance = first.root @ first.root.T
    slope = covariance[:, along] / covariance[along, along]
    spread = np.sqrt(covariance[along, along])
    points = first.centre[:, None] + slope[:, None] * RUNGS * spread
    for _ in range(STEPS):
        points = _improve(residuals, points, along)
    local = linearise(residuals, points)
    height = -0.5 * (local.values**2).sum(axis=0)
    top = -0.5 * (residuals(first.centre[:, None]) ** 2).sum()
    kept = np.flatnonzero(height - top > LOWEST_LOG_RATIO)
    return tuple(
        _rung(points[:, index], local.slopes[index], along, float(spread)) for index in kept
    )


def _improve(
    residuals: Callable[[FloatArray], FloatArray], points: FloatArray, along: int
) -> FloatArray:
    """Take the best share of a Gauss-Newton step at each rung, the rung's coordinate held."""
    local = linearise(residuals, points)
    free = np.delete(np.arange(len(points)), along)
    slopes = local.slopes[:, :, free]
    curvature = slopes.transpose(0, 2, 1) @ slopes
    downhill = np.einsum("nmp,mn->np", slopes, local.values)
    step = np.zeros_like(points)
    step[free] = -np.linalg.solve(curvature, downhill[:, :, None])[:, :, 0].T
    step = np.nan_to_num(step)
    trials = points[:, :, None] + step[:, :, None] * SHARES
    loss = (residuals(trials.reshape(len(points), -1)) ** 2).sum(axis=0)
    best = np.argmin(np.nan_to_num(loss, nan=np.inf).reshape(points.shape[1], -1), axis=1)
    chosen: FloatArray = trials[:, np.arange(points.shape[1]), best]
    return chosen


def _rung(centre: FloatArray, jacobian: FloatArray, along: int, spread: float) -> StudentT:
    """Return one rung: free coordinates by curvature, its own by the width of the rungs."""
    precision = jacobian.T @ jacobian
    free = np.delete(np.arange(len(centre)), along)
    inner = np.linalg.inv(precision[np.ix_(free, free)])
    tangent = np.zeros(len(centre))
    tangent[along] = 1.0
    tangent[free] = -inner @ precision[free, along]
    covariance = spread**2 * np.outer(tangent, tangent)
    covariance[np.ix_(free, free)] += inner
    return student_t_of(centre, (covariance + covariance.T) / 2)
