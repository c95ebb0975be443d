"""The tone curve and the primaries of sRGB."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from greasecheck.model import FloatArray

TOE_SLOPE = 12.92
TOE_END_DEVICE, TOE_END_LIGHT = 0.04045, 0.0031308
OFFSET, POWER = 0.055, 2.4
# Linear sRGB to XYZ for D65, Y of white = 1; IEC 61966-2-1:1999, equation 7
XYZ_FROM_LINEAR = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)
# The other way, by the standard's own four digits; equation 8
LINEAR_FROM_XYZ = np.array(
    [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]
)
LUMINANCE = XYZ_FROM_LINEAR[1]


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
        Linear light, 0 to 1; that of single precision gives values of single precision.

    References
    ----------
    IEC 61966-2-1:1999, equations 8 and 9.

    Examples
    --------
    >>> srgb_of_linear([0.0, 0.214, 1.0]).round(3).tolist()
    [0.0, 0.5, 1.0]
    """
    value = np.asarray(light)
    if value.dtype != np.float32:
        value = value.astype(np.float64)
    power = (1 + OFFSET) * np.maximum(value, TOE_END_LIGHT) ** (1 / POWER) - OFFSET
    device: FloatArray = np.where(value <= TOE_END_LIGHT, value * TOE_SLOPE, power)
    return device


def linear_of_xyz(xyz: FloatArray) -> FloatArray:
    """Return linear sRGB, white = 1, of CIE XYZ (D65/2), shape (..., 3), Y of white = 100.

    Colours outside sRGB have components below 0 or above 1.

    References
    ----------
    IEC 61966-2-1:1999, equation 7, inverted.

    Examples
    --------
    >>> linear_of_xyz(np.array([95.05, 100.0, 108.9])).round(3).tolist()
    [1.0, 1.0, 1.0]
    """
    return np.asarray(xyz @ np.linalg.inv(XYZ_FROM_LINEAR).T / 100)
