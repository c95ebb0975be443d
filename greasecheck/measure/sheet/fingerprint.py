"""The fine light and dark of a photo's patches: its sensor's noise, which a re-saved copy keeps.

On an even patch what is left beside slow shading is noise, other in every frame of a burst. Two
photos are compared by the share of places where both are lighter, or both darker, than around:
half by chance. Measured on sample photos that were smoothed and given new noise of 0.7 to 3 grey
levels, and on drawn ones: frames of a burst 0.49 to 0.65; copies saved as JPEG of quality 95 0.91
to 0.99, of 90 0.76 to 0.88, of 85 0.60 to 0.87, of 75 0.54 to 0.77. So a copy of a lower quality,
or made smaller by a messenger, cannot be told from the next frame of a burst.
"""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.sheet.samples import box_points, sheet_to_pixels

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from greasecheck.model import Box, FloatArray, Photo, Placement

    Grey = NDArray[np.float32]

BITS = 2048  # by chance 0.75 of them agree once in 10^100; the double doubles the logbook's column
PER_MM = 4.0  # a 12 megapixel photo has 10 to 13; at the double, saving as JPEG changes most signs
FINE_PX, COARSE_PX = 0.6, 2.0  # band of the noise, standard deviations of Gaussian blurs at PER_MM
EDGE_MM = 1.5  # of a patch that its neighbours reach into


def photo_fingerprint(photo: Photo, placement: Placement) -> str:
    """Return the fingerprint of a photo, in base64; empty where its chart has no patches.

    Parameters
    ----------
    photo : Photo
        The photo.
    placement : Placement
        Where its sheet or card is.
    """
    geometry = placement.geometry
    if not geometry.patches:
        return ""
    boxes = [geometry.patches[name] for name in sorted(geometry.patches)]
    left, top, right, bottom = _around(photo, placement, boxes)
    cut = photo.pixels[top:bottom, left:right]
    grey = cv2.cvtColor(cut, cv2.COLOR_RGB2GRAY).astype(np.float32)
    shrink = min(1.0, PER_MM / _pixels_per_mm(placement))
    resized = cv2.resize(grey, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    small: Grey = np.asarray(resized, np.float32)
    corner = np.array([left, top])
    noise = np.concatenate([_noise(small, placement, box, corner, shrink) for box in boxes])
    places = np.linspace(0, len(noise) - 1, BITS).astype(np.intp)
    return base64.b64encode(np.packbits(noise[places] > 0).tobytes()).decode()


def _around(photo: Photo, placement: Placement, boxes: Sequence[Box]) -> tuple[int, int, int, int]:
    """Return the part of the photo that shows the patches: left, top, right, bottom [px]."""
    corners = np.concatenate([box_points(box, 2, 2).reshape(-1, 2) for box in boxes])
    pixels = sheet_to_pixels(placement, corners)
    reach = np.ptp(pixels, axis=0) / 10  # the points lie a quarter within the boxes
    size = np.array(photo.pixels.shape[1::-1])
    low = np.clip(pixels.min(axis=0) - reach, 0, size - 2).astype(int)
    high = np.clip(pixels.max(axis=0) + reach, low + 2, size).astype(int)
    return int(low[0]), int(low[1]), int(high[0]), int(high[1])


def _pixels_per_mm(placement: Placement) -> float:
    """Return the photo's resolution in the middle of the chart [px/mm]."""
    boxes = list(placement.geometry.patches.values())
    middle = np.mean([(box.x_mm, box.y_mm) for box in boxes], axis=0)
    ends = sheet_to_pixels(placement, middle + np.array([[-5.0, 0.0], [5.0, 0.0]]))
    return float(np.hypot(*(ends[1] - ends[0]))) / 10


def _noise(
    small: Grey, placement: Placement, box: Box, corner: NDArray[np.int_], shrink: float
) -> FloatArray:
    """Return what is left of a patch between two blurs, without its edges."""
    columns, rows = int(box.width_mm * PER_MM), int(box.height_mm * PER_MM)
    points = box_points(box, columns, rows)
    pixels = (sheet_to_pixels(placement, points.reshape(-1, 2)) - corner + 0.5) * shrink - 0.5
    x, y = np.moveaxis(pixels.reshape(rows, columns, 2).astype(np.float32), -1, 0)
    patch = cv2.remap(small, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    band = cv2.GaussianBlur(patch, (0, 0), FINE_PX) - cv2.GaussianBlur(patch, (0, 0), COARSE_PX)
    edge = int(EDGE_MM * PER_MM)
    return np.asarray(band[edge : rows - edge, edge : columns - edge], np.float64).ravel()
