"""The tone curve of sRGB, both ways."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from greasecheck.model import FloatArray

TOE_SLOPE = 12.92
TOE_END_DEVICE, TOE_END_LIGHT = 0.04045, 0.0031308
OFFSET, POWER = 0.055, 2.4


def linear_of_srgb(device: ArrayLike) -> FloatArray:
    """Return the linear light of sRGB device values, of the same shape.

    Parameters
    ----------
    device : array_like
        Device values, 0 to 1.

    References
    ----------
    IEC 61966-2-1:1999, equations 5 and 6.

    Examples
    --------
    >>> linear_of_srgb([0.0, 0.5, 1.0]).round(4).tolist()
    [0.0, 0.214, 1.0]
    """
    value = np.asarray(device, dtype=np.float64)
    power = ((np.maximum(value, TOE_END_DEVICE) + OFFSET) / (1 + OFFSET)) ** POWER
    light: FloatArray = np.where(value <= TOE_END_DEVICE, value / TOE_SLOPE, power)
    return light


def srgb_of_linear(light: ArrayLike) -> FloatArray:
    """Return the sRGB device values of linear light, of the same shape.

    Parameters
    ----------
    light : array_like
        Linear light, 0 to 1.

    References
    ----------
    IEC 61966-2-1:1999, equations 8 and 9.

    Examples
    --------
    >>> srgb_of_linear([0.0, 0.214, 1.0]).round(3).tolist()
    [0.0, 0.5, 1.0]
    """
    value = np.asarray(light, dtype=np.float64)
    power = (1 + OFFSET) * np.maximum(value, TOE_END_LIGHT) ** (1 / POWER) - OFFSET
    device: FloatArray = np.where(value <= TOE_END_LIGHT, value * TOE_SLOPE, power)
    return device
