"""How a lamp lights the paper behind the water: the shadow of the water's surface."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.sheet.samples import box_points, sample_points
from greasecheck.model import Box

if TYPE_CHECKING:
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.model import FloatArray, Photo, Placement

STEP_MM = 2.0  # from row to row
STRIP_MM = 8.0  # width of the strips of bare paper beside the bars
BESIDE_MM = 3.5  # from the bars to a strip: refraction moves bars by less (1.4 mm at 24 mm)
UNDER_LINE_MM = 4.0  # where the surface itself is seen
ABOVE_TABLE_MM = 6.0
FLAT = 0.12  # least change of light, relative, that is taken for a shadow's edge


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterShade:
    """Light on bare paper behind the water, from the fill line down.

    A ray that enters by the jar's front is bent down and cannot reach the paper directly under the
    surface; what enters by the surface itself is reflected or falls in front of the sheet.

    Attributes
    ----------
    dark : float
        Darkest light under the fill line, paper far from the jar = 1: what comes from all round.
    bright : float
        Brightest light below it.
    reach_mm : float or None
        From the fill line to the shadow's lower edge [mm]; None where there is no clear shadow.
    """

    dark: float
    bright: float
    reach_mm: float | None


def look_at_shade(
    photo: Photo, placement: Placement, colour: ColourModel, level: FloatArray
) -> WaterShade:
    """Measure the paper on both sides of the bars behind the jar.

    Parameters
    ----------
    photo, placement, colour
        The photo, where the sheet is in it, and its colour model.
    level : ndarray, shape (3,)
        Scene light of paper far from the jar.
    """
    geometry = placement.geometry
    bars, bottom = geometry.sight.wet_fine, geometry.height_mm - ABOVE_TABLE_MM
    top = geometry.fill_line_y_mm + UNDER_LINE_MM
    rows = int((bottom - top) / STEP_MM)
    lefts = (bars.x_mm - BESIDE_MM - STRIP_MM, bars.x_mm + bars.width_mm + BESIDE_MM)
    light = [
        _rows(photo, placement, colour, Box(x_mm=x, y_mm=top, width_mm=STRIP_MM,
                                            height_mm=rows * STEP_MM), rows)
        for x in lefts
    ]  # fmt: skip
    sides = [side / float(level.mean()) for side in light]
    depth = UNDER_LINE_MM + STEP_MM * (np.arange(rows) + 0.5)
    return shade_of(np.mean(sides, axis=0), np.asarray(depth, dtype=np.float64))


def _rows(
    photo: Photo, placement: Placement, colour: ColourModel, box: Box, rows: int
) -> FloatArray:
    points = box_points(box, 12, rows)
    linear = sample_points(photo, placement, points).linear.mean(axis=1, dtype=np.float64)
    return np.asarray(colour.scene_linear(linear).mean(axis=-1))


def shade_of(profile: FloatArray, depth_mm: FloatArray) -> WaterShade:
    """Find the shadow in a profile of light over the depth under the fill line.

    Parameters
    ----------
    profile : ndarray, shape (n,)
        Light from the top down.
    depth_mm : ndarray, shape (n,)
        Depth of each value [mm], evenly spaced.

    Examples
    --------
    >>> depth = np.arange(1.0, 80.0, 2.0)
    >>> shade_of(np.where(depth < 38, 0.4, 1.2), depth).reach_mm
    38.0
    """
    smooth = np.convolve(np.pad(profile, 1, mode="edge"), np.ones(3) / 3, mode="valid")
    lowest = int(np.argmin(smooth))
    below = smooth[lowest:]
    highest = int(np.argmax(below))
    dark, bright = float(smooth[lowest]), float(below[highest])
    reach: float | None = None
    if bright > dark * (1 + FLAT):
        middle = (dark + _first_plateau(below[: highest + 1])) / 2
        crossed = lowest + int(np.argmax(below >= middle))
        reach = float((depth_mm[max(crossed - 1, 0)] + depth_mm[crossed]) / 2)
    return WaterShade(dark=dark, bright=bright, reach_mm=reach)


def _first_plateau(rising: FloatArray) -> float:
    """Light where the steepest rise below the shadow ends: the jar adds light farther down."""
    slopes = np.diff(rising, prepend=rising[0])
    steepest = int(np.argmax(slopes))
    flat = np.nonzero(slopes[steepest:] < slopes[steepest] / 4)[0]
    end = steepest + int(flat[0]) if len(flat) else len(rising) - 1
    return float(rising[end])
