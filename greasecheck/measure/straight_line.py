"""A straight line through points with errors on both axes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

MOST_TURNS, CLOSE = 100, 1e-13  # of the slope, relative


@dataclass(frozen=True, slots=True, kw_only=True)
class StraightLine:
    """A fitted line: its slope with the standard error, its intercept, and its misfit.

    `misfit` is the weighted sum of squares over the degrees of freedom: about 1 when the points
    scatter as their errors state.
    """

    slope: float
    slope_std: float
    intercept: float
    misfit: float


def fit_line(
    x: FloatArray, y: FloatArray, x_std: FloatArray, y_std: FloatArray, *, through_zero: bool
) -> StraightLine:
    """Fit the most likely line, the errors of x and y being independent and normal.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        The points.
    x_std, y_std : ndarray, shape (n,)
        Their standard errors, above 0.
    through_zero : bool
        Whether the line goes through the origin.

    References
    ----------
    York, D., Evensen, N. M., Lopez Martinez, M. & De Basabe Delgado, J. (2004), American Journal
    of Physics 72(3), 367-375, doi:10.1119/1.1632486, equations 13a to 13f; after York, D. (1966),
    Canadian Journal of Physics 44, 1079-1086, doi:10.1139/p66-090.

    Examples
    --------
    >>> at, error = np.array([1.0, 2.0, 3.0]), np.full(3, 0.1)
    >>> round(fit_line(at, 2 * at, error, error, through_zero=True).slope, 9)
    2.0
    """
    slope = float(x @ y / (x @ x)) if through_zero else float(np.polyfit(x, y, 1)[0])
    for _ in range(MOST_TURNS):
        before = slope
        weight = 1 / (y_std**2 + slope**2 * x_std**2)
        centre = np.zeros(2) if through_zero else np.average([x, y], axis=1, weights=weight)
        u, v = x - centre[0], y - centre[1]
        beta = weight * (u * y_std**2 + slope * v * x_std**2)
        slope = float((weight * beta) @ v / ((weight * beta) @ u))
        if abs(slope - before) <= CLOSE * abs(slope):
            break
    adjusted = beta if through_zero else beta - np.average(beta, weights=weight)
    freedom = len(x) - (1 if through_zero else 2)
    return StraightLine(
        slope=slope,
        slope_std=float(weight @ adjusted**2) ** -0.5,
        intercept=float(centre[1] - slope * centre[0]),
        misfit=float(weight @ (v - slope * u) ** 2) / freedom,
    )
