"""The shapes that leaching may take, and how a time until done becomes rates.

Each form has the same leading quantity, so that the species table speaks to all alike: after how
many days of the reference bath, in water that is always fresh, a tenth of the grease is left.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

DONE_SHARE = 0.1  # of the grease; what preparers call done, see calibration/species.csv
# Nodes of a broad spectrum: below its middle in widths of its slow edge, above it in log rate.
SLOW_NODES = np.array([-2.0, -1.0, 0.0])
FAST_NODES = np.array([1.0, 2.2, 3.6, 5.5])
FAST_STEPS = np.array([1.1, 1.3, 1.65, 1.9])
WIDEST = 2.5  # log spread of rates; wider, the fastest pool is gone at once all the same
NEWTON_STEPS = 60
LAST_STEP = 1e-7  # relative; the error that is left is of the order of its square


class Form(StrEnum):
    """A model form."""

    TWO_POOLS = "two pools"
    BROAD = "broad spectrum of rates"
    EVEN = "even release"


@dataclass(frozen=True, slots=True, kw_only=True)
class Spectrum:
    """Rate ratios and weights of a form's pools.

    Attributes
    ----------
    ratios : ndarray, shape (n, draws) or (n, 1)
        Rates over the slowest rate, at least 1.
    weights : ndarray, shape (n, draws) or (n, 1)
        Shares of the grease, sum 1 over pools.
    """

    ratios: FloatArray
    weights: FloatArray


def broad_spectrum(power: FloatArray, edge: FloatArray) -> Spectrum:
    """Return a power law of rates with a log-normal slow edge.

    Parameters
    ----------
    power : ndarray, shape (draws,)
        The grease falls off with rate^-power towards fast rates; 0.5 is diffusion out of bone
        (at first the grease given off grows with time^0.5), a large one is a single pool.
    edge : ndarray, shape (draws,)
        Natural-log width of the slow edge: how mixed the thickness is; 0 is one plate.

    References
    ----------
    J. Crank, The Mathematics of Diffusion, 2nd ed., 1975, eqs. 4.18 and 6.20 (from memory): the
    terms of a plate or a ball, n^-2 at rates n^2, are the power 0.5.
    """
    edge = np.minimum(edge, WIDEST)
    slow = SLOW_NODES[:, None] * edge
    fast = np.repeat(FAST_NODES[:, None], len(power), axis=1)
    at_slow = np.exp(-0.5 * SLOW_NODES[:, None] ** 2) * edge
    at_slow[-1] = 0.5 * (edge + FAST_NODES[0])
    weights = np.concatenate([at_slow, FAST_STEPS[:, None] * np.exp(-power * fast)])
    logs = np.concatenate([slow, fast])
    return Spectrum(ratios=np.exp(logs - logs[0]), weights=weights / weights.sum(axis=0))


def slowest_rate(spectrum: Spectrum, done_days: FloatArray) -> FloatArray:
    """Return the slowest rate at which a tenth of the grease is left in time.

    Parameters
    ----------
    spectrum : Spectrum
        The form.
    done_days : ndarray, shape (..., draws)
        Days until a tenth is left, in water that is always fresh.

    Returns
    -------
    ndarray, shape (..., draws)
        k_1 [1/day].

    Notes
    -----
    Newton steps on the log of the share left, from what the slowest pool alone would need. That
    log is convex, so that the first step lands before the root and all others draw near to it.

    Examples
    --------
    >>> one = Spectrum(ratios=np.ones((1, 1)), weights=np.ones((1, 1)))
    >>> slowest_rate(one, np.array([100.0])).round(6).tolist()
    [0.023026]
    """
    target = np.log(DONE_SHARE)
    spent = np.full(spectrum.ratios.shape[1], -target)
    for _ in range(NEWTON_STEPS):
        value, slope = _log_left(spectrum, spent)
        before, spent = spent, np.maximum(spent - (value - target) / slope, 0.0)
        if np.all(np.abs(spent - before) <= LAST_STEP * spent):
            break
    rate: FloatArray = spent / done_days
    return rate


def _log_left(spectrum: Spectrum, spent: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return log(share left) and its slope by rate x days of the slowest pool."""
    later = spectrum.weights * np.exp(-spectrum.ratios * spent)
    total = later.sum(axis=0)
    slope: FloatArray = -(spectrum.ratios * later).sum(axis=0) / total
    return np.log(total), slope
