"""How well parameters explain readings, and readings that are only bounds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.predict.fit.noise import TAIL_FREEDOM, Expected
from greasecheck.predict.model.course import run_course

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.noise import Whitening
    from greasecheck.predict.model.draws import Draws
    from greasecheck.predict.model.timeline import Timeline


def expected_of(timeline: Timeline, draws: Draws) -> Expected:
    """Return what one draw expects of the readings."""
    moments, course = timeline.observations.moments, run_course(timeline, draws)
    return Expected(
        fresh=draws.fresh_per_m[moments.recipe, 0],
        rise=course.rise_per_m(moments)[:, 0],
        bloom=course.bloom_per_m(moments)[:, 0],
    )


def white_residuals(timeline: Timeline, draws: Draws, whitening: Whitening) -> FloatArray:
    """Return residuals whose squares sum to twice the loss, shape (readings, draws).

    Those of bounds come last, none below 0: with a sign they would leap where the bound is met.
    """
    seen = timeline.observations
    missed = seen.haze_per_m[:, None] - run_course(timeline, draws).haze_per_m(seen.moments)
    white = whitening.root @ missed[whitening.plain]
    if whitening.robust:
        deviance = (TAIL_FREEDOM + 1) * np.log1p(white**2 / TAIL_FREEDOM)
        white = np.copysign(np.sqrt(deviance), white)
    bounded = ~whitening.plain
    if not bounded.any():
        return white
    z = missed[bounded] / whitening.bound_std
    return np.concatenate([white, np.sqrt(-2 * log_beyond(z, seen.above[bounded]))])


def log_likelihood(timeline: Timeline, draws: Draws, whitening: Whitening) -> FloatArray:
    """Return the log likelihood of all readings except for a constant, shape (draws,)."""
    total: FloatArray = -0.5 * (white_residuals(timeline, draws, whitening) ** 2).sum(axis=0)
    return total


def log_beyond(z: FloatArray, above: NDArray[np.bool_]) -> FloatArray:
    """Return the log probability of lying beyond a bound, by standardised residuals.

    Parameters
    ----------
    z : ndarray, shape (readings, draws)
        How far each bound lies above what is expected, in standard deviations.
    above : ndarray of bool, shape (readings,)
        Whether the true value lies above its bound; else below.

    Examples
    --------
    >>> import numpy as np
    >>> np.exp(log_beyond(np.zeros((2, 1)), np.array([True, False])))[:, 0].tolist()
    [0.5, 0.5]
    """
    beyond: FloatArray = np.log(special.stdtr(TAIL_FREEDOM, np.where(above[:, None], -z, z)))
    return beyond
