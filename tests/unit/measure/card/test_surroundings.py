"""The colours and areas of the samples around a card."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from greasecheck.measure.card.surroundings import _beyond, _coarse_places, _lab, _sample_areas
from greasecheck.measure.colorimetry import lab_from_xyz
from greasecheck.model import Placement
from greasecheck.reference import known_cards

PX_PER_MM = 0.4
CARD = known_cards()[0]
PLACED = Placement(
    homography=np.diag([PX_PER_MM, PX_PER_MM, 1.0]),
    lens=None,
    geometry=CARD,
    marker_ids=(),
    tag=None,
    pixels_per_mm=PX_PER_MM,
    tilt_deg=0.0,
    residual_px=0.1,
    tag_scale=None,
)
SIZE_PX = (240, 160)


def test_colours_are_those_of_cielab_above_its_straight_dark_end() -> None:
    xyz = np.random.default_rng(3).uniform(2.0, 100.0, (5, 6, 3))
    assert _lab(xyz) == pytest.approx(lab_from_xyz(xyz), abs=1e-3)


@pytest.mark.parametrize("step", [1, 2])
def test_samples_share_the_area_that_the_picture_shows(step: int) -> None:
    size = (SIZE_PX[0] // step, SIZE_PX[1] // step)
    areas = _sample_areas(_coarse_places(PLACED, SIZE_PX), size)
    np.testing.assert_allclose(areas, np.full(size[::-1], (step / PX_PER_MM) ** 2))


def test_a_card_seen_from_twice_as_far_stands_for_four_times_the_area() -> None:
    far = replace(PLACED, homography=np.diag([PX_PER_MM / 2, PX_PER_MM / 2, 1.0]))
    near, away = (_sample_areas(_coarse_places(one, SIZE_PX), SIZE_PX) for one in (PLACED, far))
    np.testing.assert_allclose(away, 4 * near)


def test_distance_from_the_card_is_in_half_its_longer_side() -> None:
    far = _beyond(_coarse_places(PLACED, SIZE_PX), PLACED)
    longer_mm = max(CARD.width_mm, CARD.height_mm)
    right_mm = (SIZE_PX[0] - SIZE_PX[0] / 48) / PX_PER_MM - CARD.width_mm
    assert far[0, 0] == 0
    assert far[0, -1] == pytest.approx(right_mm / (longer_mm / 2), rel=0.01)
