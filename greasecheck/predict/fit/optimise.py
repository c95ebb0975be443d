"""The optimiser of the fits: Levenberg-Marquardt from MINPACK over functions of many columns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import least_squares

if TYPE_CHECKING:
    from collections.abc import Callable

    from greasecheck.model import FloatArray

DIFFERENCE_STEP = float(np.finfo(float).eps ** (1 / 3))


@dataclass(frozen=True, slots=True, kw_only=True)
class Minimum:
    """Where the sum of squares is least.

    Attributes
    ----------
    x : ndarray, shape (p,)
        The minimum.
    residuals : ndarray, shape (m,)
        Residuals there.
    jacobian : ndarray, shape (m, p)
        Their derivatives there.
    converged : bool
        False when the optimiser gave up.
    """

    x: FloatArray
    residuals: FloatArray
    jacobian: FloatArray
    converged: bool


def minimise_squares(
    residuals: Callable[[FloatArray], FloatArray],
    start: FloatArray,
    *,
    typical: float = 1.0,
    tolerance: float = 1e-6,
    most_steps: int = 100,
) -> Minimum:
    """Minimise a sum of squares.

    Parameters
    ----------
    residuals : callable
        Takes points as columns, shape (p, points), and returns residuals, shape (m, points).
    start : ndarray, shape (p,)
        Where to begin.
    typical : float
        Size of a coordinate near zero, for the difference step and the scale.
    tolerance : float
        Relative tolerance of the sum of squares and of the point.
    most_steps : int
        Evaluations allowed.

    Notes
    -----
    Derivatives are central differences, all columns in one call.

    References
    ----------
    J. J. More, The Levenberg-Marquardt algorithm, Lecture Notes in Mathematics 630, 1978.

    Examples
    --------
    >>> minimise_squares(lambda x: x - np.array([[3.0]]), np.array([0.0])).x.round(6).tolist()
    [3.0]
    """

    def one(x: FloatArray) -> FloatArray:
        return residuals(x[:, None])[:, 0]

    def slopes(x: FloatArray) -> FloatArray:
        return central_differences(residuals, x, typical)

    found = least_squares(
        one,
        start,
        jac=slopes,
        method="lm",
        x_scale=np.maximum(np.abs(start), typical),
        ftol=tolerance,
        xtol=tolerance,
        gtol=tolerance,
        max_nfev=most_steps,
    )
    return Minimum(x=found.x, residuals=found.fun, jacobian=found.jac, converged=found.status > 0)


def central_differences(
    function: Callable[[FloatArray], FloatArray], x: FloatArray, typical: float
) -> FloatArray:
    """Return the Jacobian, shape (m, p), of a function of columns at `x`."""
    steps = DIFFERENCE_STEP * np.maximum(np.abs(x), typical)
    moves = np.diag(steps)
    values = function(np.hstack([x[:, None] + moves, x[:, None] - moves]))
    slopes: FloatArray = (values[:, : len(x)] - values[:, len(x) :]) / (2 * steps)
    return slopes
