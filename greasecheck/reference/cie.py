"""From spectra, CIELAB or another white to XYZ for D65 and the 2 degree observer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.reference.folder import data_folder
from greasecheck.reference.lookup import read_lookup

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

# ASTM E308-18, table 5: white points for the 2 degree observer (from memory)
WHITES = {"D50": (96.422, 100.0, 82.521), "D65": (95.047, 100.0, 108.883)}

# Bradford: Lam 1985; as in ICC.1:2022, annex E
BRADFORD = ((0.8951, 0.2664, -0.1614), (-0.7502, 1.7135, 0.0367), (0.0389, -0.0685, 1.0296))


def adapt_to_d65(xyz: FloatArray, white: tuple[float, float, float]) -> FloatArray:
    """Adapt colours seen under another white to D65 by the linear Bradford transform.

    Parameters
    ----------
    xyz : ndarray, shape (n, 3)
        CIE XYZ, Y of the perfect diffuser = 100.
    white : tuple of float
        XYZ of the white they are for.

    Returns
    -------
    ndarray, shape (n, 3)
        CIE XYZ for D65.

    References
    ----------
    ICC.1:2022, annex E; Lam 1985.

    Examples
    --------
    >>> adapt_to_d65(np.array([WHITES["D50"]]), WHITES["D50"]).round(3).tolist()
    [[95.047, 100.0, 108.883]]
    """
    bradford = np.array(BRADFORD)
    gains = (bradford @ WHITES["D65"]) / (bradford @ white)
    adaptation = np.linalg.solve(bradford, gains[:, np.newaxis] * bradford)
    adapted: FloatArray = xyz @ adaptation.T
    return adapted


def lab_to_xyz(lab: FloatArray, white: tuple[float, float, float]) -> FloatArray:
    """Invert CIELAB.

    Parameters
    ----------
    lab : ndarray, shape (n, 3)
        L*, a*, b*.
    white : tuple of float
        XYZ of the white it is for.

    Returns
    -------
    ndarray, shape (n, 3)
        CIE XYZ.

    References
    ----------
    CIE 15:2004, section 8.2.1 (ISO/CIE 11664-4:2019).

    Examples
    --------
    >>> lab_to_xyz(np.array([[100.0, 0.0, 0.0]]), WHITES["D65"]).round(3).tolist()
    [[95.047, 100.0, 108.883]]
    """
    middle = (lab[:, 0] + 16) / 116
    roots = np.column_stack([middle + lab[:, 1] / 500, middle, middle - lab[:, 2] / 200])
    ratios = np.where(roots > 6 / 29, roots**3, 3 * (6 / 29) ** 2 * (roots - 4 / 29))
    xyz: FloatArray = ratios * np.array(white)
    return xyz


def reflectance_to_xyz(wavelengths_nm: FloatArray, reflectance: FloatArray) -> FloatArray:
    """Integrate reflectances over the 2 degree observer under D65.

    Parameters
    ----------
    wavelengths_nm : ndarray, shape (k,)
        Ascending wavelengths [nm], steps of at most 20 nm.
    reflectance : ndarray, shape (n, k)
        Reflectance factors, 0 to 1.

    Returns
    -------
    ndarray, shape (n, 3)
        CIE XYZ, Y of the perfect diffuser = 100.

    Notes
    -----
    Reflectances are interpolated by a cubic spline to the 5 nm of the tables and held constant
    beyond their ends (ASTM E308-18, sections 7.2 and 7.3, treats missing ends alike). The white
    is scaled to that of ASTM E308 so that all kinds of file share one.

    Examples
    --------
    >>> grey = np.full((1, 31), 0.5)
    >>> reflectance_to_xyz(np.linspace(400, 700, 31), grey).round(2).tolist()
    [[47.52, 50.0, 54.44]]
    """
    from scipy.interpolate import CubicSpline  # noqa: PLC0415 - slow to import, rarely needed

    weights = _weights()
    table_nm = weights[:, 0]
    within = np.clip(table_nm, wavelengths_nm[0], wavelengths_nm[-1])
    sampled = CubicSpline(wavelengths_nm, reflectance, axis=1)(within)
    xyz: FloatArray = sampled @ weights[:, 1:]
    return xyz


def _weights() -> FloatArray:
    """Wavelength [nm] and the weights of X, Y and Z at it; they sum to the D65 white."""
    folder = data_folder("calibration")
    observer = read_lookup(folder / "cie_1931_2deg.csv")
    illuminant = read_lookup(folder / "cie_d65.csv")
    wavelengths_nm = observer.numbers("wavelength_nm")
    power = np.interp(
        wavelengths_nm, illuminant.numbers("wavelength_nm"), illuminant.numbers("relative_power")
    )
    matching = np.column_stack([observer.numbers(name) for name in ("x_bar", "y_bar", "z_bar")])
    products = power[:, np.newaxis] * matching
    return np.column_stack([wavelengths_nm, products * (np.array(WHITES["D65"]) / products.sum(0))])
