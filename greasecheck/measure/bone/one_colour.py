"""Things of one colour within a bone's outline: a card or strip laid on bone shows by its edges.

An evenly coloured thing has the same chromaticity in light and shadow. Its sharp edges stay where
they are, whatever level of chromaticity an outline is drawn at; the corners of stains move. So
corners are judged by the range of levels that shows them, as stable regions are by Matas, J.,
Chum, O., Urban, M. & Pajdla, T. (2004), Image and Vision Computing 22(10), 761-767,
doi:10.1016/j.imavis.2004.02.006. A level more or less, which noise decides, changes little.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np

from greasecheck.measure.bone.mask import LEAST_AREA_MM2, THIN_MM, open_mask
from greasecheck.measure.bone.pieces import outlines
from greasecheck.measure.bone.straight import BEVEL_MM, SquareCorner, fullness, square_corners
from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.measure.robust import percentiles

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from greasecheck.model import BoolArray, FloatArray

BLUR_MM = 0.7  # standard deviation, a sample: it quiets noise and rounds corners less than STRAY_MM
BLUR_REACH = 4.0  # standard deviations: half the width of OpenCV's kernel for such pictures
MIXTURES = 4  # of yellowness and redness, evenly turned
YI_PER_REDNESS = 6.0  # bones differ less than a sixth as much in 100 X / Y as in yellowness
STEP_YI = 1.0  # between levels
RANGE = (2.0, 98.0)  # percentiles of the bone between which levels lie
RIM_MM = 1.5  # twice the blur: an edge as near to the bone's outline is part of it
OUTLINE_YI = 100.0  # range of a corner of the bone's outline, which every level shows
SAME_PLACE_MM = 2.0  # of a corner at different levels
ALIKE_DEG = 8.0  # corners of one rectangle are turned alike, seen a little from the side
FULL = 0.85  # of its smallest rectangle, for a region with two corners; an ellipse fills 0.785


@dataclass(frozen=True, slots=True, kw_only=True)
class OneColour:
    """How clearly a rectangle of one colour is seen within a bone's outline.

    Attributes
    ----------
    corners_yi : float
        Range of yellowness, or of a mixture with redness as large, over which outlines show three
        square corners of one rectangle.
    filled_yi : float
        The same for regions with two square corners that fill their smallest rectangle.
    """

    corners_yi: float
    filled_yi: float


class _Region(NamedTuple):
    """Square corners of a region at the level of a place in their order.

    `filled` says that it has two and fills its smallest rectangle.
    """

    level: int
    corners: list[SquareCorner]
    filled: bool


class _Spot(NamedTuple):
    """A square corner that outlines show over a range of levels.

    `half` says that one of its edges is the bone's own outline, which stains meet at right angles.
    """

    x_mm: float
    y_mm: float
    turned_deg: float
    range_yi: float
    half: bool


def one_colour(xyz: FloatArray, bone: BoolArray, per_mm: float) -> OneColour:
    """Look for a rectangle of one colour within the outline of a bone.

    Parameters
    ----------
    xyz : ndarray, shape (rows, columns, 3)
        CIE XYZ (D65/2), Y of the perfect diffuser = 100.
    bone : ndarray, shape (rows, columns), bool
        What was taken for bone.
    per_mm : float
        Sampling density [px/mm].
    """
    near = _around(bone, per_mm)
    xyz, bone = xyz[near], bone[near]
    rim = _rim(bone, per_mm)
    spots = [
        _Spot(*corner[:3], range_yi=OUTLINE_YI, half=False)
        for corners in square_corners([line / per_mm for line in outlines(bone)])
        for corner in corners
    ]
    filled = 0
    for shade in _shades(xyz, bone, per_mm):
        regions = _regions(shade, bone, per_mm)
        spots += _spots(regions, rim, per_mm)
        filled = max(filled, len({region.level for region in regions if region.filled}))
    return OneColour(corners_yi=_rectangle_yi(spots), filled_yi=filled * STEP_YI)


def _around(bone: BoolArray, per_mm: float) -> tuple[slice, slice]:
    """Return where the bone lies, with what the blur reaches around it."""
    left, top, width, height = cv2.boundingRect(bone.astype(np.uint8))
    reach = int(BLUR_REACH * BLUR_MM * per_mm) + 1
    rows = slice(max(top - reach, 0), top + height + reach)
    return rows, slice(max(left - reach, 0), left + width + reach)


def _rim(bone: BoolArray, per_mm: float) -> BoolArray:
    inside = np.pad(bone, 1).astype(np.uint8)
    to_rest = cv2.distanceTransform(inside, cv2.DIST_L2, 5)[1:-1, 1:-1]
    return np.asarray(to_rest < RIM_MM * per_mm)


def _shades(xyz: FloatArray, bone: BoolArray, per_mm: float) -> Iterator[FloatArray]:
    """Yield the mixtures of yellowness and redness, each shaped (rows, columns)."""
    blurred = cv2.GaussianBlur(xyz.astype(np.float32), (0, 0), BLUR_MM * per_mm)
    inside = np.asarray(blurred[bone], np.float64)
    redness = YI_PER_REDNESS * 100 * inside[:, 0] / inside[:, 1]
    for turn in np.arange(MIXTURES) * np.pi / MIXTURES:
        shade = np.zeros(bone.shape)
        shade[bone] = np.cos(turn) * yellowness_e313(inside) + np.sin(turn) * redness
        yield shade


def _levels(shades: FloatArray) -> FloatArray:
    low, high = percentiles(shades, RANGE)
    return np.arange(np.floor(low / STEP_YI), high / STEP_YI) * STEP_YI


def _regions(shade: FloatArray, bone: BoolArray, per_mm: float) -> list[_Region]:
    """Return the regions above and below each level of one mixture that have square corners."""
    lines = [
        (place, line)
        for place, level in enumerate(_levels(shade[bone]))
        for line in _outlines_at(shade > level, bone, per_mm)
    ]
    corners = square_corners([line / per_mm for _, line in lines])
    return [
        _Region(level=place, corners=each, filled=len(each) > 1 and fullness(line) > FULL)
        for (place, line), each in zip(lines, corners, strict=True)
        if each
    ]


def _outlines_at(above: BoolArray, bone: BoolArray, per_mm: float) -> Iterator[FloatArray]:
    for side in (bone & above, bone & ~above):
        yield from outlines(open_mask(side, THIN_MM, per_mm), LEAST_AREA_MM2 * per_mm**2)


def _spots(regions: Sequence[_Region], rim: BoolArray, per_mm: float) -> list[_Spot]:
    """Count for each square corner of one mixture the levels that show it."""
    found = [
        (region.level, corner)
        for region in regions
        for corner in region.corners
        if not all(_on_rim(corner, rim, per_mm))
    ]
    corners = np.array([corner for _, corner in found]).reshape(-1, len(SquareCorner._fields))
    levels = np.array([level for level, _ in found], np.intp)
    shown = levels[:, np.newaxis] == np.flatnonzero(np.bincount(levels))
    same = _near(corners, SAME_PLACE_MM) & _alike(corners)
    counts = (same @ shown).sum(axis=1)
    return [
        _Spot(*corner[:3], range_yi=count * STEP_YI, half=any(_on_rim(corner, rim, per_mm)))
        for (_, corner), count in zip(found, counts.tolist(), strict=True)
    ]


def _on_rim(corner: SquareCorner, rim: BoolArray, per_mm: float) -> tuple[bool, bool]:
    """Return for either edge of a corner whether it is the bone's own outline."""
    last = np.array(rim.shape)[::-1] - 1
    places = np.rint(np.array(corner[3:]).reshape(2, 2) * per_mm).astype(np.intp)
    (one_x, one_y), (other_x, other_y) = np.clip(places, 0, last).tolist()
    return bool(rim[one_y, one_x]), bool(rim[other_y, other_x])


def _rectangle_yi(spots: Sequence[_Spot]) -> float:
    """Return the largest range of levels that shows three corners of one rectangle, or 0."""
    ordered = np.array(sorted(spots, key=lambda spot: -spot.range_yi)).reshape(-1, 5)
    ordered = ordered[_first_of(_near(ordered, SAME_PLACE_MM) & _alike(ordered))]
    return max((_third_yi(ordered[row]) for row in _alike(ordered)), default=0.0)


def _third_yi(ordered: FloatArray) -> float:
    """Return the range of the third of the corners that lie apart; 0 of fewer than three.

    At most one of them may be half a corner.
    """
    half = ordered[:, 4] > 0
    taken = _first_of(_near(ordered, 2 * BEVEL_MM) | half & half[:, np.newaxis])
    return float(ordered[taken, 3][2]) if taken.sum() > 2 else 0.0


def _first_of(excludes: BoolArray) -> BoolArray:
    """Take each item, in order, that no item taken before excludes; shape (n, n) gives (n,)."""
    taken = np.zeros(len(excludes), np.bool_)
    for place, row in enumerate(excludes):
        taken[place] = not (row & taken).any()
    return taken


def _near(spots: FloatArray, reach_mm: float) -> BoolArray:
    across = spots[:, np.newaxis, :2] - spots[:, :2]
    return np.asarray((across**2).sum(axis=-1) < reach_mm**2)


def _alike(spots: FloatArray) -> BoolArray:
    apart = np.abs(spots[:, np.newaxis, 2] - spots[:, 2])
    return np.asarray(np.minimum(apart, 90 - apart) < ALIKE_DEG)
