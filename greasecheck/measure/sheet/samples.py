"""Takes single points of the sheet out of a photo: quick where nothing fine is to be kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.sheet.lens import project, undistort

if TYPE_CHECKING:
    from cv2.typing import MatLike
    from numpy.typing import NDArray

    from greasecheck.model import BoolArray, Box, Drawn, FloatArray, Photo, Placement

    Device = NDArray[np.uint8] | NDArray[np.uint16]

# The two levels of 8 bits at either end, which noise and JPEG leave a clipped pixel in.
CLIPPED_LOW, CLIPPED_HIGH = 1.5 / 255, 253.5 / 255


@dataclass(frozen=True, slots=True, kw_only=True)
class PointSamples:
    """Light at points of the sheet's plane, each array shaped (rows, columns).

    Attributes
    ----------
    linear : ndarray, shape (rows, columns, 3), float32
        Linear light by the photo's transfer curves, 0 to 1.
    bright : ndarray, bool
        At the top of the scale in any channel.
    dark : ndarray, bool
        At the bottom of the scale in every channel.
    partly_dark : ndarray, bool
        At the bottom of the scale in any channel.
    seen : ndarray, bool
        Inside the photo.
    """

    linear: NDArray[np.float32]
    bright: BoolArray
    dark: BoolArray
    partly_dark: BoolArray
    seen: BoolArray


def sheet_to_pixels(placement: Placement, points_mm: FloatArray) -> FloatArray:
    """Return pixel coordinates, shape (n, 2) [px], of points of the sheet, shape (n, 2) [mm].

    The centre of the first pixel is (0, 0).
    """
    return project(placement.homography, placement.lens, points_mm)


def places_mm(drawn: Drawn, placement: Placement, reduced_by: int) -> FloatArray:
    """Return corners that a person drew in sheet coordinates, shape (n, 2) [mm]."""
    points = np.array(drawn.points, dtype=np.float64)
    if not drawn.in_px:
        return points
    seen = (points + 0.5) / reduced_by - 0.5
    ideal = seen if placement.lens is None else undistort(seen, placement.lens)
    return project(np.asarray(np.linalg.inv(placement.homography), np.float64), None, ideal)


def sample_points(photo: Photo, placement: Placement, points_mm: FloatArray) -> PointSamples:
    """Sample points, shape (rows, columns, 2) [mm], interpolated between neighbouring pixels."""
    pixels = sheet_to_pixels(placement, points_mm.reshape(-1, 2)).reshape(points_mm.shape)
    height, width = photo.pixels.shape[:2]
    x, y = pixels[..., 0].astype(np.float32), pixels[..., 1].astype(np.float32)
    device: Device = cv2.remap(photo.pixels, x, y, cv2.INTER_LINEAR)  # type: ignore[assignment]  # it keeps the kind of the photo's pixels
    seen = (x >= 0) & (x <= width - 1) & (y >= 0) & (y <= height - 1)
    return device_samples(photo, device, seen)


def device_samples(
    photo: Photo, device: Device | MatLike, seen: BoolArray | None = None
) -> PointSamples:
    """Turn device values of a photo, shape (rows, columns, 3), into samples; all seen without."""
    seen = np.ones(device.shape[:2], bool) if seen is None else seen
    top, low = (int(share * photo.full_scale) for share in (CLIPPED_HIGH, CLIPPED_LOW))
    return PointSamples(
        linear=_linear_light(photo, device),
        bright=~_within(device, 0, top) & seen,
        dark=_within(device, 0, low) & seen,
        partly_dark=~_within(device, low + 1, photo.full_scale) & seen,
        seen=seen,
    )


def box_points(box: Box, columns: int, rows: int) -> FloatArray:
    """Return the centres, shape (rows, columns, 2) [mm], of a box's evenly split cells."""
    x = box.x_mm + (np.arange(columns) + 0.5) * box.width_mm / columns
    y = box.y_mm + (np.arange(rows) + 0.5) * box.height_mm / rows
    points = np.empty((rows, columns, 2))
    points[..., 0], points[..., 1] = x, y[:, np.newaxis]
    return points


def _within(device: Device | MatLike, lowest: int, highest: int) -> BoolArray:
    """Return which points lie within whole levels, both included, in every channel."""
    return np.asarray(cv2.inRange(device, (lowest,) * 3, (highest,) * 3) > 0)


def _linear_light(photo: Photo, device: Device | MatLike) -> NDArray[np.float32]:
    scale = np.linspace(0, photo.full_scale, len(photo.transfer))
    levels = np.arange(photo.full_scale + 1)
    table = [np.interp(levels, scale, curve).astype(np.float32) for curve in photo.transfer.T]
    if device.dtype.itemsize == 1:
        return np.asarray(cv2.LUT(device, np.stack(table, axis=-1)[np.newaxis]), dtype=np.float32)
    return np.stack([table[c][device[..., c]] for c in range(3)], axis=-1)
