"""The figures of a bone's surface, worked by hand, and what is bone by its colour."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.special import ndtr

from greasecheck.measure.bone.target import clean_bone
from greasecheck.measure.bone.yellowness import (
    BoneMaps,
    bone_like,
    bone_maps,
    bone_reading,
    is_reddish,
    least_yellow,
    lit_colour,
    reddish_in_holes,
    reddish_share,
)
from greasecheck.measure.bone.zone import Zone
from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.model import BoneState, Box
from greasecheck.reference.cie import WHITES

if TYPE_CHECKING:
    from greasecheck.model import BoolArray, FloatArray

PER_MM = 4.0
WHITE = np.array(WHITES["D65"])
PALE, YELLOW = 0.7 * WHITE, 0.7 * WHITE * np.array([1.0, 1.0, 0.55])


def zone_of(xyz: FloatArray) -> Zone:
    seen = np.ones(xyz.shape[:2], dtype=np.bool_)
    rows, columns = xyz.shape[0], xyz.shape[1]
    box = Box(x_mm=0, y_mm=0, width_mm=columns / PER_MM, height_mm=rows / PER_MM)
    return Zone(box=box, per_mm=PER_MM, seen=seen, unclipped=seen, xyz=xyz)


def maps_of(
    yellowness: FloatArray, surface: BoolArray | None = None, luminance: float = 100.0
) -> BoneMaps:
    """A bone of 40 mm square that is yellow from 32 on; its surface is all of it if not given."""
    whole = np.ones((160, 160), dtype=np.bool_)
    return BoneMaps(
        mask=whole,
        surface=whole if surface is None else surface,
        seen=whole,
        yellow=yellowness > 32,
        limit=32.0,
        yellowness=yellowness,
        smooth=np.broadcast_to(luminance * WHITE, (160, 160, 3)),
        lit_xyz=50.0 * WHITE,
    )


@pytest.mark.parametrize(
    ("chroma", "hue_deg", "is_bone"),
    [
        (11.9, 200.0, True),
        (12.1, 200.0, False),
        (20.0, 19.0, False),
        (20.0, 21.0, True),
        (20.0, 114.0, True),
        (20.0, 116.0, False),
    ],
)
def test_bone_is_pale_or_of_the_hues_of_bone(chroma: float, hue_deg: float, is_bone: bool) -> None:
    hue = np.radians(hue_deg)
    assert bone_like((70.0, chroma * np.cos(hue), chroma * np.sin(hue))) is is_bone


@pytest.mark.parametrize(
    ("x", "z", "is_red"),
    [
        (1.099, 0.5, False),  # 0.2 of 0.5
        (1.101, 0.5, True),
        (1.019, 0.95, False),  # pale: 0.2 of 0.1
        (1.021, 0.95, True),
    ],
)
def test_redness_is_what_x_has_above_grey_over_what_z_lacks(
    x: float, z: float, is_red: bool
) -> None:
    assert bool(is_reddish(0.43 * WHITE * np.array([x, 1.0, z]))) is is_red


def test_the_lit_half_gives_the_colour() -> None:
    xyz = np.array([[1.0, 10.0, 1.0], [2.0, 20.0, 2.0], [3.0, 30.0, 3.0], [5.0, 40.0, 9.0]])
    assert lit_colour(xyz) == pytest.approx([4.0, 35.0, 6.0])


def test_the_error_of_a_median_counts_mottles_of_4_mm() -> None:
    rng = np.random.default_rng(2)
    yellowness = rng.normal(30, 5, (160, 160))
    surface = np.ones((160, 160), dtype=np.bool_)
    surface[:80] = False
    yellow = np.zeros_like(surface)
    yellow[80:100] = True
    maps = BoneMaps(
        mask=np.ones_like(surface),
        surface=surface,
        seen=surface,
        yellow=yellow,
        limit=60.0,
        yellowness=yellowness,
        smooth=np.zeros((160, 160, 3)),
        lit_xyz=PALE,
    )
    found = bone_reading(zone_of(np.zeros((160, 160, 3))), maps, 0.5, BoneState.DRY)
    low, middle, high = np.percentile(yellowness[surface], [25, 50, 75])
    mottles = 20 * 40 / 4**2  # of the surface, 20 mm x 40 mm
    std = np.sqrt(np.pi / 2) * (high - low) / 1.349 / np.sqrt(mottles)
    assert found.yi_std == pytest.approx(np.hypot(0.5, std))
    assert (found.yi_e313, found.yi_spread) == pytest.approx((middle, high - low))
    assert found.yellow_patch_share == pytest.approx(0.25)
    assert found.area_mm2 == pytest.approx(40 * 40)
    small = replace(maps, surface=surface & (np.indices(surface.shape).sum(axis=0) == 240))
    lone = bone_reading(zone_of(np.zeros((160, 160, 3))), small, 0.0, BoneState.DRY)
    quartiles = np.percentile(yellowness[small.surface], [25, 75])
    alone = np.sqrt(np.pi / 2) * (quartiles[1] - quartiles[0]) / 1.349
    assert lone.yi_std == pytest.approx(alone)  # less than one mottle counts as one


@pytest.mark.parametrize(("index", "is_foreign"), [(0.5, False), (-0.5, True)])
def test_what_is_bluer_than_white_is_as_wrong_as_it_is_far_from_bone(
    index: float, is_foreign: bool
) -> None:
    maps = maps_of(np.full((160, 160), index), luminance=0.0)
    found = bone_reading(zone_of(np.zeros((160, 160, 3))), maps, 0.5, BoneState.DRY)
    clean = float(yellowness_e313(clean_bone().xyz))
    apart = clean - index if is_foreign else 0.0
    assert found.yi_std == pytest.approx(np.hypot(0.5, apart))


def test_white_light_mirrored_counts_in_the_error() -> None:
    whole = np.ones((160, 160), dtype=np.bool_)
    zone = zone_of(np.tile(YELLOW, (160, 160, 1)))
    found = bone_reading(zone, bone_maps(zone, whole), 3.0, BoneState.DRY, gloss=4.0)
    assert found.yi_std == pytest.approx(5.0)


def test_colours_are_smoothed_over_a_standard_deviation_of_1_5_mm() -> None:
    xyz = np.tile(PALE, (160, 160, 1))
    xyz[:, 80:] = YELLOW
    maps = bone_maps(zone_of(xyz), np.ones((160, 160), dtype=np.bool_))
    z = maps.smooth[80, :, 2]
    away_mm = (np.arange(160) + 0.5 - 80) / PER_MM
    expected = PALE[2] + (YELLOW[2] - PALE[2]) * ndtr(away_mm / 1.5)
    assert z[60:100] == pytest.approx(expected[60:100], abs=0.02 * (PALE[2] - YELLOW[2]))


def patch_mm2(side_px: int) -> float:
    """Area of the yellow patch that a square of a yellow bone's pixels gives."""
    xyz = np.tile(PALE, (160, 160, 1))
    start = 80 - side_px // 2
    xyz[start : start + side_px, start : start + side_px] = YELLOW
    maps = bone_maps(zone_of(xyz), np.ones((160, 160), dtype=np.bool_))
    return float(maps.yellow.sum() / PER_MM**2)


def test_specks_below_9_mm2_are_no_patch() -> None:
    areas = [patch_mm2(side) for side in range(8, 24)]
    patches = [area for area in areas if area > 0]
    assert areas[0] == 0
    assert 9 <= min(patches) < 12
    assert areas == sorted(areas)


def test_yellow_is_beyond_the_limit_of_clean_bone() -> None:
    assert float(yellowness_e313(PALE)) < 25 < float(yellowness_e313(YELLOW))


def test_a_patch_in_the_shade_is_as_yellow_as_in_the_light() -> None:
    xyz = np.tile(PALE, (160, 160, 1))
    xyz[:, 120:] = YELLOW
    whole = np.ones((160, 160), dtype=np.bool_)
    lit = bone_maps(zone_of(xyz), whole)
    xyz[:, 100:] *= 0.2
    shaded = bone_maps(zone_of(xyz), whole)
    assert not shaded.surface[:, 120:].any()
    assert shaded.yellow.sum() == pytest.approx(lit.yellow.sum(), rel=0.1)
    figures = [bone_reading(zone_of(xyz), maps, 1.0, BoneState.DRY) for maps in (lit, shaded)]
    shares = [one.yellow_patch_share for one in figures]
    assert shares == pytest.approx([0.25, 0.25], abs=0.02)


def test_a_shaded_side_changes_neither_the_colour_nor_the_limit_of_yellow() -> None:
    """Its hue is that of the light from all around, bluer than the lamp's."""
    tones = 0.6 * WHITE * np.array([1.0, 1.0, 0.82]) * np.linspace(0.8, 1.2, 160)[:, None, None]
    xyz = np.tile(tones, (1, 160, 1))
    whole, lit = np.ones((160, 160), dtype=np.bool_), np.ones((160, 160), dtype=np.bool_)
    lit[:, 100:] = False
    alone = bone_maps(zone_of(xyz), lit)
    xyz[:, 100:] *= 0.15 * np.array([1.0, 1.0, 1.2])
    both = bone_maps(zone_of(xyz), whole)
    assert both.lit_xyz == pytest.approx(alone.lit_xyz, rel=0.01)
    assert both.limit == pytest.approx(alone.limit, abs=0.3)
    clean = float(yellowness_e313(clean_bone().xyz))
    assert clean + clean_bone().yi_least_margin < both.limit  # it follows the bone's own tone


def test_red_in_holes_counts_with_the_surface() -> None:
    surface = np.tile(0.4 * WHITE, (10, 1))
    surface[:2] *= np.array([1.3, 1.0, 0.4])
    assert reddish_share(surface) == pytest.approx(0.2)
    assert reddish_share(surface, besides=6.0) == pytest.approx(0.5)


@pytest.mark.parametrize(("luminance", "is_red"), [(1.3, False), (1.7, True)])
def test_a_hole_too_dark_for_a_hue_shows_no_blood(luminance: float, is_red: bool) -> None:
    bone = np.ones((160, 160), dtype=np.bool_)
    bone[60:100, 60:100] = False
    xyz = np.tile(PALE, (160, 160, 1))
    xyz[~bone] = luminance / 100 * WHITE * np.array([1.4, 1.0, 0.3])
    assert reddish_in_holes(xyz, bone, PER_MM)[75:85, 75:85].all() == is_red
    assert not reddish_in_holes(xyz, bone, PER_MM)[bone].any()


@pytest.mark.parametrize(("middle", "slope", "share_std"), [(33, 0.5, 0.05), (36, 0.0, 0.0)])
def test_the_share_is_as_sure_as_the_yellowness_at_its_limit(
    middle: float, slope: float, share_std: float
) -> None:
    maps = maps_of(np.broadcast_to(middle + slope * (np.arange(160) - 79.5) / 4, (160, 160)))
    zone = zone_of(np.zeros((160, 160, 3)))
    found = bone_reading(zone, maps, 0.0, BoneState.DRY)
    assert found.yellow_share_std == pytest.approx(0, abs=0.01)  # of Y 10,000, hardly any gloss
    surer = bone_reading(zone, maps, 1.0, BoneState.DRY)
    assert surer.yellow_share_std == pytest.approx(share_std, abs=0.01)  # 1 of a range of 20


def test_the_share_is_as_sure_with_bone_in_its_own_shade() -> None:
    """Half of the bone is shaded, and as yellow as the limit; what is lit is far from it."""
    lit = np.broadcast_to(np.arange(160) < 80, (160, 160))
    yellowness = np.full((160, 160), 10.0)
    yellowness[:, 80:] = 32 + np.linspace(-1, 1, 80)
    zone, maps = zone_of(np.zeros((160, 160, 3))), maps_of(yellowness, lit)
    found = bone_reading(zone, maps, 2.0, BoneState.DRY)
    assert found.yellow_share_std == pytest.approx(0.25, abs=0.01)


def test_the_least_yellow_part_is_its_lowest_twentieth() -> None:
    xyz = np.tile(YELLOW, (160, 160, 1))
    xyz[:12] = PALE * np.array([1, 1, 1.1])
    whole = np.ones((160, 160), dtype=np.bool_)
    assert least_yellow(bone_maps(zone_of(xyz), whole)) > 0
    xyz[:24] = PALE * np.array([1, 1, 1.1])
    assert least_yellow(bone_maps(zone_of(xyz), whole)) < 0
