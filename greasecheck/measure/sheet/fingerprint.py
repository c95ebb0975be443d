"""The fine light and dark of a photo's patches: its sensor's noise, which a re-saved copy keeps.

On an even patch what is left beside slow shading is noise, other in every frame of a burst. Two
photos are compared by the share of places where both are lighter, or both darker, than around:
half by chance. Measured on sample photos that were smoothed and given new noise of 0.7 to 3 grey
levels, and on drawn ones: frames of a burst 0.49 to 0.65; copies saved as JPEG of quality 95 0.91
to 0.99, of 90 0.76 to 0.88, of 85 0.60 to 0.87, of 75 0.54 to 0.77. So a copy of a lower quality,
or made smaller by a messenger, cannot be distinguished from the next frame of a burst.
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

EACH = 3  # of the patches, every third by name is looked at: at least 3 samples for each bit
BITS = 2048  # by chance 0.75 of them agree once in 10^100; the double doubles the logbook's column
PER_MM = 4.0  # a 12 megapixel photo has 10 to 13; at the double, saving as JPEG changes most signs
FINE_PX, COARSE_PX = 0.6, 2.0  # band of the noise, standard deviations of Gaussian blurs at PER_MM
AROUND_PX = 8  # of the photo around a patch, which reducing it reaches into: 2 px would do
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
    boxes = [geometry.patches[name] for name in sorted(geometry.patches)[::EACH]]
    shrink = min(1.0, PER_MM / _pixels_per_mm(placement))
    spots = _spots(placement, boxes)
    noise = np.concatenate([_noise(photo, places, shrink).ravel() for places in spots])
    chosen = np.linspace(0, len(noise) - 1, BITS).astype(np.intp)
    return base64.b64encode(np.packbits(noise[chosen] > 0).tobytes()).decode()


def _spots(placement: Placement, boxes: Sequence[Box]) -> list[FloatArray]:
    """Return where patches are sampled, shapes (rows, columns, 2) [px]."""
    grids = [
        box_points(box, int(box.width_mm * PER_MM), int(box.height_mm * PER_MM)) for box in boxes
    ]
    pixels = sheet_to_pixels(placement, np.concatenate([grid.reshape(-1, 2) for grid in grids]))
    ends = np.cumsum([grid.shape[0] * grid.shape[1] for grid in grids])[:-1]
    parts = zip(np.split(pixels, ends), grids, strict=True)
    return [part.reshape(grid.shape) for part, grid in parts]


def _pixels_per_mm(placement: Placement) -> float:
    """Return the photo's resolution in the middle of the chart [px/mm]."""
    boxes = list(placement.geometry.patches.values())
    middle = np.mean([(box.x_mm, box.y_mm) for box in boxes], axis=0)
    ends = sheet_to_pixels(placement, middle + np.array([[-5.0, 0.0], [5.0, 0.0]]))
    return float(np.hypot(*(ends[1] - ends[0]))) / 10


def _noise(photo: Photo, places: FloatArray, shrink: float) -> Grey:
    """Return what is left of a patch between two blurs, without its edges."""
    size = np.array(photo.pixels.shape[1::-1])
    corners = places[:: len(places) - 1, :: places.shape[1] - 1].reshape(4, 2)
    left, top = np.clip(corners.min(axis=0) - AROUND_PX, 0, size - 2).astype(int)
    right, bottom = np.clip(corners.max(axis=0) + AROUND_PX, (left + 2, top + 2), size).astype(int)
    cut = photo.pixels[top:bottom, left:right]
    grey = cv2.cvtColor(cut, cv2.COLOR_RGB2GRAY).astype(np.float32)
    small = cv2.resize(grey, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    x, y = cv2.split(((places - (left, top) + 0.5) * shrink - 0.5).astype(np.float32))
    patch = cv2.remap(small, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    fine, coarse = (cv2.GaussianBlur(patch, (0, 0), std) for std in (FINE_PX, COARSE_PX))
    edge = int(EDGE_MM * PER_MM)
    return np.asarray((fine - coarse)[edge:-edge, edge:-edge], np.float32)
