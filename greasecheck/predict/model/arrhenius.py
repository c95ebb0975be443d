"""Days converted to a reference temperature: warmer baths leach faster."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

GAS_CONSTANT_J_PER_MOL_K = 8.314462618  # CODATA 2018, exact
ZERO_CELSIUS_K = 273.15
REFERENCE_C = 40.0  # the bath temperature that the species table holds for


def rate_factor(
    temperature_c: FloatArray | float, activation_kj_per_mol: FloatArray | float
) -> FloatArray:
    """Return the leaching rate over that at the reference temperature of 40 degrees C.

    Parameters
    ----------
    temperature_c : array_like
        Bath temperature [degrees C], above absolute zero.
    activation_kj_per_mol : array_like
        Activation energy [kJ/mol].

    References
    ----------
    S. Arrhenius, Z. phys. Chem. 4, 226 (1889): k = A exp(-E / RT).

    Examples
    --------
    >>> round(float(rate_factor(30.0, 50.0)), 4)
    0.5307
    """
    kelvin = np.asarray(temperature_c) + ZERO_CELSIUS_K
    reference = REFERENCE_C + ZERO_CELSIUS_K
    energy = np.asarray(activation_kj_per_mol) * 1000.0 / GAS_CONSTANT_J_PER_MOL_K
    factor: FloatArray = np.exp(energy * (1 / reference - 1 / kelvin))
    return factor
