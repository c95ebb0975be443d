"""Yellowness index against ASTM E313 and colour-science.

Sources: ASTM E313-20, table 1 (coefficients, from memory; colour-science 0.4.7 carries the same
from ASTM E313-15e1); white points of ASTM E308-18, table 5 (from memory).
"""

import colour
import numpy as np
import pytest
from colour.colorimetry import YELLOWNESS_COEFFICIENTS_ASTME313

from greasecheck.measure.colorimetry import E313_CX_CZ_C, E313_CX_CZ_D65, yellowness_e313

OBSERVER = "CIE 1931 2 Degree Standard Observer"
COEFFICIENT_DIGIT = 1e-4


@pytest.mark.parametrize(("illuminant", "pair"), [("D65", E313_CX_CZ_D65), ("C", E313_CX_CZ_C)])
def test_coefficients_are_the_published_ones(illuminant: str, pair: tuple[float, float]) -> None:
    assert tuple(YELLOWNESS_COEFFICIENTS_ASTME313[OBSERVER][illuminant]) == pair


@pytest.mark.parametrize(
    ("white", "pair"),
    [((95.047, 100.0, 108.883), E313_CX_CZ_D65), ((98.074, 100.0, 118.232), E313_CX_CZ_C)],
)
def test_the_perfect_diffuser_is_not_yellow(
    white: tuple[float, float, float], pair: tuple[float, float]
) -> None:
    rounding = COEFFICIENT_DIGIT / 2 * (white[0] + white[2])  # what four-digit coefficients allow
    assert float(yellowness_e313(np.array(white), pair)) == pytest.approx(0, abs=rounding)


def test_worked_example_of_colour_science() -> None:
    """Its docstring: XYZ (95, 100, 105) has YI 4.34, to two digits."""
    assert float(yellowness_e313(np.array([95.0, 100.0, 105.0]))) == pytest.approx(4.34, abs=0.005)


@pytest.mark.parametrize("pair", [E313_CX_CZ_D65, E313_CX_CZ_C])
def test_agrees_with_colour_science(pair: tuple[float, float]) -> None:
    xyz = np.random.default_rng(0).uniform(2, 100, (50, 3))
    expected = colour.colorimetry.yellowness_ASTME313(xyz, C_XZ=np.array(pair))
    np.testing.assert_allclose(yellowness_e313(xyz, pair), expected, rtol=1e-12, atol=1e-9)
