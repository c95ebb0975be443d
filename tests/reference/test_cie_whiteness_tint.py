"""CIE whiteness and tint against CIE 15:2004, section 9.4, and colour-science."""

import colour
import numpy as np
import pytest

from greasecheck.measure.colorimetry import WHITE_XY_D65, tint_cie, whiteness_cie

WHITE = np.array([95.047, 100.0, 108.883])  # ASTM E308-18, table 5, D65/2 (from memory)
CHROMATICITY_DIGIT = 1e-4


def test_white_point_is_that_of_d65() -> None:
    np.testing.assert_allclose(
        WHITE[:2] / WHITE.sum(), WHITE_XY_D65, rtol=0, atol=CHROMATICITY_DIGIT / 2
    )


def test_the_perfect_diffuser_is_100_without_tint() -> None:
    rounding = CHROMATICITY_DIGIT / 2 * (800 + 1700)  # what a four-digit white point allows
    assert float(whiteness_cie(WHITE)) == pytest.approx(100, abs=rounding)
    assert float(tint_cie(WHITE)) == pytest.approx(0, abs=CHROMATICITY_DIGIT / 2 * (1000 + 650))


def test_weights_of_the_formulas() -> None:
    """W = Y + 800 (xn - x) + 1700 (yn - y), T = 1000 (xn - x) - 650 (yn - y)."""
    x, y, luminance = 0.3167, 0.3334, 80.0
    xyz = luminance / y * np.array([x, y, 1 - x - y])
    assert float(whiteness_cie(xyz)) == pytest.approx(80 + 800 * -0.0040 + 1700 * -0.0044)
    assert float(tint_cie(xyz)) == pytest.approx(1000 * -0.0040 - 650 * -0.0044)


def test_agree_with_colour_science() -> None:
    xyz = np.random.default_rng(1).uniform(20, 100, (50, 3))
    xy = colour.XYZ_to_xy(xyz)
    expected = colour.colorimetry.whiteness_CIE2004(xy, xyz[:, 1], np.array(WHITE_XY_D65))
    np.testing.assert_allclose(whiteness_cie(xyz), expected[..., 0], rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(tint_cie(xyz), expected[..., 1], rtol=1e-9, atol=1e-9)
