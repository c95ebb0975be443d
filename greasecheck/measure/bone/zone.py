"""Samples the rest and cuts the bone's part out of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.errors import BoneError
from greasecheck.measure.bone.mask import GLARE_REACH_MM
from greasecheck.measure.colorimetry import LEAST_LUMINANCE
from greasecheck.measure.sheet.samples import box_points, sample_points
from greasecheck.model import Box

if TYPE_CHECKING:
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.model import BoolArray, FloatArray, Photo, Placement

# Without a source, where none is named; the comment beside each value states what it does.
DENSITY_PER_MM = 2.0  # sampling of the rest zone, or the photo's own if coarser
SHEET_MARGIN_MM = 20.0  # beside the print area the paper itself may reach into the rest zone (A4)
PAPER_GAP_MM = 1.0  # of that margin no A4 paper reaches into: it ends 18.5 mm beside the print
STRIP_MM = 4.0  # around the rest zone, where a bone that reaches over its edge may end
CUT_MM = 5.0  # a bone that meets the photo's edge over this length is cut off
LEAST_OUTLINE_MM2 = 10.0  # a hand-drawn outline encloses at least this
SURROUND_MM = GLARE_REACH_MM  # smoothing reaches less far
CLIPPED_MOST = 0.5  # share of the bone that may be clipped
LIGHT_CELLS = 16  # cells along each side on which the light is worked out


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A box of the sheet's plane, sampled.

    Attributes
    ----------
    box : Box
        What the samples cover, in sheet coordinates [mm].
    per_mm : float
        Their density [px/mm].
    seen : ndarray, shape (rows, columns), bool
        Inside the photo.
    unclipped : ndarray, shape (rows, columns), bool
        Seen, and inside the scale in every channel.
    xyz : ndarray, shape (rows, columns, 3)
        CIE XYZ (D65/2), Y of the perfect diffuser = 100.
    """

    box: Box
    per_mm: float
    seen: BoolArray
    unclipped: BoolArray
    xyz: FloatArray


def look_at_rest(
    photo: Photo, placement: Placement, colour: ColourModel, outline_mm: FloatArray | None
) -> Zone:
    """Sample the rest zone, or the box around a hand-drawn outline, shape (n, 2) [mm]."""
    box = _wide_rest(placement) if outline_mm is None else _box_around(outline_mm)
    per_mm = min(DENSITY_PER_MM, placement.pixels_per_mm)
    columns, rows = round(box.width_mm * per_mm), round(box.height_mm * per_mm)
    samples = sample_points(photo, placement, box_points(box, columns, rows))
    coarse = box_points(box, LIGHT_CELLS, LIGHT_CELLS).reshape(-1, 2)
    light = colour.illuminance(coarse).reshape(LIGHT_CELLS, LIGHT_CELLS, 3)
    even_light = colour.scene_of(samples) / cv2.resize(light, (columns, rows))
    xyz = colour.to_xyz(even_light)
    return Zone(
        box=box,
        per_mm=per_mm,
        seen=samples.seen,
        unclipped=samples.unclipped,
        xyz=np.maximum(xyz, LEAST_LUMINANCE, out=xyz),
    )


def _rest_box(placement: Placement) -> Box:
    """Return the rest zone without the strip that the sheet's own paper may cover."""
    zone, paper_end = placement.geometry.rest_zone, placement.geometry.width_mm + SHEET_MARGIN_MM
    covered = max(paper_end - zone.x_mm, 0)
    return replace(zone, x_mm=zone.x_mm + covered, width_mm=zone.width_mm - covered)


def _wide_rest(placement: Placement) -> Box:
    """Return the rest box with the strip above, right of and below it; left of it is paper."""
    box = _rest_box(placement)
    return replace(
        box,
        x_mm=box.x_mm - PAPER_GAP_MM,
        y_mm=box.y_mm - STRIP_MM,
        width_mm=box.width_mm + PAPER_GAP_MM + STRIP_MM,
        height_mm=box.height_mm + 2 * STRIP_MM,
    )


def inside_rest(zone: Zone, placement: Placement) -> BoolArray:
    """Return which samples of a zone lie in the rest box."""
    rest, (rows, columns) = _rest_box(placement), zone.seen.shape
    x = box_points(zone.box, columns, 1)[0, :, 0]
    y = box_points(zone.box, 1, rows)[:, 0, 1]
    across = (x > rest.x_mm) & (x < rest.x_mm + rest.width_mm)
    down = (y > rest.y_mm) & (y < rest.y_mm + rest.height_mm)
    return np.asarray(down[:, np.newaxis] & across)


def _box_around(outline_mm: FloatArray) -> Box:
    low, high = outline_mm.min(axis=0), outline_mm.max(axis=0)
    width, height = np.maximum(high - low, 1.0)
    return Box(
        x_mm=float(low[0]), y_mm=float(low[1]), width_mm=float(width), height_mm=float(height)
    )


def fill_outline(outline_mm: FloatArray, zone: Zone) -> BoolArray:
    """Return which samples a hand-drawn outline, shape (n, 2) [mm], encloses."""
    corner = np.array([zone.box.x_mm, zone.box.y_mm])
    points = np.rint((outline_mm - corner) * zone.per_mm - 0.5).astype(np.int32)
    canvas = np.zeros(zone.seen.shape, np.uint8)
    return np.asarray(cv2.fillPoly(canvas, [points], (1,)) > 0)


def zone_mm(zone: Zone, places: FloatArray) -> FloatArray:
    """Return sheet coordinates [mm] of samples at (column, row), shape (n, 2)."""
    corner = np.array([zone.box.x_mm, zone.box.y_mm])
    return np.asarray(corner + (places + 0.5) / zone.per_mm)


def half_sheets_beyond(zone: Zone, placement: Placement) -> float:
    """Return how far the zone lies beyond the sheet's edge, in half widths of the sheet."""
    width = placement.geometry.width_mm
    return max(2 * zone.box.centre_mm[0] / width - 2, 0.0)


def refuse_unreadable(zone: Zone, mask: BoolArray) -> None:
    """Raise BoneError when next to nothing is outlined, or most of it is clipped."""
    if mask.sum() < LEAST_OUTLINE_MM2 * zone.per_mm**2:
        raise BoneError("the outline encloses next to nothing", hint="draw it around the bone")
    if zone.unclipped[mask].mean() < 1 - CLIPPED_MOST:
        raise BoneError(
            "the bone is burnt out or black in the picture",
            hint="change the exposure, and move the lamp if it glares on the bone",
        )


def refuse_cut_off(zone: Zone, mask: BoolArray) -> None:
    """Raise BoneError when the bone runs out of the photo."""
    grown = cv2.dilate(mask.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    if (grown & ~zone.seen).sum() > CUT_MM * zone.per_mm:
        raise BoneError(
            "the bone runs out of the picture", hint="take the photo with the whole bone in view"
        )


def close_up(zone: Zone, mask: BoolArray) -> tuple[Zone, BoolArray]:
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
    cut = Zone(
        box=box,
        per_mm=zone.per_mm,
        seen=zone.seen[near],
        unclipped=zone.unclipped[near],
        xyz=zone.xyz[near],
    )
    return cut, mask[near]
