"""Bars behind a drawn jar of known transmittance."""

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest

from greasecheck.measure.checks import limits
from greasecheck.measure.colour.model import fit_colour
from greasecheck.measure.sheet.find import find_sheet
from greasecheck.measure.sight.bars import Alignment
from greasecheck.measure.sight.view import Expected, SightView, look_at_sight
from greasecheck.model import Photo
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import nominal_values
from tests.synthetic.jar_scene import FIELD_MM, JarScene, photograph


@cache
def view(scene: JarScene, there: Alignment | None = None) -> SightView:
    return look(photograph(scene), there)


def look(photo: Photo, there: Alignment | None = None) -> SightView:
    placement = find_sheet(photo)
    colour = fit_colour(photo, placement, nominal_values(placement.geometry))
    if there is None:
        return look_at_sight(photo, placement, colour)
    expected = Expected(alignment=there, profile=np.ones((7, 3)))
    return look_at_sight(photo, placement, colour, (expected, expected))


def test_ratio_is_that_of_the_jar() -> None:
    sight = view(JarScene(jar=0.9))
    for pair in (sight.fine, sight.coarse):
        np.testing.assert_allclose(pair.ratio, 0.9, atol=0.008)


@pytest.mark.parametrize("kept", [0.8, 0.3, 0.05])
def test_ratio_follows_the_water_whatever_the_veil(kept: float) -> None:
    veiled = view(JarScene(transmittance=(kept,) * 3, veil=0.3, seed=1))
    clear = view(JarScene())
    ratio = veiled.fine.ratio / clear.fine.ratio
    assert ratio == pytest.approx(np.full(3, kept), rel=0.03, abs=3 * veiled.fine.ratio_std.max())


def test_channels_are_kept_apart() -> None:
    brown = view(JarScene(transmittance=(0.8, 0.5, 0.2), seed=2))
    ratio = brown.fine.ratio / view(JarScene()).fine.ratio
    assert ratio[0] > ratio[1] > ratio[2]
    assert ratio[0] == pytest.approx(0.8, abs=0.02)


def test_stretch_by_water_is_found() -> None:
    found = view(JarScene(stretch=1.03)).fine.wet.alignment
    assert found.stretch == pytest.approx(1.03, abs=0.006)
    assert found.shift_mm == pytest.approx((90.0 - 140.0) * 0.03, abs=0.25)


def test_lost_bars_are_looked_for_where_expected() -> None:
    there = Alignment(shift_mm=-1.1, stretch=1.022)
    lost = view(JarScene(transmittance=(0.0005,) * 3, veil=0.5, seed=3), there)
    assert lost.fine.wet.alignment == there
    assert not lost.fine.clearly_seen
    assert np.abs(lost.fine.ratio).max() < 0.002


def test_foam_is_rejected_cell_by_cell() -> None:
    foamy = view(JarScene(transmittance=(0.5,) * 3, foam_mm=22.0, seed=4))
    assert foamy.fine.wet.used_share < 0.8
    ratio = foamy.fine.ratio / view(JarScene()).fine.ratio
    np.testing.assert_allclose(ratio, 0.5, atol=0.03)


@pytest.mark.parametrize(("field", "is_told"), [("wet_fine", True), ("wet_coarse", False)])
def test_a_spot_before_the_fine_bars_is_a_hole_in_their_contrast(field: str, is_told: bool) -> None:
    photo, box = photograph(JarScene()), getattr(known_sheets()[0].sight, field)
    per_mm = photo.pixels.shape[1] / FIELD_MM.width_mm
    x, y = box.centre_mm
    spot = np.zeros(photo.pixels.shape[:2], np.uint8)
    centre = round((x - FIELD_MM.x_mm) * per_mm), round((y - FIELD_MM.y_mm) * per_mm)
    cv2.circle(spot, centre, round(8 * per_mm), 1, -1)
    blurred = cv2.GaussianBlur(photo.pixels, (0, 0), 2 * per_mm)
    pixels = np.where(spot[..., np.newaxis] > 0, blurred, photo.pixels)
    found = look(replace(photo, pixels=pixels)).hole
    assert (found > limits.HOLE.doubtful) is is_told
    assert view(JarScene()).hole == 0


def test_drops_on_the_wall_are_left_out() -> None:
    splashed = view(JarScene(transmittance=(0.5,) * 3, drops=14, seed=6))
    assert 0.6 < splashed.fine.wet.used_share < 0.97
    ratio = splashed.fine.ratio / view(JarScene()).fine.ratio
    np.testing.assert_allclose(ratio, 0.5, atol=0.02)


def test_light_from_the_side_changes_little() -> None:
    tilted = view(JarScene(transmittance=(0.5,) * 3, light=(0.3, 0.1), exposure=0.6, seed=5))
    ratio = tilted.fine.ratio / view(JarScene()).fine.ratio
    np.testing.assert_allclose(ratio, 0.5, atol=0.015)
