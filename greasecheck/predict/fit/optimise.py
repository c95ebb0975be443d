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
    Derivatives are central differences. A call costs about the same for one column as for all, so
    that a point and its neighbours are asked for together.

    References
    ----------
    J. J. More, The Levenberg-Marquardt algorithm, Lecture Notes in Mathematics 630, 1978.

    Examples
    --------
    >>> minimise_squares(lambda x: x - np.array([[3.0]]), np.array([0.0])).x.round(6).tolist()
    [3.0]
    """
    local = _Local(residuals, typical)
    found = least_squares(
        local.values,
        start,
        jac=local.slopes,
        method="lm",
        x_scale=np.maximum(np.abs(start), typical),
        ftol=tolerance,
        xtol=tolerance,
        gtol=tolerance,
        max_nfev=most_steps,
    )
    return Minimum(x=found.x, residuals=found.fun, jacobian=found.jac, converged=found.status > 0)


class _Local:
    """Values and central differences of a function of columns at the point asked for last."""

    def __init__(self, function: Callable[[FloatArray], FloatArray], typical: float) -> None:
        self._function, self._typical = function, typical
        self._x = np.empty(0)
        self._steps = self._all = self._x

    def values(self, x: FloatArray) -> FloatArray:
        """Return the function at `x`, shape (m,)."""
        self._look(x)
        found: FloatArray = self._all[:, -1]
        return found

    def slopes(self, x: FloatArray) -> FloatArray:
        """Return the Jacobian at `x`, shape (m, p)."""
        self._look(x)
        size = len(x)
        slopes: FloatArray = (self._all[:, :size] - self._all[:, size:-1]) / (2 * self._steps)
        return slopes

    def _look(self, x: FloatArray) -> None:
        if np.array_equal(x, self._x):
            return
        self._x = x.copy()
        self._steps = DIFFERENCE_STEP * np.maximum(np.abs(x), self._typical)
        moves, here = np.diag(self._steps), x[:, None]
        self._all = self._function(np.hstack([here + moves, here - moves, here]))
