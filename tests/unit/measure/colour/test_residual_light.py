"""Paper away from the jar tells how well the light is known."""

from dataclasses import replace

import numpy as np
import pytest

from greasecheck.measure.colour.light_field import LightField
from greasecheck.measure.colour.patches import SheetColours
from greasecheck.measure.colour.residual_light import UNKNOWN, LightMisfit, light_misfit
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import PAPER

SHEET = known_sheets()[0]
EVEN = LightField(
    centre_mm=np.array([130.0, 95.0]),
    half_mm=np.array([130.0, 95.0]),
    level=np.zeros(5),
    hue=np.array([[0.05, 0.0, -0.05], [0.0, 0.0, 0.0]]),
)


def misfit(gain: float, seen: int, channel: int = 0, light: LightField = EVEN) -> LightMisfit:
    """Windows of which every other one is redder, and only the first few are seen."""
    windows = SHEET.paper_windows
    count = len(windows)
    camera = np.ones((count, 3))
    camera[::2, channel] *= gain
    colours = SheetColours(
        names=(PAPER,) * count,
        stems=np.zeros(count, dtype=np.int64),
        xyz=np.full((count, 3), 100.0),
        points_mm=np.array([box.centre_mm for box in windows]),
        linear=camera,
        bright_share=np.zeros(count),
        dark_share=np.zeros(count),
        unseen_share=(np.arange(count) >= seen).astype(float),
        usable=np.ones(count, dtype=bool),
        out_of_gamut=np.zeros(count, dtype=bool),
        known=np.ones(count, dtype=bool),
        neutral=np.ones(count, dtype=bool),
    )
    return light_misfit(colours, camera, light, SHEET)


def test_even_paper_has_no_misfit() -> None:
    found = misfit(1.0, seen=20)
    assert found.level == found.hue == 0
    assert found.largest_hue_slope == pytest.approx(0.1)
    assert found.bone_yi_std(1.0) == pytest.approx(6.0)


def test_uneven_hue_is_found_and_windows_near_the_jar_are_left_out() -> None:
    found = misfit(1.1, seen=20)
    assert found.hue == pytest.approx(np.log(1.1) / 2, rel=0.1)
    assert sum(window is None for window in found.windows) == 6
    assert found.bone_yi_std(0.0) == pytest.approx(120 * found.hue)


def test_hue_is_red_over_blue() -> None:
    by_red, by_green, by_blue = (misfit(1.1, 20, channel).hue for channel in range(3))
    assert by_red == pytest.approx(by_blue)
    assert by_green == pytest.approx(0, abs=1e-12)


def test_a_hue_slope_counts_either_way() -> None:
    blue_to_the_right = np.array([[-0.05, 0.0, 0.05], [0.01, 0.0, 0.0]])
    found = misfit(1.0, 20, light=replace(EVEN, hue=blue_to_the_right))
    assert found.largest_hue_slope == pytest.approx(0.1)


def test_too_few_windows_tell_nothing() -> None:
    found = misfit(1.0, seen=3)
    assert found.level == found.hue == UNKNOWN
