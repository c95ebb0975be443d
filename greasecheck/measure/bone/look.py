"""Measures the bone on the rest: its colour, its yellowness, and where it is still yellow."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import BoneError
from greasecheck.measure.bone.drawing import DrawnBone, corrected
from greasecheck.measure.bone.ground_light import gain_on_ground, ground_light, hue_off_sheet
from greasecheck.measure.bone.mask import Found, Ground, find_bone
from greasecheck.measure.bone.one_colour import OneColour, one_colour
from greasecheck.measure.bone.pieces import bone_pieces, outlines
from greasecheck.measure.bone.yellowness import (
    bone_like,
    bone_maps,
    bone_reading,
    least_yellow,
    lit_colour,
    reddish_in_holes,
    reddish_share,
)
from greasecheck.measure.bone.zone import (
    close_up,
    fill_outline,
    half_sheets_beyond,
    inside_rest,
    look_at_rest,
    refuse_cut_off,
    refuse_unreadable,
    zone_mm,
)
from greasecheck.measure.colorimetry import (
    lab_from_xyz,
    yellowness_e313,
)
from greasecheck.measure.colour.residual_light import YI_PER_HUE
from greasecheck.measure.sheet.samples import sheet_to_pixels
from greasecheck.model import Absent, BoneReading, LeftOut, LeftOutReason

if TYPE_CHECKING:
    from greasecheck.measure.bone.yellowness import BoneMaps
    from greasecheck.measure.bone.zone import Zone
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.model import BonePiece, BoneState, BoolArray, Box, FloatArray, Photo, Placement
    from greasecheck.model.bone import GroundLight

# Without a source, where none is named; the comment beside each value states what it does.
UNDRAWN = DrawnBone()
LEAST_SEEN = 0.3  # share of the rest zone that must lie in the photo to look for a bone


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneView:
    """A bone as seen: its reading and the maps behind it.

    Attributes
    ----------
    reading : BoneReading
        The figures.
    box : Box
        What the maps cover, in sheet coordinates [mm].
    per_mm : float
        Their density [px/mm].
    mask : ndarray, shape (rows, columns), bool
        The bone, its holes left open.
    surface : ndarray, shape (rows, columns), bool
        The part of it whose colour counts: no rim, glare, cavity or clipped pixel.
    yellow : ndarray, shape (rows, columns), bool
        The yellow patches of the surface.
    yellowness : ndarray, shape (rows, columns)
        Smoothed yellowness index (ASTM E313, D65/2); meaningful on the surface only.
    xyz : ndarray, shape (rows, columns, 3)
        CIE XYZ (D65/2), Y of the perfect diffuser in the sheet's light = 100.
    outlines_mm : tuple of ndarray, each of shape (n, 2)
        Outline of each piece, largest first [mm].
    reddish_share : float
        Share of the surface and of what is seen in holes that is as red as skin or blood, 0 to 1.
    least_yellow : float
        Yellowness index of the surface's least yellow part.
    one_colour : OneColour
        How clearly a rectangle of one colour is seen on it.
    hue_off_sheet : float
        By how much the light on the ground beside it is off that on the sheet, as a logarithm of X
        over Z, beyond what is usual.
    ground_gain : float
        By how much that ground is brighter than in the reference, as a logarithm.
    """

    reading: BoneReading
    box: Box
    per_mm: float
    mask: BoolArray
    surface: BoolArray
    yellow: BoolArray
    yellowness: FloatArray
    xyz: FloatArray
    outlines_mm: tuple[FloatArray, ...]
    reddish_share: float
    least_yellow: float
    one_colour: OneColour
    hue_off_sheet: float
    ground_gain: float

    @property
    def outline_mm(self) -> FloatArray:
        """Return the outline of the largest piece, shape (n, 2) [mm]."""
        return self.outlines_mm[0]


def measure_bone(
    photo: Photo,
    placement: Placement,
    colour: ColourModel,
    *,
    state: BoneState,
    drawn: DrawnBone = UNDRAWN,
    usual: GroundLight | None = None,
) -> BoneView | Absent:
    """Measure the bone on the rest.

    Parameters
    ----------
    photo : Photo
        The decoded photo.
    placement : Placement
        Where the sheet is in it.
    colour : ColourModel
        How its device values become CIE XYZ.
    state : BoneState
        How wet the bone is, as stated by the user.
    drawn : DrawnBone
        What a person drew to mark what is bone.
    usual : GroundLight or None
        What `rest_light` found in the photo of the clear-water reference.

    Returns
    -------
    BoneView or Absent
        What is missing when the rest is empty, lies outside the photo, or bears something else
        than bone.

    Raises
    ------
    BoneError
        When something lies there that cannot be measured: on ground that is not dark, reaching
        over the rest's edge or the picture's, or burnt out.
    """
    outline_mm = drawn.outline_mm
    zone = look_at_rest(photo, placement, colour, outline_mm)
    if zone.seen.mean() < LEAST_SEEN:
        return Absent.REST
    found = _found(zone, placement, outline_mm)
    if isinstance(found, Absent):
        return found
    _refuse_over_edge(zone, found)
    taken_out = found.bone
    found = corrected(found, drawn, zone)
    taken_out = taken_out & ~found.bone
    if not found.bone.any():
        return Absent.BONE if taken_out.any() else Absent.BONE_COLOUR
    refuse_unreadable(zone, found.bone)
    red = reddish_in_holes(zone.xyz, found.bone, zone.per_mm) & ~taken_out
    left_out = _left_out(found, red, taken_out, zone.per_mm)
    on_ground = _ground_light(zone, found, placement) if outline_mm is None else None
    off_sheet = hue_off_sheet(on_ground, usual)
    zone, mask = close_up(zone, found.bone)
    maps = bone_maps(zone, mask)
    beyond = half_sheets_beyond(zone, placement)
    own = colour.yi_std(maps.lit_xyz)
    carried_std = colour.misfit.bone_yi_std(beyond)
    colour_std = np.linalg.norm([own, carried_std, YI_PER_HUE * off_sheet])
    reading = replace(
        bone_reading(zone, maps, float(colour_std), state),
        pieces=_bone_pieces(zone, mask, placement, photo.reduced_by),
        left_out=left_out,
    )
    if outline_mm is None and not bone_like(reading.lab):
        return Absent.BONE_COLOUR
    refuse_cut_off(zone, mask)
    return _view(zone, maps, reading, off_sheet, gain_on_ground(on_ground, usual))


def rest_light(photo: Photo, placement: Placement, colour: ColourModel) -> GroundLight | None:
    """Return the light on the rest's dark ground, bone on it or not; None where none is seen."""
    if placement.geometry.rest is None:
        return None
    zone = look_at_rest(photo, placement, colour, None)
    try:
        found = _found(zone, placement, None) if zone.seen.mean() >= LEAST_SEEN else Absent.REST
    except BoneError:
        return None
    if found is Absent.BONE:
        nothing = np.zeros_like(zone.seen)
        found = Found(bone=nothing, at_edge=nothing, crumbs=nothing)
    return None if isinstance(found, Absent) else _ground_light(zone, found, placement)


def _ground_light(zone: Zone, found: Found, placement: Placement) -> GroundLight | None:
    standing = found.bone | found.at_edge | found.crumbs
    return ground_light(zone.xyz, zone.seen & inside_rest(zone, placement), standing, zone.per_mm)


def _found(zone: Zone, placement: Placement, outline_mm: FloatArray | None) -> Found | Absent:
    if outline_mm is not None:
        nothing = np.zeros_like(zone.seen)
        return Found(bone=fill_outline(outline_mm, zone), at_edge=nothing, crumbs=nothing)
    return find_bone(
        Ground(
            lightness=_lightness(zone.xyz),
            yellowness=yellowness_e313(zone.xyz),
            seen=zone.seen,
            inner=inside_rest(zone, placement),
            per_mm=zone.per_mm,
        )
    )


def _refuse_over_edge(zone: Zone, found: Found) -> None:
    """Raise BoneError when something of a bone's colour reaches over the edge of the rest."""
    crossing = found.at_edge & zone.seen
    if crossing.any() and bone_like(lab_from_xyz(lit_colour(zone.xyz[crossing])).tolist()):
        raise BoneError(
            "the bone, or something as pale, reaches over the edge of the rest",
            hint="lay the bone in the middle of the rest and clear what is behind it; photograph a "
            "larger skull by itself beside the bone card",
        )


def _bone_pieces(
    zone: Zone, mask: BoolArray, placement: Placement, reduced_by: int
) -> tuple[BonePiece, ...]:
    def to_px(places: FloatArray) -> FloatArray:
        shown = sheet_to_pixels(placement, zone_mm(zone, places))
        return np.asarray((shown + 0.5) * reduced_by - 0.5)

    return bone_pieces(mask, np.full(mask.shape, zone.per_mm**-2), to_px)


def _left_out(
    found: Found, red: BoolArray, taken_out: BoolArray, per_mm: float
) -> tuple[LeftOut, ...]:
    kinds = (
        (LeftOutReason.CRUMB, found.crumbs & ~found.bone),
        (LeftOutReason.AT_EDGE, found.at_edge & ~found.bone),
        (LeftOutReason.REDDISH, red),
        (LeftOutReason.DRAWN, taken_out),
    )
    return tuple(
        LeftOut(reason=reason, count=len(outlines(mask)), area_mm2=float(mask.sum() / per_mm**2))
        for reason, mask in kinds
        if mask.any()
    )


def _view(
    zone: Zone, maps: BoneMaps, reading: BoneReading, off_sheet: float, ground_gain: float
) -> BoneView:
    in_holes = [one.area_mm2 for one in reading.left_out if one.reason is LeftOutReason.REDDISH]
    return BoneView(
        reading=reading,
        box=zone.box,
        per_mm=zone.per_mm,
        mask=maps.mask,
        surface=maps.surface,
        yellow=maps.yellow,
        yellowness=maps.yellowness,
        xyz=zone.xyz,
        outlines_mm=tuple(zone_mm(zone, line) for line in outlines(maps.mask)),
        reddish_share=reddish_share(
            maps.smooth[maps.surface], besides=sum(in_holes) * zone.per_mm**2
        ),
        least_yellow=least_yellow(maps),
        one_colour=one_colour(zone.xyz, maps.mask, zone.per_mm),
        hue_off_sheet=off_sheet,
        ground_gain=ground_gain,
    )


def _lightness(xyz: FloatArray) -> FloatArray:
    """CIELAB L*, by the cube root alone: its straight dark end does not matter here."""
    return np.asarray(116 * np.cbrt(xyz[..., 1] / 100) - 16)
