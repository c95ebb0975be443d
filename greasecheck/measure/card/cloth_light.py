"""Measures on the cloth how the light on the bone differs from that on the card."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.card.cloth import FEWEST_SHADOW, SHADOW_L
from greasecheck.measure.robust import percentiles

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.card.cloth import Cloth
    from greasecheck.measure.card.pieces import Piece
    from greasecheck.measure.card.surroundings import Surroundings
    from greasecheck.model import BoolArray, FloatArray

# Without a source; the words beside each value state what it does.
CLEAR = 4  # samples around bone and card that blur, flare and their own light reach
# A bone's shadow lies against it and may be as narrow; as far as this JPEGs of half the colour's
# resolution mix it with the bone.
CLEAR_IN_SHADOW = 2
LEAST_SHADOW_Y = 0.3  # of 100; darker in 8 bits, a hue is noise
BESIDE_CARD_MM = 20.0  # cloth as near as this is lit as the card's edge
BESIDE_BONE_MM = 12.0  # of a small bone; of a large one
BESIDE_BONE_SHARE = 0.15  # of the root of its area


def hue_beside_bone(
    around: Surroundings, cloth: Cloth, pieces: Sequence[Piece], mask: BoolArray
) -> float | None:
    """Return by how much redder the light beside the bone is than the card's light goes on.

    It is the logarithm of X over Z of the cloth beside the bone less that beside the card, so that
    the cloth's own colour falls out: a lamp that lights the bone alone lights the cloth at its
    rim, too. None where too little cloth is seen.

    Parameters
    ----------
    around : Surroundings
        The picture in the card's light, carried on beyond the card.
    cloth : Cloth
        The cloth's lightness.
    pieces : sequence of Piece
        What stands out from the cloth.
    mask : ndarray, shape (rows, columns), bool
        The bone.
    """
    bare = _bare_cloth(around, pieces, mask, CLEAR)
    lit = bare & (around.lightness - cloth.lightness > -SHADOW_L)
    reach_mm = max(BESIDE_BONE_MM, BESIDE_BONE_SHARE * float(np.sqrt(around.mm2[mask].sum())))
    beside_bone = _near(mask, around, reach_mm)
    beside_card = _near(around.on_card, around, BESIDE_CARD_MM)
    for ground in (lit, bare):  # all of it where something shades the whole bone
        places = (ground & beside_bone, ground & beside_card)
        if min(place.sum() for place in places) >= FEWEST_SHADOW:
            at_bone, at_card = (_hue(around.xyz[place]) for place in places)
            return at_bone - at_card
    return None


def shadow_hue(
    around: Surroundings, cloth: Cloth, pieces: Sequence[Piece], mask: BoolArray
) -> float:
    """Return by how much redder the light in the bone's shadow is than that in the open.

    It is the logarithm of X over Z there less that of open cloth, so that the cloth's own colour
    falls out: what lights the shadow is the light from all around without the lamp. 0 where too
    little of a shadow is seen; parameters as for `hue_beside_bone`.
    """
    above = around.lightness - cloth.lightness
    bare = _bare_cloth(around, pieces, mask, CLEAR_IN_SHADOW)
    shadow, open_cloth = bare & (above < -SHADOW_L), bare & (np.abs(above) < 2 * cloth.std)
    if min(shadow.sum(), open_cloth.sum()) < FEWEST_SHADOW:
        return 0.0
    return _hue(around.xyz[shadow]) - _hue(around.xyz[open_cloth])


def _bare_cloth(
    around: Surroundings, pieces: Sequence[Piece], mask: BoolArray, apart: int
) -> BoolArray:
    """Return the cloth that lies more than `apart` samples from any piece and from the card."""
    standing = np.any([mask, around.on_card, *(piece.mask for piece in pieces)], axis=0)
    element = np.ones((2 * apart + 1,) * 2, np.uint8)
    clear = cv2.dilate(standing.astype(np.uint8), element) == 0
    return np.asarray(clear & (around.xyz[..., 1] > LEAST_SHADOW_Y))


def _near(mask: BoolArray, around: Surroundings, reach_mm: float) -> BoolArray:
    """Return what lies within reach of a mask; the picture's scale is that at the mask."""
    away = cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 3)
    mm = float(np.sqrt(percentiles(around.mm2[mask], [50])[0]))
    return np.asarray(away * mm < reach_mm)


def _hue(xyz: FloatArray) -> float:
    x, _, z = (percentiles(channel, [50])[0] for channel in xyz.T)
    return float(np.log(x / z))
