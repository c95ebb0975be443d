"""The optimiser of the fits: Levenberg-Marquardt from MINPACK over functions of many columns."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import leastsq

if TYPE_CHECKING:
    from collections.abc import Callable

    from greasecheck.model import FloatArray

SETTLED = (1, 2, 3, 4)  # what MINPACK returns where a tolerance is met
# Rounding and curvature then err alike; what is left is of the order of the step, or its square.
FORWARD_STEP, CENTRAL_STEP = (float(np.finfo(float).eps ** (1 / n)) for n in (2, 3))


@dataclass(frozen=True, slots=True, kw_only=True)
class Linear:
    """A function of columns about some points.

    Attributes
    ----------
    values : ndarray, shape (m, points)
        The function there.
    slopes : ndarray, shape (points, m, p)
        Its derivatives.
    """

    values: FloatArray
    slopes: FloatArray


def linearise(
    function: Callable[[FloatArray], FloatArray],
    points: FloatArray,
    typical: float = 1.0,
    *,
    central: bool = False,
) -> Linear:
    """Return a function's values and differences about some points, by one call.

    Parameters
    ----------
    function : callable
        Takes points as columns, shape (p, points), and returns values, shape (m, points).
    points : ndarray, shape (p, points)
        Where.
    typical : float
        Size of a coordinate near zero, for the difference step.
    central : bool
        Whether to look to both sides, for derivatives that are more exact.
    """
    size, count = points.shape
    steps = (CENTRAL_STEP if central else FORWARD_STEP) * np.maximum(np.abs(points), typical)
    here, moves = points[:, None], np.eye(size)[:, :, None] * steps
    columns = [here, here + moves, *([here - moves] if central else [])]
    everything = np.concatenate(columns, axis=1).reshape(size, -1)
    found = function(everything).reshape(-1, everything.shape[1] // count, count)
    ahead, behind = found[:, 1 : size + 1], found[:, size + 1 :] if central else found[:, :1]
    slopes = (ahead - behind) / (2 * steps if central else steps)
    return Linear(values=found[:, 0], slopes=slopes.transpose(2, 0, 1))


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
    A call costs about the same for one column as for several, so that a point and its neighbours
    are asked for together. Differences are central where forward ones are less exact than the
    tolerance.

    References
    ----------
    J. J. More, The Levenberg-Marquardt algorithm, Lecture Notes in Mathematics 630, 1978.

    Examples
    --------
    >>> minimise_squares(lambda x: x - np.array([[3.0]]), np.array([0.0])).x.round(6).tolist()
    [3.0]
    """
    local = _Local(residuals, typical, central=tolerance < FORWARD_STEP)
    x, _, told, _, status = leastsq(
        local.values,
        start,
        Dfun=local.slopes,
        full_output=True,
        diag=1 / np.maximum(np.abs(start), typical),
        ftol=tolerance,
        xtol=tolerance,
        gtol=tolerance,
        maxfev=most_steps,
    )
    return Minimum(
        x=x, residuals=told["fvec"], jacobian=local.slopes(x), converged=status in SETTLED
    )


class _Local:
    """Values and derivatives of a function of columns at the point asked for last."""

    def __init__(
        self, function: Callable[[FloatArray], FloatArray], typical: float, *, central: bool
    ) -> None:
        self._linearise = partial(linearise, function, typical=typical, central=central)
        self._x = np.empty(0)
        self._linear = Linear(values=self._x, slopes=self._x)

    def values(self, x: FloatArray) -> FloatArray:
        """Return the function at `x`, shape (m,)."""
        found: FloatArray = self._at(x).values[:, 0]
        return found

    def slopes(self, x: FloatArray) -> FloatArray:
        """Return the Jacobian at `x`, shape (m, p)."""
        found: FloatArray = self._at(x).slopes[0]
        return found

    def _at(self, x: FloatArray) -> Linear:
        if not np.array_equal(x, self._x):
            self._x = x.copy()
            self._linear = self._linearise(x[:, None])
        return self._linear
