"""Colours of a measured patch file: adaptation and integration against published values."""

import colour
import numpy as np
import pytest

from greasecheck.reference import data_folder
from greasecheck.reference.cie import WHITES, adapt_to_d65, lab_to_xyz, reflectance_to_xyz
from greasecheck.reference.lookup import read_lookup

# B. Lindbloom, "Chromatic Adaptation", brucelindbloom.com (2017), Bradford D50 to D65; from memory
LINDBLOOM_D50_TO_D65 = (
    (0.9555766, -0.0230393, 0.0631636),
    (-0.0282895, 1.0099416, 0.0210077),
    (0.0122982, -0.0204830, 1.3299098),
)
CHECKER = colour.SDS_COLOURCHECKERS["ISO 17321-1"]  # ISO 17321-1:2012 annex C, 380 to 730 nm


def test_bradford_agrees_with_the_published_matrix() -> None:
    matrix = adapt_to_d65(np.eye(3), WHITES["D50"]).T
    assert matrix == pytest.approx(np.array(LINDBLOOM_D50_TO_D65), abs=5e-8)


def test_lab_agrees_with_colour_science() -> None:
    lab = np.array([[70.0, 12.0, 35.0], [3.0, -1.0, 2.0], [97.0, -40.0, -20.0]])
    for white in WHITES.values():
        whitepoint = colour.XYZ_to_xy(np.array(white) / 100)
        theirs = 100 * colour.Lab_to_XYZ(lab, whitepoint)
        # they rebuild the white from its chromaticity, so only rounding differs
        assert lab_to_xyz(lab, white) == pytest.approx(theirs, abs=1e-9)


def checker(step_nm: int) -> colour.MultiSpectralDistributions:
    """Reflectances from 380 to 720 nm."""
    wavelengths_nm = np.arange(380, 721, step_nm)
    values = [[sd[nm] for sd in CHECKER.values()] for nm in wavelengths_nm]
    return colour.MultiSpectralDistributions(values, wavelengths_nm)


# colour-science says that it trims its tables to those of the standard, as E308 asks
@pytest.mark.filterwarnings("ignore::colour.utilities.ColourRuntimeWarning")
@pytest.mark.parametrize(
    ("step_nm", "tolerance"),
    # E308 weights each step by a Lagrange interpolation of its own, ours is a spline: the
    # coarser the steps the more this shows; 0.1 of 100 is below what two instruments agree on
    [(5, 0.01), (10, 0.02), (20, 0.1)],
)
def test_integration_agrees_with_astm_e308(step_nm: int, tolerance: float) -> None:
    reflectance = checker(step_nm)
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    illuminant = colour.SDS_ILLUMINANTS["D65"]
    theirs = np.array(
        [colour.sd_to_XYZ(sd, cmfs, illuminant, method="ASTM E308") for sd in reflectance.to_sds()]
    )
    wavelengths_nm = np.asarray(reflectance.wavelengths, dtype=np.float64)
    ours = reflectance_to_xyz(wavelengths_nm, np.asarray(reflectance.values.T, dtype=np.float64))
    assert np.abs(ours - theirs).max() <= tolerance


def test_the_tables_alone_give_the_white_of_d65() -> None:
    # CIE 15:2018, table T.3: D65, 2 degrees, x = 0.31272, y = 0.32903; from memory. The sum is
    # taken here from the tables as shipped, before anything is scaled to a white.
    observer = read_lookup(data_folder("calibration") / "cie_1931_2deg.csv")
    lamp = read_lookup(data_folder("calibration") / "cie_d65.csv")
    nm = observer.numbers("wavelength_nm")
    power = np.interp(nm, lamp.numbers("wavelength_nm"), lamp.numbers("relative_power"))
    xyz = np.array([(power * observer.numbers(name)).sum() for name in observer.names[1:4]])
    assert xyz[:2] / xyz.sum() == pytest.approx([0.31272, 0.32903], abs=5e-5)
