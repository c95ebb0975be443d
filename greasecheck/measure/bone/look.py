"""Measures the bone on the rest: its colour, its yellowness, and where it is still yellow."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.errors import BoneError
from greasecheck.measure.bone.mask import Found, Ground, drop_small, find_bone, matt_surface
from greasecheck.measure.bone.pieces import bone_pieces, outlines
from greasecheck.measure.bone.target import clean_bone
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
    LEAST_LUMINANCE,
    delta_e00,
    lab_from_xyz,
    tint_cie,
    whiteness_cie,
    yellowness_e313,
)
from greasecheck.measure.robust import percentiles
from greasecheck.measure.sheet.samples import sheet_to_pixels
from greasecheck.model import Absent, BoneReading, LeftOut, LeftOutReason
from greasecheck.reference.cie import WHITES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.bone.zone import Zone
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.model import BonePiece, BoneState, BoolArray, Box, FloatArray, Photo, Placement

# Own choices, where nothing else is said.
LEAST_SEEN = 0.3  # share of the rest zone that must lie in the photo to look for a bone
PALE_CHROMA = 12.0  # CIELAB chroma below which any hue may be bone
BONE_HUES_DEG = (20.0, 115.0)  # and the hues of bone above it, bloody to mossy
SMOOTHING_MM = 1.5  # standard deviation of the yellowness map's smoothing
SPECK_MM2 = 9.0  # yellow specks smaller than this are no patch
GRAIN_MM = 4.0  # distance over which the bone's own mottling is one sample
# Redness: what X has above grey over what Z has below it. Skin and blood have 0.3 or more, clean
# and greasy bone, invented from spectra, less than 0.15 (CIELAB hues of 55 and of over 70 degrees).
REDDISH = 0.2
LEAST_PALING = 0.1  # paler than this has no redness


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
    outlines_mm : tuple of ndarray, each of shape (n, 2)
        Outline of each piece, largest first [mm].
    reddish_share : float
        Share of the surface that is as red as skin or blood, 0 to 1.
    """

    reading: BoneReading
    box: Box
    per_mm: float
    mask: BoolArray
    surface: BoolArray
    yellow: BoolArray
    yellowness: FloatArray
    outlines_mm: tuple[FloatArray, ...]
    reddish_share: float

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
    outline_mm: FloatArray | None,
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
        How wet the bone is, as told.
    outline_mm : ndarray, shape (n, 2), or None
        Hand-drawn outline in sheet coordinates [mm]; None to find the bone on the dark rest.

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
    zone = look_at_rest(photo, placement, colour, outline_mm)
    if zone.seen.mean() < LEAST_SEEN:
        return Absent.REST
    found = _found(zone, placement, outline_mm)
    if isinstance(found, Absent):
        return found
    _refuse_over_edge(zone, found)
    if not found.bone.any():
        return Absent.BONE_COLOUR
    refuse_unreadable(zone, found.bone)
    left_out = _left_out(found, zone.per_mm)
    zone, mask = close_up(zone, found.bone)
    maps = _maps(zone, mask)
    beyond = half_sheets_beyond(zone, placement)
    colour_std = np.hypot(colour.bone_yi_std, colour.misfit.bone_yi_std(beyond))
    reading = replace(
        _reading(zone, maps, float(colour_std), state),
        pieces=_bone_pieces(zone, mask, placement),
        left_out=left_out,
    )
    if outline_mm is None and not _bone_like(reading.lab):
        return Absent.BONE_COLOUR
    refuse_cut_off(zone, mask)
    return _view(zone, maps, reading)


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
    if crossing.any() and _bone_like(lab_from_xyz(_lit_colour(zone.xyz[crossing])).tolist()):
        raise BoneError(
            "the bone, or something as pale, reaches over the edge of the rest",
            hint="lay the bone in the middle of the rest and clear what is behind it; photograph a "
            "larger skull by itself beside the bone card",
        )


def _bone_pieces(zone: Zone, mask: BoolArray, placement: Placement) -> tuple[BonePiece, ...]:
    def to_px(places: FloatArray) -> FloatArray:
        return sheet_to_pixels(placement, zone_mm(zone, places))

    return bone_pieces(mask, np.full(mask.shape, zone.per_mm**-2), to_px)


def _left_out(found: Found, per_mm: float) -> tuple[LeftOut, ...]:
    kinds = ((LeftOutReason.CRUMB, found.crumbs), (LeftOutReason.AT_EDGE, found.at_edge))
    return tuple(
        LeftOut(reason=reason, count=len(outlines(mask)), area_mm2=float(mask.sum() / per_mm**2))
        for reason, mask in kinds
        if mask.any()
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Maps:
    """What was found in the zone, each array shaped (rows, columns); `smooth` is XYZ."""

    mask: BoolArray
    surface: BoolArray
    yellow: BoolArray
    yellowness: FloatArray
    smooth: FloatArray


def _maps(zone: Zone, mask: BoolArray) -> _Maps:
    plain = yellowness_e313(zone.xyz)
    surface = matt_surface(mask & zone.unclipped, zone.xyz[..., 1], plain, zone.per_mm)
    smooth = _smoothed(zone.xyz, surface, zone.per_mm)
    yellowness = yellowness_e313(smooth)
    limit = clean_bone().yellow_limit(yellowness[surface])
    yellow = drop_small(surface & (yellowness > limit), SPECK_MM2 * zone.per_mm**2)
    return _Maps(mask=mask, surface=surface, yellow=yellow, yellowness=yellowness, smooth=smooth)


def _view(zone: Zone, maps: _Maps, reading: BoneReading) -> BoneView:
    return BoneView(
        reading=reading,
        box=zone.box,
        per_mm=zone.per_mm,
        mask=maps.mask,
        surface=maps.surface,
        yellow=maps.yellow,
        yellowness=maps.yellowness,
        outlines_mm=tuple(zone_mm(zone, line) for line in outlines(maps.mask)),
        reddish_share=_reddish_share(maps.smooth[maps.surface]),
    )


def _reddish_share(xyz: FloatArray) -> float:
    """Share of colours, shape (n, 3), that are redder than bone."""
    x, _, z = (100 * xyz / xyz[:, 1:2] / np.array(WHITES["D65"])).T
    return float(np.mean(x - 1 > REDDISH * np.maximum(1 - z, LEAST_PALING)))


def _reading(zone: Zone, maps: _Maps, colour_std: float, state: BoneState) -> BoneReading:
    xyz, yellowness = _lit_colour(maps.smooth[maps.surface]), maps.yellowness[maps.surface]
    lower, middle, upper = percentiles(yellowness, [25, 50, 75])
    lightness, a, b = lab_from_xyz(xyz).tolist()
    return BoneReading(
        yi_e313=middle,
        yi_std=float(
            np.hypot(colour_std, _median_std(upper - lower, len(yellowness), zone.per_mm))
        ),
        yi_spread=upper - lower,
        lab=(lightness, a, b),
        whiteness_cie=float(whiteness_cie(xyz)),
        tint_cie=float(tint_cie(xyz)),
        delta_e00_clean=float(delta_e00(xyz, clean_bone().xyz)),
        yellow_patch_share=float(maps.yellow.sum() / maps.surface.sum()),
        area_mm2=float(maps.mask.sum() / zone.per_mm**2),
        state=state,
    )


def _lit_colour(xyz: FloatArray) -> FloatArray:
    """Return the median colour of the better lit half: its lightness is less that of shading."""
    lit = xyz[:, 1] >= percentiles(xyz[:, 1], [50])[0]
    return np.array([percentiles(channel, [50])[0] for channel in xyz[lit].T])


def _bone_like(lab: Sequence[float]) -> bool:
    """Tell bone, from white to brown or bloody, from things of other colours."""
    _, a, b = lab
    chroma, hue = np.hypot(a, b), np.degrees(np.arctan2(b, a))
    return bool(chroma < PALE_CHROMA or (BONE_HUES_DEG[0] < hue < BONE_HUES_DEG[1]))


def _median_std(quartile_range: float, pixels: int, per_mm: float) -> float:
    """Estimate the standard error of a mottled surface's median: mottles count, not pixels."""
    std = quartile_range / 1.349  # normal distribution
    mottles = max(pixels / (GRAIN_MM * per_mm) ** 2, 1.0)
    return float(np.sqrt(np.pi / 2) * std / np.sqrt(mottles))


def _smoothed(xyz: FloatArray, surface: BoolArray, per_mm: float) -> FloatArray:
    """Average over a few mm of the surface, and of nothing else."""
    weight = surface.astype(np.float64)
    sigma = SMOOTHING_MM * per_mm
    total = cv2.GaussianBlur(xyz * weight[..., np.newaxis], (0, 0), sigma)
    share = cv2.GaussianBlur(weight, (0, 0), sigma)
    return np.maximum(total / np.maximum(share, 1e-6)[..., np.newaxis], LEAST_LUMINANCE)


def _lightness(xyz: FloatArray) -> FloatArray:
    """CIELAB L*, by the cube root alone: its straight dark end does not matter here."""
    return np.asarray(116 * np.cbrt(xyz[..., 1] / 100) - 16)
