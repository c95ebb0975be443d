"""The optimiser of the fits: Levenberg-Marquardt over functions of many columns, in lockstep."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Sequence

    from greasecheck.model import FloatArray

# Of More's trust region: its first radius, in lengths of the start; how near to it a step must end;
# the shares of the promised fall below and above which it shrinks and grows; the least to be taken.
FIRST_RADIUS = 100.0
NEAR = 0.1
POOR, GOOD, LEAST = 0.25, 0.75, 1e-4
MOST_DAMPINGS = 10
EPSILON = float(np.finfo(float).eps)
# Rounding and curvature then err alike; what is left is of the order of the step, or its square.
FORWARD_STEP, CENTRAL_STEP = (EPSILON ** (1 / n) for n in (2, 3))


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
        Takes points as columns, shape (p, points), and returns values, shape (m, points). Each
        point is followed by its neighbours.
    points : ndarray, shape (p, points)
        Where.
    typical : float
        Size of a coordinate near zero, for the difference step.
    central : bool
        Whether to look to both sides, for derivatives that are more exact.
    """
    size, count = points.shape
    steps = (CENTRAL_STEP if central else FORWARD_STEP) * np.maximum(np.abs(points), typical).T
    here, moves = points[:, :, None], np.eye(size)[:, None] * steps
    columns = [here, here + moves, *([here - moves] if central else [])]
    everything = np.concatenate(columns, axis=2).reshape(size, -1)
    found = function(everything).reshape(-1, count, everything.shape[1] // count)
    ahead, behind = found[..., 1 : size + 1], found[..., size + 1 :] if central else found[..., :1]
    slopes = (ahead - behind) / (2 * steps if central else steps)
    return Linear(values=found[..., 0], slopes=slopes.transpose(1, 0, 2))


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
    residuals: Callable[[Sequence[int], FloatArray], FloatArray],
    starts: Sequence[FloatArray],
    *,
    typical: float = 1.0,
    tolerance: float = 1e-6,
    most_steps: int = 100,
) -> tuple[Minimum, ...]:
    """Minimise sums of squares, all of them in lockstep.

    Parameters
    ----------
    residuals : callable
        Takes the indices of some sums, and points as columns, shape (p, points), as many of the
        first sum as then of the next; returns residuals, shape (m, points).
    starts : sequence of ndarray, shape (p,)
        Where to begin, one for each sum.
    typical : float
        Size of a coordinate near zero, for the difference step and the scale.
    tolerance : float
        Relative tolerance of the sum of squares and of the point.
    most_steps : int
        Evaluations allowed.

    Notes
    -----
    A call costs about the same for one column as for many, so that all points and their
    neighbours are asked for together. Differences are central where forward ones are less exact
    than the tolerance.

    References
    ----------
    J. J. More, The Levenberg-Marquardt algorithm, Lecture Notes in Mathematics 630, 1978.

    Examples
    --------
    >>> goals = np.array([3.0, 4.0])
    >>> both = minimise_squares(
    ...     lambda which, x: x - np.repeat(goals[which], x.shape[1] // len(which)),
    ...     [np.zeros(1), np.zeros(1)],
    ... )
    >>> [one.x.round(6).tolist() for one in both]
    [[3.0], [4.0]]
    """
    climbs = [
        _climb(start, np.maximum(np.abs(start), typical), tolerance, most_steps) for start in starts
    ]
    points = {index: next(climb) for index, climb in enumerate(climbs)}
    found: dict[int, Minimum] = {}
    while points:
        alive = list(points)
        asked = linearise(
            partial(residuals, alive),
            np.stack(list(points.values()), axis=1),
            typical,
            central=tolerance < FORWARD_STEP,
        )
        for index, values, slopes in zip(alive, asked.values.T, asked.slopes, strict=True):
            try:
                points[index] = climbs[index].send(_Place.of(points[index], values, slopes))
            except StopIteration as end:
                found[index] = end.value
                del points[index]
    return tuple(found[index] for index in range(len(climbs)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """A point of a climb: residuals, their derivatives and the sum of their squares there."""

    x: FloatArray
    values: FloatArray
    slopes: FloatArray
    loss: float

    @classmethod
    def of(cls, x: FloatArray, values: FloatArray, slopes: FloatArray) -> _Place:
        """Return a point with what was found there."""
        loss = float(values @ values) if np.isfinite(slopes).all() else np.inf
        return cls(x=x, values=values, slopes=slopes, loss=loss)

    def is_flat(self, tolerance: float) -> bool:
        """Return whether the residuals are nearly orthogonal to each of their derivatives."""
        squares = np.vecdot(self.slopes.T, self.slopes.T) * self.loss
        return bool(np.all((self.values @ self.slopes) ** 2 <= tolerance**2 * squares))

    def minimum(self, *, converged: bool) -> Minimum:
        """Return this point as the end of a climb."""
        return Minimum(x=self.x, residuals=self.values, jacobian=self.slopes, converged=converged)


def _climb(
    start: FloatArray, scale: FloatArray, tolerance: float, most_steps: int
) -> Generator[FloatArray, _Place, Minimum]:
    """Climb from a start: yields points, is sent what was found there, and returns the end."""
    here = yield start
    radius = FIRST_RADIUS * (float(np.linalg.norm(start / scale)) or 1.0)
    asked, model = 1, _Model.of(here, scale)
    while not here.is_flat(tolerance):
        damping, step = model.step(radius)
        length = float(np.linalg.norm(step))
        radius = min(radius, length) if asked == 1 else radius
        there = yield here.x + scale * step
        asked += 1
        straight, damped = model.moved(step), damping * length**2
        promised, got = straight + 2 * damped, max(-here.loss, here.loss - there.loss)
        share = got / promised
        if share <= POOR:
            radius = _shrinkage(got, straight + damped) * min(radius, length / NEAR)
        elif damping == 0 or share >= GOOD:
            radius = 2 * length
        small = max(abs(got), promised) <= tolerance * here.loss and share <= 2
        if share >= LEAST:
            here, model = there, _Model.of(there, scale)
        if small or radius <= tolerance * np.linalg.norm(here.x / scale):
            return here.minimum(converged=True)
        if asked >= most_steps:
            return here.minimum(converged=False)
    return here.minimum(converged=True)


def _shrinkage(got: float, slope: float) -> float:
    """Return the share of the radius that a poor step leaves: a parabola's, a tenth to a half."""
    return 0.5 if got >= 0 else max(0.5 * slope / (slope - 0.5 * got), 0.1)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Model:
    """The linear model about a point, in singular directions of the scaled coordinates."""

    sizes: FloatArray
    directions: FloatArray
    seen: FloatArray

    @classmethod
    def of(cls, place: _Place, scale: FloatArray) -> _Model:
        """Return the model about a point."""
        size = len(scale)
        both = np.column_stack([place.slopes * scale, place.values])
        triangle = np.asarray(np.linalg.qr(both, mode="r"))
        left, sizes, directions = np.linalg.svd(triangle[:size, :size])
        return cls(
            sizes=np.maximum(sizes, EPSILON * sizes[0]),
            directions=directions,
            seen=left.T @ triangle[:size, size],
        )

    def step(self, radius: float) -> tuple[float, FloatArray]:
        """Return the damping and the step that is about as long as the radius, or shorter."""
        push, squares = self.sizes * self.seen, self.sizes**2
        parts = push / squares
        damping, most = 0.0, float(np.linalg.norm(push)) / radius
        for _ in range(MOST_DAMPINGS):
            length = float(np.linalg.norm(parts))
            beyond = length - radius
            if abs(beyond) <= NEAR * radius or (damping == 0 and beyond < 0):
                break
            bend = float((parts**2 / (squares + damping)).sum()) / length
            damping = min(damping + length / radius * beyond / bend, most)
            parts = push / (squares + damping)
        return damping, -(self.directions.T @ parts)

    def moved(self, step: FloatArray) -> float:
        """Return the sum of squares of what a step changes of the residuals."""
        along = self.sizes * (self.directions @ step)
        return float(along @ along)
