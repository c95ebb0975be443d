"""The shadow of the water's surface: how far it reaches, how dark it is."""

import numpy as np
import pytest
from numpy.typing import NDArray

from greasecheck.measure.sight.shade import WaterShade, shade_of
from greasecheck.measure.sight.stand_light import lamp_elevation_deg, light_of

DEPTH_MM = np.arange(5.0, 89.0, 2.0)


def lit_below(edge_mm: float, dark: float, bright: float, soft_mm: float) -> WaterShade:
    rise = 1 / (1 + np.exp(-(DEPTH_MM - edge_mm) / soft_mm))
    return shade_of(dark + (bright - dark) * rise, DEPTH_MM)


@pytest.mark.parametrize("edge_mm", [20.0, 35.0, 55.0])
@pytest.mark.parametrize("soft_mm", [1.0, 3.0])
def test_the_edge_of_a_shadow_is_found(edge_mm: float, soft_mm: float) -> None:
    shade = lit_below(edge_mm, 0.35, 1.2, soft_mm)
    assert shade.reach_mm == pytest.approx(edge_mm, abs=3.0)
    assert shade.dark == pytest.approx(0.35, abs=0.05)


def test_light_that_the_jar_adds_farther_down_does_not_move_the_edge() -> None:
    stair = np.where(DEPTH_MM < 30, 0.3, np.where(DEPTH_MM < 65, 1.0, 1.6))
    assert shade_of(stair, DEPTH_MM).reach_mm == pytest.approx(30.0, abs=3.0)


@pytest.mark.parametrize("profile", [np.full(42, 0.9), np.linspace(1.1, 0.8, 42)])
def test_light_from_all_round_casts_no_shadow(profile: NDArray[np.float64]) -> None:
    assert shade_of(profile, DEPTH_MM).reach_mm is None


@pytest.mark.parametrize("elevation_deg", [20.0, 30.0, 45.0, 60.0])
def test_the_reach_tells_the_height_of_the_lamp(elevation_deg: float) -> None:
    """Snell's law: the figures of 24, 38 and 51 mm for 30, 45 and 60 degrees and 60 mm of water."""
    sine = np.sin(np.radians(elevation_deg)) / 1.333
    reach_mm = float(64.5 * np.tan(np.arcsin(sine)))
    assert lamp_elevation_deg(reach_mm, 60.0) == pytest.approx(elevation_deg, abs=1e-6)


def test_murk_takes_light_that_is_gathered_and_sends_light_into_shadow() -> None:
    gathered, shaded = light_of(0.0), light_of(-0.6)
    assert gathered.shade > 1.0 > shaded.shade > 0.3
    assert gathered.coarse > 0.8
    assert shaded.coarse < -0.3
    assert gathered.absorbed < shaded.absorbed < 1.5
