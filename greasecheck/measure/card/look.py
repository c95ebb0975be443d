"""Measures the bone beside a card: what is bone, its yellowness, where it is yellow."""

from __future__ import annotations

import math
import operator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import BoneError
from greasecheck.measure.bone.mask import drop_small
from greasecheck.measure.bone.patches import gloss_std
from greasecheck.measure.bone.pieces import bone_pieces, outlines
from greasecheck.measure.bone.yellowness import (
    BoneMaps,
    bone_maps,
    bone_reading,
    is_reddish,
    least_yellow,
)
from greasecheck.measure.bone.zone import Zone, close_up, refuse_unreadable
from greasecheck.measure.card.cloth import find_cloth, shadow_level
from greasecheck.measure.card.cloth_light import hue_beside_bone, shadow_hue
from greasecheck.measure.card.drawing import Correction, corrected
from greasecheck.measure.card.masks import opened, shrunk
from greasecheck.measure.card.not_bone import NotBone, find_not_bone
from greasecheck.measure.card.pattern import runs_at_rim
from greasecheck.measure.card.pieces import (
    CLEAR,
    find_pieces,
    hidden_by_cloth,
    standing_out,
    told_by_hue,
)
from greasecheck.measure.card.surroundings import FINE_SIDE, LONGEST_SIDE, look_around
from greasecheck.measure.colour.residual_light import YI_PER_HUE
from greasecheck.measure.robust import percentiles
from greasecheck.model import Box, LeftOut, LeftOutReason

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.card.cloth import Cloth
    from greasecheck.measure.card.pieces import Piece
    from greasecheck.measure.card.surroundings import Surroundings
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.model import (
        BonePiece,
        BoneReading,
        BoneState,
        BoolArray,
        Drawn,
        FloatArray,
        Photo,
        Placement,
    )

USUAL_AREA_MM2 = 4000.0  # a marten's skull; the lengths of patches and glare are meant for such
# The card lies flat, the bone's sides face away from the lamp: the light from all around has so
# much larger a share on them, or less.
FILL_SHARE = 0.2
SCRAP_SHARE = 0.02  # of the bone: connected parts smaller than this are dropped
SECOND_SKULL_SHARE = 0.55  # of the largest piece: lower jaws of mammals have less, in all views
SECOND_SKULL_SOLIDITY = 0.75  # a jaw leaves more of its hull empty, or is smaller
WELL_LIT = 90  # percentile of the bone's luminance
# Of that luminance: the card's darkest bone tone has 0.25 of clean bone's, dark cloth 0.15 or less.
DARK_AS_CLOTH = 0.15
# Samples of a small bone, which is looked at more finely: half a sample all round an outline five
# times as long as the root of its area is 3 % of so many.
FEW_SAMPLES = 7000
LIKE_SIZE = 0.75  # of the largest piece: another skull, however much of its hull is empty


@dataclass(frozen=True, slots=True, kw_only=True)
class CardView:
    """A bone beside a card as seen: its reading and the maps behind it.

    The maps cover the bone and its surround; `corner_px` is their upper left sample in the photo
    [px] and `step_px` the pixels between samples.

    Attributes
    ----------
    reading : BoneReading
        The figures.
    mask, surface, yellow : ndarray, shape (rows, columns), bool
        The bone, the part of it whose colour counts, its yellow patches.
    yellowness : ndarray, shape (rows, columns)
        Smoothed yellowness index, meaningful on the surface only.
    xyz : ndarray, shape (rows, columns, 3)
        CIE XYZ (D65/2), Y of the perfect diffuser in the card's light = 100.
    corner_px : tuple of float
    step_px : float
    reddish_share : float
        Share of what stands out from the cloth that is as red as skin or blood.
    brown_share : float
        Share of the bone left out as dark and brown as antler or horn.
    likely_skulls : int
        Pieces that may each be a skull.
    light_std, paper_std : float
        Standard error of the yellowness index from the light alone, and the part of it that the
        card's paper of several hues makes.
    least_yellow : float
        Yellowness index of the surface's least yellow part.
    shadow_level : float
        Light in the bone's shadow as a share of that in the open.
    shade_told : bool
        Whether the hue tells shaded bone from cloth as dark as it.
    clipped_share : float
        Share of the bone that is burnt out or black.
    dark_share : float
        Share of the bone that is as dark as cloth beside what of it is lit best.
    runs_at_rim : int
        How often something stands out from the cloth along the picture's rim.
    hidden_by_cloth : float
        Share of the light on well lit bone up to which uneven cloth may hide bone.
    """

    reading: BoneReading
    mask: BoolArray
    surface: BoolArray
    yellow: BoolArray
    yellowness: FloatArray
    xyz: FloatArray
    corner_px: tuple[float, float]
    step_px: float
    reddish_share: float
    brown_share: float
    likely_skulls: int
    light_std: float
    paper_std: float
    least_yellow: float
    shadow_level: float
    shade_told: bool
    clipped_share: float
    dark_share: float
    runs_at_rim: int = 0
    hidden_by_cloth: float = 0.0


def measure_beside_card(
    photo: Photo,
    placement: Placement,
    colour: ColourModel,
    *,
    state: BoneState,
    drawn: Sequence[Drawn] = (),
) -> CardView:
    """Measure the bone beside a card.

    Parameters
    ----------
    photo : Photo
        The decoded photo.
    placement : Placement
        Where the card is in it.
    colour : ColourModel
        How its device values become CIE XYZ.
    state : BoneState
        How wet the bone is, as stated by the user.
    drawn : sequence of Drawn
        Corrections of what is bone, in the order they were made.

    Raises
    ------
    BoneError
        When there is no dark cloth, no bone, bone cut off by the picture, or nothing but glare.
    """
    scene = _look(photo, placement, colour)
    if scene.bone.sum() < FEW_SAMPLES and scene.around.step_px > 1:
        scene = _look(photo, placement, colour, FINE_SIDE)
    around, cloth, pieces, found = scene.around, scene.cloth, scene.pieces, scene.bone
    parts = find_not_bone(around.xyz, found)
    mask = _without_scraps(found & ~parts.reddish & ~parts.brown)
    correction = corrected(mask, pieces, drawn, around, placement)
    if not correction.mask.any():
        raise BoneError("nothing is left of the bone", hint="take pieces in again, or start anew")
    light = _Light(
        colour=colour,
        state=state,
        hue_apart=hue_beside_bone(around, cloth, pieces, correction.mask),
        fill_hue=shadow_hue(around, cloth, pieces, correction.mask),
        shadow_level=shadow_level(around, cloth),
        shade_told=scene.shade_told,
    )
    seen = _view(around, correction, pieces, parts, light)
    return replace(
        seen,
        runs_at_rim=scene.runs_at_rim,
        hidden_by_cloth=hidden_by_cloth(around, cloth, correction.mask),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scene:
    """The picture around the card, its cloth, and what stands out from it."""

    around: Surroundings
    cloth: Cloth
    pieces: tuple[Piece, ...]
    bone: BoolArray
    shade_told: bool
    runs_at_rim: int


def _look(
    photo: Photo, placement: Placement, colour: ColourModel, longest_side: int = LONGEST_SIDE
) -> _Scene:
    around = look_around(photo, placement, colour, longest_side)
    cloth = find_cloth(around)
    hue = told_by_hue(around, cloth)
    standing = standing_out(around, cloth, hue)
    pieces = find_pieces(around, standing)
    return _Scene(
        around=around,
        cloth=cloth,
        pieces=pieces,
        bone=_bone(pieces),
        shade_told=hue is not None,
        runs_at_rim=runs_at_rim(standing),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Light:
    """What the colours rest on; hues and level of light as the cloth shows them."""

    colour: ColourModel
    state: BoneState
    hue_apart: float | None
    fill_hue: float
    shadow_level: float
    shade_told: bool


def _bone(pieces: Sequence[Piece]) -> BoolArray:
    return np.asarray(np.any([piece.mask for piece in pieces if piece.reason is None], axis=0))


def _without_scraps(mask: BoolArray) -> BoolArray:
    """Drop what little of an antler was not taken for one."""
    return drop_small(mask, SCRAP_SHARE * float(mask.sum()))


def _view(
    around: Surroundings,
    correction: Correction,
    pieces: Sequence[Piece],
    parts: NotBone,
    light: _Light,
) -> CardView:
    whole = _zone(around, correction.mask)
    refuse_unreadable(whole, correction.mask)
    zone, mask = close_up(whole, correction.mask)
    maps = bone_maps(zone, mask)
    gloss, own_std = _gloss_std(maps), light.colour.yi_std(maps.lit_xyz)
    lamp_std = _lamp_std(around, correction.mask, maps, light)
    reading = replace(
        bone_reading(zone, maps, math.hypot(own_std, lamp_std), light.state, gloss),
        area_mm2=float(around.mm2[correction.mask].sum()),
        pieces=_pieces(around, correction.mask),
        left_out=_left_out(around, pieces, parts, correction),
    )
    standing = _bone(pieces) | np.any([piece.mask for piece in pieces], axis=0)
    return CardView(
        reading=reading,
        mask=maps.mask,
        surface=maps.surface,
        yellow=maps.yellow,
        yellowness=maps.yellowness,
        xyz=zone.xyz,
        corner_px=_corner_px(zone, around),
        step_px=around.whole_px,
        reddish_share=_reddish_share(around, pieces, parts),
        brown_share=float(parts.brown.sum() / max(standing.sum(), 1)),
        likely_skulls=_likely_skulls(pieces),
        light_std=math.hypot(lamp_std, gloss),
        paper_std=light.colour.misfit.paper_yi_std,
        least_yellow=least_yellow(maps),
        shadow_level=light.shadow_level,
        shade_told=light.shade_told,
        clipped_share=float(1 - zone.unclipped[mask].mean()),
        dark_share=_dark_share(zone.xyz[mask, 1]),
    )


def _zone(around: Surroundings, mask: BoolArray) -> Zone:
    """Describe the picture as a zone whose samples are as dense as on the bone's middle.

    A small bone is described as if it were larger, since its patches, glare and rim are smaller.
    """
    area = float(around.mm2[mask].sum())
    per_mm = np.sqrt(min(area / USUAL_AREA_MM2, 1) / percentiles(around.mm2[mask], [50])[0])
    rows, columns = mask.shape
    return Zone(
        box=Box(x_mm=0, y_mm=0, width_mm=columns / per_mm, height_mm=rows / per_mm),
        per_mm=float(per_mm),
        seen=np.ones_like(mask),
        unclipped=around.unclipped,
        xyz=around.xyz,
    )


def _corner_px(zone: Zone, around: Surroundings) -> tuple[float, float]:
    x, y = (round(at * zone.per_mm) for at in (zone.box.x_mm, zone.box.y_mm))
    return tuple(((np.array([x, y]) + 0.5) * around.whole_px - 0.5).tolist())


def _lamp_std(around: Surroundings, mask: BoolArray, maps: BoneMaps, light: _Light) -> float:
    """Return the yellowness index's error from the light on the bone, other than on the card."""
    beyond = percentiles(around.beyond[mask], [50])[0]
    parts = (
        light.colour.misfit.bone_yi_std(beyond, light.hue_apart),
        _shade_std(maps),
        YI_PER_HUE * FILL_SHARE * light.fill_hue,
    )
    return float(np.linalg.norm(parts))


def _gloss_std(maps: BoneMaps) -> float:
    """Return how much white light that the bone's surface mirrors pales it."""
    luminance = percentiles(maps.smooth[maps.surface, 1], [50])[0]
    yellowness = percentiles(maps.yellowness[maps.surface], [50])[0]
    return gloss_std(yellowness, luminance)


def _shade_std(maps: BoneMaps) -> float:
    """Return what the better lit half's yellowness is off that of the whole surface.

    Under lamps of two colours the shaded side has another hue. Grease is darker, too, so that half
    of it is believed to be light where the lit half is paler, and all of it where it is yellower.
    """
    luminance, yellowness = maps.smooth[maps.surface, 1], maps.yellowness[maps.surface]
    lit = luminance >= percentiles(luminance, [50])[0]
    yellower = percentiles(yellowness[lit], [50])[0] - percentiles(yellowness, [50])[0]
    return max(yellower, -yellower / 2)


def _pieces(around: Surroundings, mask: BoolArray) -> tuple[BonePiece, ...]:
    def to_px(places: FloatArray) -> FloatArray:
        return np.asarray((places + 0.5) * around.whole_px - 0.5)

    return bone_pieces(mask, around.mm2, to_px)


def _left_out(
    around: Surroundings, pieces: Sequence[Piece], parts: NotBone, correction: Correction
) -> tuple[LeftOut, ...]:
    masks: dict[LeftOutReason, BoolArray] = {
        LeftOutReason.REDDISH: parts.reddish & ~correction.mask,
        LeftOutReason.BROWN: parts.brown & ~correction.mask,
        LeftOutReason.DRAWN: correction.taken_out,
    }
    for piece in pieces:
        if piece.reason is not None:
            before = masks.get(piece.reason, np.zeros_like(piece.mask))
            masks[piece.reason] = before | (piece.mask & ~correction.mask)
    return tuple(
        LeftOut(
            reason=reason,
            count=len(outlines(mask)),
            area_mm2=float(around.mm2[mask].sum()),
        )
        for reason, mask in masks.items()
        if drop_small(mask, 4).any()
    )


def _reddish_share(around: Surroundings, pieces: Sequence[Piece], parts: NotBone) -> float:
    """Share of bone and of what has other colours that is as red as skin or blood.

    Noise reddens single samples, and JPEGs of half the colour's resolution the rim.
    """
    kept = (None, LeftOutReason.COLOUR)
    standing = np.any([piece.mask for piece in pieces if piece.reason in kept], axis=0)
    red = parts.reddish | opened(shrunk(standing, CLEAR) & is_reddish(around.xyz))
    return float(red.sum() / standing.sum())


def _dark_share(luminance: FloatArray) -> float:
    return float((luminance < DARK_AS_CLOTH * percentiles(luminance, [WELL_LIT])[0]).mean())


def _likely_skulls(pieces: Sequence[Piece]) -> int:
    bones = [piece for piece in pieces if piece.reason is None]
    largest = max(piece.area_mm2 for piece in bones)
    solid = [
        piece.area_mm2 > SECOND_SKULL_SHARE * largest and piece.solidity > SECOND_SKULL_SOLIDITY
        for piece in bones
    ]
    large = [piece.area_mm2 > LIKE_SIZE * largest for piece in bones]
    return sum(map(operator.or_, solid, large))
