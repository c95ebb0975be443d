"""The hue of the light beside the bone and in its shadow, on drawn cloth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from greasecheck.measure.card.cloth import Cloth, shadow_level
from greasecheck.measure.card.cloth_light import hue_beside_bone, shadow_hue
from greasecheck.measure.card.surroundings import Surroundings
from greasecheck.measure.colorimetry import lab_from_xyz

SIZE = (120, 200)
CARD, BONE = np.s_[30:90, 20:70], np.s_[30:90, 120:170]
BESIDE_BONE, SHADOW = np.s_[15:105, 105:185], np.s_[93:103, 120:170]
CLOTH_XYZ = np.array([4.4, 4.0, 3.0])  # a reddish cloth, whose own hue must not count
REDDER = np.array([1.05, 1.0, 0.95])


def scene(*, beside: np.ndarray | float = 1.0, shadow: np.ndarray | float = 1.0) -> Surroundings:
    """A card left and a bone right on cloth, with other light around the bone or below it."""
    xyz = np.tile(CLOTH_XYZ, (*SIZE, 1))
    xyz[BESIDE_BONE] *= beside
    xyz[SHADOW] = CLOTH_XYZ * 0.3 * shadow
    on_card = np.zeros(SIZE, bool)
    on_card[CARD] = True
    xyz[CARD], xyz[BONE] = 60.0, 50.0
    return Surroundings(
        step_px=1.0,
        whole_px=1.0,
        xyz=xyz,
        lab=lab_from_xyz(xyz).astype(np.float32),
        unclipped=np.ones(SIZE, bool),
        on_card=on_card,
        mm2=np.ones(SIZE),
        beyond=np.ones(SIZE),
    )


def bone() -> np.ndarray:
    mask = np.zeros(SIZE, bool)
    mask[BONE] = True
    return mask


def cloth() -> Cloth:
    plain = lab_from_xyz(np.tile(CLOTH_XYZ, (*SIZE, 1)))[..., 0]
    return Cloth(lightness=plain, std=1.0)


def test_the_cloth_s_own_hue_falls_out() -> None:
    assert hue_beside_bone(scene(), cloth(), (), bone()) == pytest.approx(0.0, abs=1e-9)
    assert shadow_hue(scene(), cloth(), (), bone()) == pytest.approx(0.0, abs=1e-9)


def test_light_that_is_redder_beside_the_bone_than_beside_the_card_is_above_zero() -> None:
    seen = scene(beside=REDDER)
    expected = np.log(REDDER[0] / REDDER[2])
    assert hue_beside_bone(seen, cloth(), (), bone()) == pytest.approx(expected, abs=0.01)
    bluer = hue_beside_bone(scene(beside=1 / REDDER), cloth(), (), bone())
    assert bluer == pytest.approx(-expected, abs=0.01)


def test_a_shadow_that_daylight_fills_is_below_zero() -> None:
    found = shadow_hue(scene(shadow=1 / REDDER), cloth(), (), bone())
    assert found == pytest.approx(-np.log(REDDER[0] / REDDER[2]), abs=0.01)


def test_a_shadow_s_level_is_that_of_its_darker_half() -> None:
    """Its rim lies in half shade and counts for little."""
    seen = scene()
    seen.xyz[93:103, 120:145], seen.xyz[93:103, 145:170] = CLOTH_XYZ * 0.3, CLOTH_XYZ * 0.5
    shaded = replace(seen, lab=lab_from_xyz(seen.xyz).astype(np.float32))
    assert shadow_level(shaded, cloth()) == pytest.approx(0.3, abs=0.01)
    assert shadow_level(scene(shadow=1 / 0.3), cloth()) == 1.0  # none is seen


def test_without_cloth_beside_the_bone_nothing_is_told() -> None:
    everywhere = np.ones(SIZE, bool)
    everywhere[CARD] = False
    assert hue_beside_bone(scene(), cloth(), (), everywhere) is None
    assert shadow_hue(scene(shadow=1 / 0.3), cloth(), (), bone()) == 0.0
