"""CIELAB of dark colours: CIE 15:2004, Colorimetry, section 8.2.1, and its older form.

Below Y / Yn = 0.008856 L* is 903.3 Y / Yn (CIE 15.2-1986; both from memory): a straight line.
"""

from __future__ import annotations

import numpy as np
import pytest

from greasecheck.measure.colorimetry import WHITE_D65, lab_from_xyz


@pytest.mark.parametrize("share", [0.001, 0.004, 0.0088])
def test_lightness_of_dark_greys_is_a_straight_line(share: float) -> None:
    lightness, a, b = lab_from_xyz(share * WHITE_D65)
    assert lightness == pytest.approx(903.3 * share, abs=0.05 * share)  # half its last digit
    assert (a, b) == pytest.approx((0, 0), abs=1e-9)


def test_so_are_a_and_b_of_dark_colours() -> None:
    x, y, z = 0.006, 0.004, 0.001
    _, a, b = lab_from_xyz(np.array([x, y, z]) * WHITE_D65)
    assert a == pytest.approx(500 * 7.787 * (x - y), rel=1e-4)
    assert b == pytest.approx(200 * 7.787 * (y - z), rel=1e-4)


def test_line_and_root_meet() -> None:
    below, above = (lab_from_xyz(share * WHITE_D65)[0] for share in (0.008856, 0.0088565))
    assert 0 < above - below < 0.001
