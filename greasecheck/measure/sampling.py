"""Takes windows of the sheet out of a photo, in linear light."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import Box, FloatArray, Lens, Photo, Placement

CLIPPED_LOW = 1.5 / 255
CLIPPED_HIGH = 253.5 / 255


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A rectangle of the sheet's plane, resampled upright.

    Attributes
    ----------
    linear : ndarray, shape (height, width, 3), float32
        Linear light by the photo's transfer curves, 0 to 1.
    clipped : ndarray, shape (height, width), bool
        Pixels at either end of the scale in any channel, or outside the photo.
    """

    linear: NDArray[np.float32]
    clipped: NDArray[np.bool_]


def sheet_to_pixels(placement: Placement, points_mm: FloatArray) -> FloatArray:
    """Project points of the sheet's plane into the photo.

    Parameters
    ----------
    placement : Placement
        Where the sheet is.
    points_mm : ndarray, shape (n, 2)
        Sheet coordinates [mm].

    Returns
    -------
    ndarray, shape (n, 2)
        Pixel coordinates [px]; the centre of the first pixel is (0, 0).
    """
    homogeneous = np.column_stack([points_mm, np.ones(len(points_mm))]) @ placement.homography.T
    ideal = homogeneous[:, :2] / homogeneous[:, 2:]
    return ideal if placement.lens is None else _distort(ideal, placement.lens)


def sample_window(photo: Photo, placement: Placement, box: Box, per_mm: float) -> Window:
    """Resample a box of the sheet's plane at `per_mm` pixels per mm.

    Parameters
    ----------
    photo : Photo
        The decoded photo.
    placement : Placement
        Where the sheet is in it.
    box : Box
        What to take, in sheet coordinates [mm]; parts outside the photo come out clipped.
    per_mm : float
        Sampling density [px/mm]; take about `placement.pixels_per_mm` to avoid aliasing.
    """
    grid = _pixel_grid(placement, box, per_mm)
    crop, offset = _crop_around(photo.pixels, grid)
    maps = (grid - offset).astype(np.float32)
    low, high = CLIPPED_LOW * photo.full_scale, CLIPPED_HIGH * photo.full_scale
    extreme = np.asarray(((crop <= low) | (crop >= high)).any(axis=2), dtype=np.float32)
    linear = _resample(_to_linear(crop, photo), maps, 0.0)
    return Window(linear=linear, clipped=_resample(extreme, maps, 1.0) > 0.01)


def _pixel_grid(placement: Placement, box: Box, per_mm: float) -> FloatArray:
    """Pixel position, shape (rows, columns, 2), of each sample of the box."""
    columns, rows = round(box.width_mm * per_mm), round(box.height_mm * per_mm)
    x = box.x_mm + (np.arange(columns) + 0.5) * box.width_mm / columns
    y = box.y_mm + (np.arange(rows) + 0.5) * box.height_mm / rows
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    return sheet_to_pixels(placement, points).reshape(rows, columns, 2)


def _crop_around(
    pixels: NDArray[np.uint8] | NDArray[np.uint16], grid: FloatArray
) -> tuple[NDArray[np.uint8] | NDArray[np.uint16], NDArray[np.int64]]:
    """Cut out the part of the photo that the grid touches; also its upper left corner (x, y)."""
    height, width = pixels.shape[:2]
    low = np.floor(grid.min(axis=(0, 1))).astype(int) - 1
    high = np.ceil(grid.max(axis=(0, 1))).astype(int) + 2
    left, top = np.clip(low, 0, [width - 1, height - 1])
    right, bottom = np.clip(high, 1, [width, height])
    corner = np.array([left, top])
    return pixels[top : max(bottom, top + 1), left : max(right, left + 1)], corner


def _to_linear(crop: NDArray[np.uint8] | NDArray[np.uint16], photo: Photo) -> NDArray[np.float32]:
    scale = np.linspace(0, 1, len(photo.transfer))
    levels = np.linspace(0, 1, photo.full_scale + 1)
    table = np.stack([np.interp(levels, scale, photo.transfer[:, c]) for c in range(3)], axis=-1)
    channels = [table[:, c].astype(np.float32)[crop[..., c]] for c in range(3)]
    return np.stack(channels, axis=-1)


def _resample(
    image: NDArray[np.float32], maps: NDArray[np.float32], outside: float
) -> NDArray[np.float32]:
    x, y = np.ascontiguousarray(maps[..., 0]), np.ascontiguousarray(maps[..., 1])
    border = (outside,) * 4
    resampled = cv2.remap(
        image, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=border
    )
    return np.asarray(resampled, dtype=np.float32)


def _distort(ideal: FloatArray, lens: Lens) -> FloatArray:
    rays = np.column_stack([ideal, np.ones(len(ideal))]) @ np.linalg.inv(lens.matrix).T
    projected, _ = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), lens.matrix, lens.distortion)
    return np.asarray(projected, dtype=np.float64).reshape(-1, 2)
