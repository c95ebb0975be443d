"""How surely the share of yellow patches is known, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from greasecheck.measure.bone.patches import gloss_std, patch_share_std

EVEN = np.linspace(0.0, 100.0, 10_001)


@pytest.mark.parametrize(("luminance", "paling"), [(50.0, 4.0), (25.0, 8.0)])
def test_gloss_counts_by_the_root_mean_square_of_none_to_all(
    luminance: float, paling: float
) -> None:
    assert gloss_std(50.0, luminance) == pytest.approx(paling)
    lit = (EVEN, np.full_like(EVEN, luminance))
    seen = np.linspace(0.0, paling, 1001)  # anything between none and all of it
    mean_square = float(np.mean(seen**2))
    alone = patch_share_std(EVEN, lit, 50.0, 0.0)
    assert alone == pytest.approx(mean_square**0.5 / 100, rel=0.01)  # of a range of 100
    with_colour = patch_share_std(EVEN, lit, 50.0, 3.0)
    assert with_colour == pytest.approx((mean_square + 9.0) ** 0.5 / 100, rel=0.01)


def test_gloss_pales_by_the_light_of_bone_about_as_yellow_as_the_limit() -> None:
    near = np.abs(EVEN - 50.0) < 5.0
    mixed, alike = (
        patch_share_std(EVEN, (EVEN, luminance), 50.0, 0.0)
        for luminance in (np.where(near, 25.0, 90.0), np.full_like(EVEN, 25.0))
    )
    # More than half of the bone within 8 of the limit lies within 5: the median is its light.
    assert mixed == pytest.approx(alike)
