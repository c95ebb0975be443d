"""The light that photos of ladders are made of is that of the tubs traced."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.synthetic.ladder_light.compose import wet_light
from tests.synthetic.ladder_light.scenes import design_scenes, scene_of
from tests.synthetic.ladder_light.tub import DEPTHS, PATTERNS

HAZE_PER_M = 40.0
LEAST_SHOWN = 2e-3  # of dry white; readings end at 2e-2


@pytest.mark.parametrize("absorbed", [0.0, 1.0, 2.0])
def test_contrast_falls_as_traced_where_light_is_absorbed_on_its_way(absorbed: float) -> None:
    """Beer's law: light lost on its way down adds to what is lost on the way to the eye."""
    tub, water = design_scenes(1)[0]
    water = replace(water, attenuation_per_m=(HAZE_PER_M,) * 3)
    scene = scene_of(tub, water, 0)
    depths = np.array(scene.points_mm)
    share = np.exp(-(1 / scene.sight_cos + absorbed) * HAZE_PER_M / 1000 * depths)
    light = np.zeros((3, DEPTHS, PATTERNS))
    light[:, :, 0::2] = (scene.white * share)[:, None]
    light[:, :, 1::2] = (scene.black * share)[:, None]
    made = wet_light(tub, water, light)
    expected = np.exp(
        -(1 / scene.sight_cos + absorbed) * HAZE_PER_M / 1000 * np.asarray(made.depths_mm)
    )
    shown = (expected > LEAST_SHOWN) & (made.depths_mm >= depths[0])
    assert shown.sum() > 20
    assert made.fine[1][shown] == pytest.approx(expected[shown], rel=0.01)
    assert made.coarse[2][shown] == pytest.approx(expected[shown], rel=0.01)
