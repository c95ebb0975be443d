"""The CIE tables as shipped, against another edition of them and against their own laws."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from greasecheck.reference import data_folder
from greasecheck.reference.lookup import LookupTable, read_lookup

DAYLIGHT = colour.colorimetry.SDS_BASIS_FUNCTIONS_CIE_ILLUMINANT_D_SERIES


def table(name: str) -> LookupTable:
    return read_lookup(data_folder("calibration") / name)


def test_the_observer_is_that_of_colour_science() -> None:
    observer = table("cie_1931_2deg.csv")
    nm = observer.numbers("wavelength_nm")
    assert nm.tolist() == list(range(380, 781, 5))
    ours = np.column_stack([observer.numbers(f"{axis}_bar") for axis in "xyz"])
    theirs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"][nm]
    assert ours == pytest.approx(theirs, abs=1e-12)


def test_the_observer_s_three_curves_have_one_area() -> None:
    # CIE 15:2004, section 7.1: the equi-energy spectrum has equal tristimulus values
    observer = table("cie_1931_2deg.csv")
    areas = np.array([observer.numbers(f"{axis}_bar").sum() for axis in "xyz"])
    assert areas == pytest.approx([21.3714, 21.3711, 21.3715], abs=1e-3)


def test_d65_is_the_daylight_of_its_chromaticity() -> None:
    # CIE 15:2004, section 3.1: S0 + m1 S1 + m2 S2 every 10 nm, between them in proportion
    lamp = table("cie_d65.csv")
    nm = lamp.numbers("wavelength_nm")
    assert nm.tolist() == list(range(380, 781, 5))
    kelvin = 6500 * 1.4388 / 1.4380
    x = 0.244063 + 99.11 / kelvin + 2.9678e6 / kelvin**2 - 4.6070e9 / kelvin**3
    y = -3.000 * x**2 + 2.870 * x - 0.275
    scale = 0.0241 + 0.2562 * x - 0.7341 * y
    m1 = round((-1.3515 - 1.7703 * x + 5.9114 * y) / scale, 3)
    m2 = round((0.0300 - 31.4424 * x + 30.0717 * y) / scale, 3)
    tens = np.arange(380, 781, 10)
    parts = [DAYLIGHT[name][tens] for name in ("S0", "S1", "S2")]
    power = np.array([1, m1, m2]) @ np.array(parts)
    expected = np.interp(nm, tens, power)
    # published with six digits, and rounded before and after the interpolation
    assert lamp.numbers("relative_power") == pytest.approx(expected, abs=1e-3)


def test_d65_is_that_of_colour_science() -> None:
    lamp = table("cie_d65.csv")
    theirs = colour.SDS_ILLUMINANTS["D65"][lamp.numbers("wavelength_nm")]
    assert lamp.numbers("relative_power") == pytest.approx(theirs, abs=5e-5)
