"""Published formulas of colorimetry, for illuminant D65 and the 2 degree observer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.reference.cie import WHITES

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

E313_CX_CZ_D65 = (1.2985, 1.1335)  # ASTM E313-20, table 1, D65 and 2 degrees (from memory)
E313_CX_CZ_C = (1.2769, 1.0592)  # ASTM E313-20, table 1, C and 2 degrees (from memory)
LEAST_LUMINANCE = 0.1  # keeps black from dividing by zero; Y of white = 100
WHITE_XY_D65 = (0.3127, 0.3290)  # CIE 15:2004, table T.3, 2 degrees, four digits
WHITE_D65 = np.array(WHITES["D65"])
DARKEST_ROOT = 6 / 29  # CIE 15:2004, section 8.2.1: below its cube a straight line takes over


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
    CIE 15:2004, Colorimetry, section 8.2.1.

    Examples
    --------
    >>> lab_from_xyz(np.array([95.047, 100, 108.883])).round(3).tolist()
    [100.0, 0.0, 0.0]
    """
    share = xyz / WHITE_D65
    line = share / (3 * DARKEST_ROOT**2) + 4 / 29
    root = np.where(share > DARKEST_ROOT**3, np.cbrt(share), line)
    x, y, z = root[..., 0], root[..., 1], root[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


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

    Examples
    --------
    >>> white = np.array([95.047, 100, 108.883])
    >>> float(delta_e00(white, white))
    0.0
    """
    return delta_e00_of_lab(lab_from_xyz(xyz), lab_from_xyz(reference_xyz))


def delta_e00_of_lab(lab: FloatArray, reference: FloatArray) -> FloatArray:
    """Return the colour difference Delta E00 of CIELAB colours.

    Parameters
    ----------
    lab, reference : ndarray, shape (..., 3)
        L*, a*, b*; swapping the two changes nothing.

    Returns
    -------
    ndarray, shape (...)
        Delta E00.

    References
    ----------
    Sharma, Wu & Dalal (2005), Color Research & Application 30(1), 21-30, doi:10.1002/col.20070,
    equations 2 to 22; kL = kC = kH = 1. scikit-image has it too, but loads scipy: a third of the
    start of a process that reads photos.

    Examples
    --------
    >>> first, second = np.array([50, 2.6772, -79.7751]), np.array([50, 0, -82.7485])
    >>> round(float(delta_e00_of_lab(first, second)), 4)  # their first pair
    2.0425
    """
    lightness, other_lightness = lab[..., 0], reference[..., 0]
    stretch = _stretch((np.hypot(*_ab(lab)) + np.hypot(*_ab(reference))) / 2)
    (chroma, hue), (other_chroma, other_hue) = (_polar(one, stretch) for one in (lab, reference))
    turn = other_hue - hue
    turn = turn - 2 * np.pi * np.round(turn / (2 * np.pi))
    mean_hue = hue + turn / 2  # of a grey it may be any: then no difference of hue is left
    mean_chroma = (chroma + other_chroma) / 2
    by_lightness = (other_lightness - lightness) / _lightness_scale(
        (lightness + other_lightness) / 2
    )
    by_chroma = (other_chroma - chroma) / (1 + 0.045 * mean_chroma)
    by_hue = 2 * np.sqrt(chroma * other_chroma) * np.sin(turn / 2)
    by_hue = by_hue / (1 + 0.015 * mean_chroma * _hue_factor(mean_hue))
    squares = by_lightness**2 + by_chroma**2 + by_hue**2
    return np.asarray(np.sqrt(squares + _rotation(mean_chroma, mean_hue) * by_chroma * by_hue))


def _ab(lab: FloatArray) -> tuple[FloatArray, FloatArray]:
    return lab[..., 1], lab[..., 2]


def _stretch(chroma: FloatArray) -> FloatArray:
    """Return what a* is multiplied by: 1.5 for greys, 1 for vivid colours."""
    return np.asarray(1.5 - _vividness(chroma) / 2)


def _vividness(chroma: FloatArray) -> FloatArray:
    seventh = chroma**7
    return np.asarray(np.sqrt(seventh / (seventh + 25.0**7)))


def _polar(lab: FloatArray, stretch: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return chroma and hue [rad] with a* stretched."""
    a, b = _ab(lab)
    return np.hypot(stretch * a, b), np.arctan2(b, stretch * a) % (2 * np.pi)


def _lightness_scale(lightness: FloatArray) -> FloatArray:
    square = (lightness - 50) ** 2
    return np.asarray(1 + 0.015 * square / np.sqrt(20 + square))


def _hue_factor(hue: FloatArray) -> FloatArray:
    """Return T of a hue [rad]."""
    terms = (
        -0.17 * np.cos(hue - np.radians(30)),
        0.24 * np.cos(2 * hue),
        0.32 * np.cos(3 * hue + np.radians(6)),
        -0.20 * np.cos(4 * hue - np.radians(63)),
    )
    return np.asarray(1 + sum(terms))


def _rotation(chroma: FloatArray, hue: FloatArray) -> FloatArray:
    """Return R_T of a chroma and a hue [rad]: blues lie askew."""
    blue = np.exp(-(((np.degrees(hue) % 360 - 275) / 25) ** 2))
    return np.asarray(-np.sin(np.radians(60) * blue) * 2 * _vividness(chroma))


def _chromaticity(xyz: FloatArray) -> tuple[FloatArray, FloatArray]:
    total = xyz.sum(axis=-1)
    return xyz[..., 0] / total, xyz[..., 1] / total
