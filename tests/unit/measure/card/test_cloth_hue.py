"""Bone in the shade is told from cloth as dark as it by its hue, on drawn scenes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.measure.card.cloth import find_cloth
from greasecheck.measure.card.not_bone import find_not_bone
from greasecheck.measure.card.pieces import find_pieces, standing_out, told_by_hue
from greasecheck.measure.card.surroundings import Surroundings
from greasecheck.measure.colorimetry import lab_from_xyz
from greasecheck.reference.cie import WHITES

if TYPE_CHECKING:
    from greasecheck.model import BoolArray, FloatArray

SIZE = (240, 320)
WHITE = np.array(WHITES["D65"]) / 100
BONE = np.array([1.02, 1.0, 0.78])  # over the white: a yellowness index of about 30
DAYLIGHT = np.array([0.9, 1.0, 1.5])  # of a shadow that other light fills
WHOLE, SHADED, SHADOW = np.s_[80:160, 100:220], np.s_[120:160, 100:220], np.s_[160:185, 100:220]
HOLE = np.s_[95:101, 140:170]
CREST, WIDE, BESIDE = np.s_[114:126, 60:260], np.s_[80:160, 60:260], np.s_[40:200, 30:290]


def scene(fill: FloatArray) -> Surroundings:
    """A bone whose lower half is as dark as the cloth, its shadow below, a narrow hole above."""
    level, hue = np.full((*SIZE, 1), 4.0), np.ones((*SIZE, 3))
    level[WHOLE], level[SHADED], level[SHADOW], level[HOLE] = 55.0, 4.0, 1.2, 4.0
    hue[WHOLE], hue[SHADED], hue[SHADOW], hue[HOLE] = BONE, BONE * fill, fill, 1.0
    return around(level, hue)


def lit_along_its_crest(beside: float) -> Surroundings:
    """A bone with only its crest lit, cloth of bone's hue around it so many times as light."""
    level, hue = np.full((*SIZE, 1), 4.0), np.ones((*SIZE, 3))
    level[BESIDE], level[WIDE], level[CREST] = 4.0 * beside, 4.0, 55.0
    hue[BESIDE] = BONE if beside > 1 else 1.0
    hue[WIDE] = BONE
    return around(level, hue)


def around(level: FloatArray, hue: FloatArray) -> Surroundings:
    """What a camera sees of light levels, shape (rows, columns, 1), and hues, with some noise."""
    grain = np.random.default_rng(5).normal(1, 0.01, (*SIZE, 3))
    xyz = level * hue * WHITE * grain
    whole = np.ones(SIZE, bool)
    return Surroundings(
        step_px=1.0,
        whole_px=1.0,
        xyz=xyz,
        lab=lab_from_xyz(xyz).astype(np.float32),
        unclipped=whole,
        on_card=~whole,
        mm2=np.ones(SIZE),
        beyond=np.ones(SIZE),
    )


def bone(seen: Surroundings) -> BoolArray:
    cloth = find_cloth(seen)
    pieces = find_pieces(seen, standing_out(seen, cloth, told_by_hue(seen, cloth)))
    return np.asarray(np.any([piece.mask for piece in pieces if piece.reason is None], axis=0))


def test_shaded_bone_stays_bone_its_shadow_and_a_narrow_hole_do_not() -> None:
    found = bone(scene(np.ones(3)))
    assert found[SHADED].mean() > 0.9
    assert found[SHADOW].mean() < 0.1
    assert found[HOLE].mean() < 0.3


def test_where_other_light_fills_the_shadow_its_hue_tells_nothing() -> None:
    filled = scene(DAYLIGHT)
    assert told_by_hue(filled, find_cloth(filled)) is None
    found = bone(filled)
    assert found[WHOLE].mean() > 0.45
    assert found[SHADOW].mean() < 0.1


def test_flanks_as_light_as_the_cloth_are_bone_however_wide() -> None:
    assert bone(lit_along_its_crest(1.0))[WIDE].mean() > 0.95


def test_cloth_that_another_lamp_lights_beside_the_bone_keeps_its_hue_from_being_trusted() -> None:
    lit = lit_along_its_crest(1.6)
    assert told_by_hue(lit, find_cloth(lit)) is None


@pytest.mark.parametrize(("crest", "is_bone"), [(50.0, True), (14.0, False)])
def test_a_jaw_lit_as_the_skull_is_no_antler_though_its_side_is(
    crest: float, is_bone: bool
) -> None:
    mask = np.zeros(SIZE, bool)
    skull, bar, side = np.s_[40:120, 60:240], np.s_[170:190, 60:240], np.s_[176:190, 60:240]
    xyz = np.ones((*SIZE, 3))
    for place, level, hue in (
        (skull, 55.0, (1.0, 1.0, 0.85)),
        (bar, crest, (1.0, 1.0, 0.85)),
        (side, 10.0, (1.02, 1.0, 0.6)),
    ):
        mask[place] = True
        xyz[place] = level * np.array(hue) * WHITE
    assert bool(find_not_bone(xyz, mask).brown[171:175, 80:220].mean() < 0.5) is is_bone
