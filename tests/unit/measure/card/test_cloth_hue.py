"""Bone in the shade is told from cloth as dark as it by its hue, on drawn scenes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.measure.card.cloth import find_cloth
from greasecheck.measure.card.not_bone import find_not_bone
from greasecheck.measure.card.pieces import find_pieces, told_by_hue
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


def scene(fill: FloatArray) -> Surroundings:
    """A bone whose lower half is as dark as the cloth, its shadow below, a narrow hole above."""
    level = np.full((*SIZE, 1), 4.0)
    level[WHOLE], level[SHADED], level[SHADOW], level[HOLE] = 55.0, 4.0, 1.2, 4.0
    hue = np.ones((*SIZE, 3))
    hue[WHOLE], hue[SHADED], hue[SHADOW], hue[HOLE] = BONE, BONE * fill, fill, 1.0
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


def bone(around: Surroundings) -> BoolArray:
    cloth = find_cloth(around)
    pieces = find_pieces(around, cloth, told_by_hue(around, cloth))
    return np.asarray(np.any([piece.mask for piece in pieces if piece.reason is None], axis=0))


def test_shaded_bone_stays_bone_its_shadow_and_a_narrow_hole_do_not() -> None:
    found = bone(scene(np.ones(3)))
    assert found[SHADED].mean() > 0.9
    assert found[SHADOW].mean() < 0.1
    assert found[HOLE].mean() < 0.3


def test_where_other_light_fills_the_shadow_its_hue_tells_nothing() -> None:
    around = scene(DAYLIGHT)
    assert told_by_hue(around, find_cloth(around)) is None
    found = bone(around)
    assert found[WHOLE].mean() > 0.45
    assert found[SHADOW].mean() < 0.1


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
