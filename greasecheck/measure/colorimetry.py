"""Published formulas of colorimetry, for illuminant D65 and the 2 degree observer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from skimage.color import deltaE_ciede2000, xyz2lab

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

E313_CX_CZ_D65 = (1.2985, 1.1335)  # ASTM E313-20, table 1, D65 and 2 degrees (from memory)
E313_CX_CZ_C = (1.2769, 1.0592)  # ASTM E313-20, table 1, C and 2 degrees (from memory)
LEAST_LUMINANCE = 0.1  # keeps black from dividing by zero; Y of white = 100
WHITE_XY_D65 = (0.3127, 0.3290)  # CIE 15:2004, table T.3, 2 degrees, four digits


def yellowness_e313(
    xyz: FloatArray, coefficients: tuple[float, float] = E313_CX_CZ_D65
) -> FloatArray:
    """Return the yellowness index YI.

    Parameters
    ----------
    xyz : ndarray, shape (..., 3)
        CIE XYZ in any one scale, Y above 0; a scale common to X, Y and Z cancels.
    coefficients : tuple of float
        Cx and Cz of the illuminant and observer of `xyz`.

    Returns
    -------
    ndarray, shape (...)
        YI = 100 (Cx X - Cz Z) / Y: 0 for the perfect diffuser, 100 and more for dark yellow.

    References
    ----------
    ASTM E313-20, Standard Practice for Calculating Yellowness and Whiteness Indices from
    Instrumentally Measured Color Coordinates, equation (1) and table 1.

    Examples
    --------
    >>> round(float(yellowness_e313(np.array([68.65, 72.18, 64.95]))), 1)
    21.5
    """
    x_factor, z_factor = coefficients
    yellowness: FloatArray = 100 * (x_factor * xyz[..., 0] - z_factor * xyz[..., 2]) / xyz[..., 1]
    return yellowness


def whiteness_cie(xyz: FloatArray) -> FloatArray:
    """Return the CIE whiteness W.

    Parameters
    ----------
    xyz : ndarray, shape (..., 3)
        CIE XYZ, Y of the perfect diffuser = 100.

    Returns
    -------
    ndarray, shape (...)
        W = Y + 800 (xn - x) + 1700 (yn - y): 100 for the perfect diffuser. The standard calls a
        sample white only while W lies between 40 and 5 Y - 280; below that W still ranks bones.

    References
    ----------
    CIE 15:2004, Colorimetry, section 9.4 (from memory).

    Examples
    --------
    >>> round(float(whiteness_cie(np.array([95.047, 100, 108.883]))))
    100
    """
    x, y = _chromaticity(xyz)
    whiteness: FloatArray = xyz[..., 1] + 800 * (WHITE_XY_D65[0] - x) + 1700 * (WHITE_XY_D65[1] - y)
    return whiteness


def tint_cie(xyz: FloatArray) -> FloatArray:
    """Return the CIE tint T for the 2 degree observer.

    Parameters
    ----------
    xyz : ndarray, shape (..., 3)
        CIE XYZ in any one scale.

    Returns
    -------
    ndarray, shape (...)
        T = 1000 (xn - x) - 650 (yn - y): above 0 greenish, below 0 reddish; the standard calls a
        sample white only while T lies between -4 and 2.

    References
    ----------
    CIE 15:2004, Colorimetry, section 9.4 (from memory).

    Examples
    --------
    >>> round(float(tint_cie(np.array([95.047, 100, 108.883]))))
    0
    """
    x, y = _chromaticity(xyz)
    tint: FloatArray = 1000 * (WHITE_XY_D65[0] - x) - 650 * (WHITE_XY_D65[1] - y)
    return tint


def lab_from_xyz(xyz: FloatArray) -> FloatArray:
    """Return CIELAB for the white point D65, 2 degrees.

    Parameters
    ----------
    xyz : ndarray, shape (..., 3)
        CIE XYZ, Y of the perfect diffuser = 100.

    Returns
    -------
    ndarray, shape (..., 3)
        L*, a*, b*.

    References
    ----------
    CIE 15:2004, Colorimetry, section 8.2.1; as in scikit-image.

    Examples
    --------
    >>> lab_from_xyz(np.array([95.047, 100, 108.883])).round(3).tolist()
    [100.0, 0.0, 0.0]
    """
    return np.asarray(xyz2lab(xyz / 100, illuminant="D65", observer="2"), dtype=np.float64)


def delta_e00(xyz: FloatArray, reference_xyz: FloatArray) -> FloatArray:
    """Return the colour difference CIEDE2000.

    Parameters
    ----------
    xyz, reference_xyz : ndarray, shape (..., 3)
        CIE XYZ for D65 and 2 degrees, Y of the perfect diffuser = 100.

    Returns
    -------
    ndarray, shape (...)
        Delta E00; about 1 is just seen side by side.

    References
    ----------
    Sharma, Wu & Dalal (2005), Color Research & Application 30(1), 21-30, doi:10.1002/col.20070;
    as in scikit-image.

    Examples
    --------
    >>> white = np.array([95.047, 100, 108.883])
    >>> float(delta_e00(white, white))
    0.0
    """
    difference = deltaE_ciede2000(lab_from_xyz(xyz), lab_from_xyz(reference_xyz))
    return np.asarray(difference, dtype=np.float64)


def _chromaticity(xyz: FloatArray) -> tuple[FloatArray, FloatArray]:
    total = xyz.sum(axis=-1)
    return xyz[..., 0] / total, xyz[..., 1] / total
