"""The shapes that leaching may take, and how a clear time becomes rates.

Each form has the same two leading quantities, so that the species table speaks to all alike: what
the first standard soak gains, and after how many standard days a standard soak gains only 3 per
metre in water that is always fresh.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

STANDARD_SOAK_DAYS = 3.0
STANDARD_GAIN_PER_M = 3.0
SERIES_TERMS = 4000
GROUP_STARTS = (0, 1, 2, 3, 5, 8, 13, 25, 60)  # share left is then right to 0.003
NEWTON_STEPS = 60
RATE_TOLERANCE = 1e-12


class Form(StrEnum):
    """A model form."""

    ONE_POOL = "one pool"
    TWO_POOLS = "two pools"
    THREE_POOLS = "three pools"
    SHEET = "diffusing sheet"
    SPHERE = "diffusing sphere"


@dataclass(frozen=True, slots=True, kw_only=True)
class Spectrum:
    """Rate ratios and weights of a form's pools.

    Attributes
    ----------
    ratios : ndarray, shape (n, draws) or (n, 1)
        Rates over the slowest rate, at least 1.
    weights : ndarray, shape (n, draws) or (n, 1)
        Sum to 1 over pools: shares of the first standard soak's gain when `of_gain`, else
        shares of the grease.
    of_gain : bool
        What `weights` are shares of.
    """

    ratios: FloatArray
    weights: FloatArray
    of_gain: bool


@cache
def sheet_spectrum() -> Spectrum:
    """Return the diffusing plane sheet.

    References
    ----------
    J. Crank, The Mathematics of Diffusion, 2nd ed., 1975, eq. 4.18 (from memory).
    """
    odd = 2 * np.arange(SERIES_TERMS, dtype=np.float64) + 1
    return _grouped(odd**2, 8 / (np.pi * odd) ** 2)


@cache
def sphere_spectrum() -> Spectrum:
    """Return the diffusing sphere.

    References
    ----------
    J. Crank, The Mathematics of Diffusion, 2nd ed., 1975, eq. 6.20 (from memory).
    """
    order = np.arange(SERIES_TERMS, dtype=np.float64) + 1
    return _grouped(order**2, 6 / (np.pi * order) ** 2)


def _grouped(ratios: FloatArray, weights: FloatArray) -> Spectrum:
    """Merge the fast terms of a series into few, each group's mean time to leave kept."""
    total = np.add.reduceat(weights, GROUP_STARTS)
    slowness = np.add.reduceat(weights / ratios, GROUP_STARTS)
    merged = total / slowness
    total[-1] += 1 - total.sum()
    return Spectrum(ratios=merged[:, None], weights=total[:, None], of_gain=False)


def slowest_rate(
    spectrum: Spectrum, clear_days: FloatArray, first_gain_per_m: FloatArray
) -> FloatArray:
    """Return the slowest rate at which a standard soak's gain falls to 3 per metre in time.

    Parameters
    ----------
    spectrum : Spectrum
        The form.
    clear_days : ndarray, shape (draws,)
        Standard days until clear, in water that is always fresh.
    first_gain_per_m : ndarray, shape (draws,)
        Gain of the first standard soak [1/m], above 3.

    Returns
    -------
    ndarray, shape (draws,)
        k_1 [1/day].

    Notes
    -----
    Newton steps on the log of the gain's fall, kept inside a bracket that always holds the root:
    the slowest pool alone would need log(first gain / 3) / clear days.

    Examples
    --------
    >>> one = Spectrum(ratios=np.ones((1, 1)), weights=np.ones((1, 1)), of_gain=True)
    >>> slowest_rate(one, np.array([100.0]), np.array([30.0])).round(6).tolist()
    [0.023026]
    """
    target = np.log(STANDARD_GAIN_PER_M / first_gain_per_m)
    low, high = np.zeros_like(target), -target / clear_days
    rate = high / 2
    for _ in range(NEWTON_STEPS):
        value, slope = _log_fall(spectrum, rate, clear_days)
        miss = value - target
        low, high = np.where(miss > 0, rate, low), np.where(miss > 0, high, rate)
        step = rate - miss / slope
        inside = (step >= low) & (step <= high)
        update = np.where(inside, step, (low + high) / 2)
        moved, rate = np.abs(update - rate), update
        if np.all(moved <= RATE_TOLERANCE * rate):
            break
    return rate


def _log_fall(
    spectrum: Spectrum, rate: FloatArray, days: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return log(gain after `days` / first gain) and its slope by the rate."""
    ratios, weights = spectrum.ratios, spectrum.weights
    later = weights * np.exp(-ratios * rate * days)
    if spectrum.of_gain:
        total = later.sum(axis=0)
        return np.log(total), -days * (ratios * later).sum(axis=0) / total
    soaked = np.exp(-ratios * rate * STANDARD_SOAK_DAYS)
    gain, bend = 1 - soaked, STANDARD_SOAK_DAYS * ratios * soaked
    top, bottom = (later * gain).sum(axis=0), (weights * gain).sum(axis=0)
    top_slope = (later * (bend - days * ratios * gain)).sum(axis=0)
    slope: FloatArray = top_slope / top - (weights * bend).sum(axis=0) / bottom
    return np.log(top / bottom), slope


def grease_and_rates(
    spectrum: Spectrum, clear_days: FloatArray, first_gain_per_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return each pool's grease at the start [1/m] and its rate [1/day], shape (n, draws)."""
    rates = spectrum.ratios * slowest_rate(spectrum, clear_days, first_gain_per_m)
    soaked_share = -np.expm1(-rates * STANDARD_SOAK_DAYS)
    if spectrum.of_gain:
        return spectrum.weights * first_gain_per_m / soaked_share, rates
    total = first_gain_per_m / (spectrum.weights * soaked_share).sum(axis=0)
    return spectrum.weights * total, rates
