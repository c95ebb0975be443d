"""Whether the water stands where the marks put it: the black above it, the ends of stripes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.ladder.haze import MOST_START_SHARE
from greasecheck.measure.ladder.refraction import look
from greasecheck.measure.ladder.signs.picture import LEAST_BLACK
from greasecheck.measure.ladder.waterline import LEAST_END_SHARE, LEAST_STEP, marks
from greasecheck.reference.ladder.plate import dip_ladder

if TYPE_CHECKING:
    from greasecheck.measure.ladder.light import Picture
    from greasecheck.measure.ladder.refraction import Eye
    from greasecheck.measure.ladder.waterline import Waterline
    from greasecheck.model import FloatArray

# Where the black above the stripes goes into the water its light changes by more than three codes
# of an 8-bit photo, each 0.035 of it: half of it is left under the surface, or a veil begins.
BLACK_STEP = 0.1
BLACK_SAMPLE_MM, BLACK_COLUMNS = 0.25, 40
BLACK_WINDOW = 8  # samples above a step and below it
BLACK_REACH_MM = 8.0  # beyond where water is read, and below the black's end
BLUR_PX = 2.0  # between what is compared
HALO_PX = 8.0  # about dry white: a block of JPEG spreads an edge so far, and so does sharpening
MOST_WET_SHARE = 0.8  # of the contrast of dry stripes: more may leave less than such a step


def surface_miss_mm(picture: Picture, eye: Eye, waterline: Waterline) -> float:
    """Return how far from the level the black above the stripes seems to meet the water [mm].

    The level comes from the marks below the black: refraction raises them. In a torn picture, whose
    rows are moved or lost between the black and the marks, the black's light does not change at
    that level, or it changes above it and stays so. Only where the ends of the stripes show less
    contrast than `MOST_WET_SHARE` of dry ones must it change at all: a tub may light wet black as
    brightly as dry black. Ends with less than `LEAST_END_SHARE` lie under water: then the level
    must be above them. Green alone is used, since JPEG smears colours.
    """
    ends, highest = dip_ladder().stripes.fine.y_mm, dip_ladder().waterline_range_mm[0]
    y = np.arange(highest - BLACK_REACH_MM, ends + BLACK_REACH_MM, BLACK_SAMPLE_MM)
    logs, px_per_sample = _black_logs(picture, eye, y)
    level = round((min(waterline.surface.level_mm, ends) - y[0]) / BLACK_SAMPLE_MM)
    wet = waterline.end_step < LEAST_END_SHARE
    blur, halo = (round(px / px_per_sample) for px in (BLUR_PX, HALO_PX))
    off, early = _samples_apart(logs, level, blur, blur if wet else halo)
    changes = waterline.end_step < MOST_WET_SHARE
    apart_mm = BLACK_SAMPLE_MM * (max(off, early) if changes else early)
    return max(apart_mm, waterline.surface.level_mm - ends) if wet else apart_mm


def _black_logs(picture: Picture, eye: Eye, y_mm: FloatArray) -> tuple[FloatArray, float]:
    """Return the logarithm of the light down the black, and how many pixels a sample takes."""
    stripes, columns = dip_ladder().stripes, dip_ladder().rungs.columns
    x = np.linspace(stripes.fine.x_mm, columns[1].x_mm, BLACK_COLUMNS)
    across, down = (axis.ravel() for axis in np.meshgrid(x, y_mm))
    pixels = eye.project(np.column_stack([across, down, np.zeros(across.size)]))
    light = np.median(picture.at(pixels)[:, 1].reshape(len(y_mm), len(x)), axis=1)
    length_px = float(np.linalg.norm(pixels[-1] - pixels[len(x) - 1]))
    return np.log(np.maximum(light, LEAST_BLACK)), max(length_px / (len(y_mm) - 1), 0.1)


def _samples_apart(logs: FloatArray, level: int, blur: int, beside: int) -> tuple[float, float]:
    """Return how far a level is from the nearest change of light, and below a lasting one.

    Both in samples, the second 0 without a lasting change above the level. Means of `BLACK_WINDOW`
    samples are compared, `blur` samples apart. A change lasts when it is still there `beside`
    samples above the level.
    """
    sums = np.cumsum(np.append(0.0, logs))
    means = (sums[BLACK_WINDOW:] - sums[:-BLACK_WINDOW]) / BLACK_WINDOW
    apart = BLACK_WINDOW + blur
    changed = np.abs(means[apart:] - means[:-apart]) > BLACK_STEP
    if not changed.any():
        return float(len(logs)), 0.0
    away = np.flatnonzero(changed) + (BLACK_WINDOW + apart) / 2 - level
    above = means[: max(level - BLACK_WINDOW - beside, 1)]
    first = above[min(int(np.argmax(changed)), len(above) - 1)]
    stays = abs(above[-1] - first) > BLACK_STEP  # a ring of fat on the plate does not
    early = -away[0] - apart + blur / 2 if stays else 0.0
    return float(np.abs(away).min()), max(float(early), 0.0)


def lost_step(eye: Eye, waterline: Waterline, least_per_m: float) -> float:
    """Return by how much the stripes' upper ends exceed what murk lets through, in logarithms.

    Asked where no stripes show just below their ends, so that the haze is said to be at least
    `least_per_m`. Such haze would hide the ends, too. Ends that do show have something other than
    water below them, such as a cover with an edge.
    """
    ends = look(eye, waterline.surface, marks().places_mm[marks().ends])
    path_m = float(ends.path_mm.mean()) / 1000
    if path_m == 0.0:  # they are dry
        return 0.0
    seen = max(waterline.end_step, LEAST_STEP) / MOST_START_SHARE
    return max(float(np.log(seen)) + least_per_m * path_m, 0.0)
