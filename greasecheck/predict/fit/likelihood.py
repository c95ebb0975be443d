"""How well parameters explain readings: scatter with heavy tails, and readings that are bounds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.predict.model.course import run_course

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from greasecheck.predict.model.draws import Draws
    from greasecheck.predict.model.timeline import Timeline

TAIL_FREEDOM = 4.0  # Student t; Lange, Little & Taylor 1989, J. Am. Stat. Assoc. 84, 881
SCATTER_FLOOR_PER_M = 0.1
FRESH_SCATTER_SHARE = 0.1
LOG_T_CONSTANT = float(
    special.gammaln((TAIL_FREEDOM + 1) / 2)
    - special.gammaln(TAIL_FREEDOM / 2)
    - 0.5 * np.log(TAIL_FREEDOM * np.pi)
)


def reading_std(timeline: Timeline, draws: Draws, haze_per_m: FloatArray) -> FloatArray:
    """Return the standard deviation expected of each reading, shape (readings, draws) [1/m].

    A reading's own standard error, the scatter of readings in proportion to the haze, and what
    one fresh bath of a recipe differs from the next.
    """
    seen = timeline.observations
    own = np.hypot(seen.std_per_m, SCATTER_FLOOR_PER_M)[:, None]
    bath = FRESH_SCATTER_SHARE * draws.fresh_per_m[seen.moments.recipe]
    return np.sqrt(own**2 + bath**2 + (draws.scatter_share * haze_per_m) ** 2)


def log_likelihood(timeline: Timeline, draws: Draws) -> FloatArray:
    """Return the log likelihood of all readings, shape (draws,)."""
    seen = timeline.observations
    haze_per_m = run_course(timeline, draws).haze_per_m(seen.moments)
    std = reading_std(timeline, draws, haze_per_m)
    z = (seen.haze_per_m[:, None] - haze_per_m) / std
    bounded = seen.above | seen.below
    plain = ~bounded
    log_density = (
        LOG_T_CONSTANT
        - 0.5 * (TAIL_FREEDOM + 1) * np.log1p(z[plain] ** 2 / TAIL_FREEDOM)
        - np.log(std[plain])
    )
    total: FloatArray = log_density.sum(axis=0)
    if bounded.any():
        total = total + _log_beyond(z[bounded], seen.above[bounded]).sum(axis=0)
    return total


def _log_beyond(z: FloatArray, above: NDArray[np.bool_]) -> FloatArray:
    """Return the log probability of lying beyond a bound."""
    beyond: FloatArray = np.log(special.stdtr(TAIL_FREEDOM, np.where(above[:, None], -z, z)))
    return beyond


def signed_root_deviance(timeline: Timeline, haze_per_m: FloatArray, std: FloatArray) -> FloatArray:
    """Return residuals whose squares sum to twice the loss at a given standard deviation.

    Parameters
    ----------
    timeline : Timeline
        The readings.
    haze_per_m : ndarray, shape (readings, draws)
        Expected readings [1/m].
    std : ndarray, shape (readings, 1)
        Standard deviations, held fixed [1/m].
    """
    seen = timeline.observations
    z = (seen.haze_per_m[:, None] - haze_per_m) / std
    deviance = (TAIL_FREEDOM + 1) * np.log1p(z**2 / TAIL_FREEDOM)
    bounded = seen.above | seen.below
    if bounded.any():
        deviance[bounded] = -2 * _log_beyond(z[bounded], seen.above[bounded])
    root: FloatArray = np.copysign(np.sqrt(deviance), z)
    return root
