"""Measures the bone on the rest: its colour, its yellowness, and where it is still yellow."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.errors import BoneError
from greasecheck.measure.bone_mask import (
    GLARE_REACH_MM,
    drop_small,
    find_bone,
    matt_surface,
    outlines,
)
from greasecheck.measure.bone_target import clean_bone
from greasecheck.measure.colorimetry import (
    delta_e00,
    lab_from_xyz,
    tint_cie,
    whiteness_cie,
    yellowness_e313,
)
from greasecheck.measure.point_samples import box_points, sample_points
from greasecheck.measure.robust import percentiles
from greasecheck.model import BoneReading, Box
from greasecheck.reference.cie import WHITES

if TYPE_CHECKING:
    from greasecheck.measure.colour import ColourModel
    from greasecheck.model import BoneState, BoolArray, FloatArray, Photo, Placement

DENSITY_PER_MM = 2.0  # sampling of the rest zone, or the photo's own if coarser
SHEET_MARGIN_MM = 20.0  # beside the print area the paper itself may reach into the rest zone (A4)
LEAST_SEEN = 0.3  # share of the rest zone that must lie in the photo to look for a bone
CUT_MM = 5.0  # a bone that meets the photo's edge over this length is cut off
PALE_CHROMA = 12.0  # CIELAB chroma below which any hue may be bone
BONE_HUES_DEG = (20.0, 115.0)  # and the hues of bone above it, bloody to mossy
LEAST_OUTLINE_MM2 = 10.0  # a hand-drawn outline encloses at least this
SURROUND_MM = GLARE_REACH_MM  # smoothing reaches less far
CLIPPED_MOST = 0.5  # share of the bone that may be clipped
SMOOTHING_MM = 1.5  # standard deviation of the yellowness map's smoothing
SPECK_MM2 = 9.0  # yellow specks smaller than this are no patch
GRAIN_MM = 4.0  # distance over which the bone's own mottling is one sample
LEAST_LUMINANCE = 0.1  # keeps black pixels from dividing by zero; Y of white = 100
# Redness: what X has above grey over what Z has below it. Skin and blood have 0.3 or more, clean
# and greasy bone, invented from spectra, less than 0.15 (CIELAB hues of 55 and of over 70 degrees).
REDDISH = 0.2
LEAST_PALING = 0.1  # paler than this has no redness
LIGHT_CELLS = 16  # cells along each side on which the light is worked out


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
) -> BoneView | None:
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
    BoneView or None
        None when the rest is empty, lies outside the photo, or bears something else than bone.

    Raises
    ------
    BoneError
        When something lies there that cannot be measured: on ground that is not dark, cut off by
        the picture's edge, or burnt out.
    """
    zone = _look(photo, placement, colour, outline_mm)
    if zone.seen.mean() < LEAST_SEEN:
        return None
    mask = (
        find_bone(_lightness(zone.xyz), zone.seen, zone.per_mm)
        if outline_mm is None
        else _inside(outline_mm, zone)
    )
    if mask is None:
        return None
    _refuse_unreadable(zone, mask)
    zone, mask = _close_up(zone, mask)
    maps = _maps(zone, mask)
    colour_std = np.hypot(colour.bone_yi_std, colour.misfit.bone_yi_std(_beyond(zone, placement)))
    reading = _reading(zone, maps, float(colour_std), state)
    if outline_mm is None and not _bone_like(reading):
        return None
    _refuse_cut_off(zone, mask)
    return _view(zone, maps, reading)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Zone:
    """The sampled rest zone: arrays shaped (rows, columns), `xyz` (rows, columns, 3)."""

    box: Box
    per_mm: float
    seen: BoolArray
    unclipped: BoolArray
    xyz: FloatArray


def _beyond(zone: _Zone, placement: Placement) -> float:
    """How far the bone lies beyond the sheet's edge, in half widths of the sheet."""
    width = placement.geometry.width_mm
    return max(2 * zone.box.centre_mm[0] / width - 2, 0.0)


def _look(
    photo: Photo, placement: Placement, colour: ColourModel, outline_mm: FloatArray | None
) -> _Zone:
    box = _rest_box(placement) if outline_mm is None else _box_around(outline_mm)
    per_mm = min(DENSITY_PER_MM, placement.pixels_per_mm)
    columns, rows = round(box.width_mm * per_mm), round(box.height_mm * per_mm)
    samples = sample_points(photo, placement, box_points(box, columns, rows))
    coarse = box_points(box, LIGHT_CELLS, LIGHT_CELLS).reshape(-1, 2)
    light = colour.illuminance(coarse).reshape(LIGHT_CELLS, LIGHT_CELLS, 3)
    even_light = colour.scene_linear(samples.linear) / cv2.resize(light, (columns, rows))
    xyz = colour.to_xyz(even_light)
    return _Zone(
        box=box,
        per_mm=per_mm,
        seen=samples.seen,
        unclipped=samples.seen & ~samples.bright & ~samples.partly_dark,
        xyz=np.maximum(xyz, LEAST_LUMINANCE, out=xyz),
    )


def _rest_box(placement: Placement) -> Box:
    """Return the rest zone without the strip that the sheet's own paper may cover."""
    zone, paper_end = placement.geometry.rest_zone, placement.geometry.width_mm + SHEET_MARGIN_MM
    covered = max(paper_end - zone.x_mm, 0)
    return replace(zone, x_mm=zone.x_mm + covered, width_mm=zone.width_mm - covered)


def _box_around(outline_mm: FloatArray) -> Box:
    low, high = outline_mm.min(axis=0), outline_mm.max(axis=0)
    width, height = np.maximum(high - low, 1.0)
    return Box(
        x_mm=float(low[0]), y_mm=float(low[1]), width_mm=float(width), height_mm=float(height)
    )


def _inside(outline_mm: FloatArray, zone: _Zone) -> BoolArray:
    """Fill a hand-drawn outline."""
    corner = np.array([zone.box.x_mm, zone.box.y_mm])
    points = np.rint((outline_mm - corner) * zone.per_mm - 0.5).astype(np.int32)
    canvas = np.zeros(zone.seen.shape, np.uint8)
    return np.asarray(cv2.fillPoly(canvas, [points], (1,)) > 0)


def _refuse_unreadable(zone: _Zone, mask: BoolArray) -> None:
    if mask.sum() < LEAST_OUTLINE_MM2 * zone.per_mm**2:
        raise BoneError("the outline encloses next to nothing", hint="draw it around the bone")
    if zone.unclipped[mask].mean() < 1 - CLIPPED_MOST:
        raise BoneError(
            "the bone is burnt out or black in the picture",
            hint="change the exposure, and move the lamp if it glares on the bone",
        )


def _refuse_cut_off(zone: _Zone, mask: BoolArray) -> None:
    grown = cv2.dilate(mask.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    if (grown & ~zone.seen).sum() > CUT_MM * zone.per_mm:
        raise BoneError(
            "the bone runs out of the picture", hint="take the photo with the whole bone in view"
        )


def _close_up(zone: _Zone, mask: BoolArray) -> tuple[_Zone, BoolArray]:
    """Cut the zone down to the bone and so much around it as blurring reaches."""
    left, top, width, height = cv2.boundingRect(mask.astype(np.uint8))
    reach = round(SURROUND_MM * zone.per_mm) + 1
    first_row, first_column = max(top - reach, 0), max(left - reach, 0)
    near = slice(first_row, top + height + reach), slice(first_column, left + width + reach)
    rows, columns = mask[near].shape
    box = Box(
        x_mm=zone.box.x_mm + first_column / zone.per_mm,
        y_mm=zone.box.y_mm + first_row / zone.per_mm,
        width_mm=columns / zone.per_mm,
        height_mm=rows / zone.per_mm,
    )
    cut = _Zone(
        box=box,
        per_mm=zone.per_mm,
        seen=zone.seen[near],
        unclipped=zone.unclipped[near],
        xyz=zone.xyz[near],
    )
    return cut, mask[near]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Maps:
    """What was found in the zone, each array shaped (rows, columns); `smooth` is XYZ."""

    mask: BoolArray
    surface: BoolArray
    yellow: BoolArray
    yellowness: FloatArray
    smooth: FloatArray


def _maps(zone: _Zone, mask: BoolArray) -> _Maps:
    plain = yellowness_e313(zone.xyz)
    surface = matt_surface(mask & zone.unclipped, zone.xyz[..., 1], plain, zone.per_mm)
    smooth = _smoothed(zone.xyz, surface, zone.per_mm)
    yellowness = yellowness_e313(smooth)
    limit = clean_bone().yellow_limit(yellowness[surface])
    yellow = drop_small(surface & (yellowness > limit), SPECK_MM2 * zone.per_mm**2)
    return _Maps(mask=mask, surface=surface, yellow=yellow, yellowness=yellowness, smooth=smooth)


def _view(zone: _Zone, maps: _Maps, reading: BoneReading) -> BoneView:
    corner = np.array([zone.box.x_mm, zone.box.y_mm])
    return BoneView(
        reading=reading,
        box=zone.box,
        per_mm=zone.per_mm,
        mask=maps.mask,
        surface=maps.surface,
        yellow=maps.yellow,
        yellowness=maps.yellowness,
        outlines_mm=tuple(corner + (line + 0.5) / zone.per_mm for line in outlines(maps.mask)),
        reddish_share=_reddish_share(maps.smooth[maps.surface]),
    )


def _reddish_share(xyz: FloatArray) -> float:
    """Share of colours, shape (n, 3), that are redder than bone."""
    x, _, z = (100 * xyz / xyz[:, 1:2] / np.array(WHITES["D65"])).T
    return float(np.mean(x - 1 > REDDISH * np.maximum(1 - z, LEAST_PALING)))


def _reading(zone: _Zone, maps: _Maps, colour_std: float, state: BoneState) -> BoneReading:
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


def _bone_like(reading: BoneReading) -> bool:
    """Tell bone, from white to brown or bloody, from things of other colours."""
    _, a, b = reading.lab
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
