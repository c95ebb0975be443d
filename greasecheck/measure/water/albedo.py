"""How much of the light that water takes out of a beam it scatters, from the veil it adds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

# On path-traced stands the veil, as a share of paper white, is a constant times (1 - kept) to this
# power for water of one kind, whatever its attenuation; the constant falls with the albedo. Fitted
# by `python -m tests.benchmarks.first_sheet_constants`.
VEIL_POWER = 0.71
USUAL_VEIL = 0.46
USUAL_ALBEDO = 0.95
ALBEDO_PER_LOG_VEIL = 0.27
# A veil this close (in its logarithm) to the usual one follows scatter and lamp, not albedo.
LOG_VEIL_TOLERANCE = 0.2
LEAST_LOST = 0.05  # share of contrast; clearer water shows nothing of its albedo
# A stronger veil than usual comes from scatter to the side rather than from still less absorption.
ALBEDO_RANGE = (0.2, USUAL_ALBEDO)
ALBEDO_STD, RELATIVE_STD = 0.02, 0.25  # scatter in these stands, and per departure from usual


@dataclass(frozen=True, slots=True, kw_only=True)
class Albedo:
    """Single-scattering albedo of water: the scattered share of what leaves a beam.

    Attributes
    ----------
    value, std : float
        Albedo and its standard error, 0 to 1.
    """

    value: float
    std: float


def albedo_from_veil(veil: float, kept: float) -> Albedo:
    """Distinguish milky water, which scatters, from brown water, which absorbs.

    Parameters
    ----------
    veil : float
        Light that the water adds to black and white bars alike, paper white = 1.
    kept : float
        Share of contrast kept.

    Examples
    --------
    >>> milky, brown = albedo_from_veil(0.35, 0.32), albedo_from_veil(0.12, 0.19)
    >>> round(milky.value, 2), round(brown.value, 2)
    (0.95, 0.64)
    """
    lost = 1 - kept
    if lost < LEAST_LOST:
        return Albedo(value=USUAL_ALBEDO, std=ALBEDO_STD)
    log_veil = np.log(max(veil, 1e-3) / lost**VEIL_POWER / USUAL_VEIL)
    trust = log_veil**2 / (log_veil**2 + LOG_VEIL_TOLERANCE**2)
    value = float(np.clip(USUAL_ALBEDO + ALBEDO_PER_LOG_VEIL * log_veil * trust, *ALBEDO_RANGE))
    return Albedo(value=value, std=ALBEDO_STD + RELATIVE_STD * abs(value - USUAL_ALBEDO))
