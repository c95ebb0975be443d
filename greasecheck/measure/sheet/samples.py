"""Takes single points of the sheet out of a photo: quick where nothing fine is to be kept."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.sheet.lens import project, undistort

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import TypeVar

    from cv2.typing import MatLike
    from numpy.typing import NDArray

    from greasecheck.model import BoolArray, Box, Drawn, FloatArray, Photo, Placement

    Device = NDArray[np.uint8] | NDArray[np.uint16]
    Float = TypeVar("Float", np.float32, np.float64)

# The two levels of 8 bits at either end, which noise and JPEG leave a clipped pixel in.
CLIPPED_LOW, CLIPPED_HIGH = 1.5 / 255, 253.5 / 255


@dataclass(frozen=True, slots=True, kw_only=True)
class PointSamples:
    """Device values at points of the sheet's plane, and what follows from them, (rows, columns).

    Attributes
    ----------
    device : ndarray, shape (rows, columns, 3)
        Device values in RGB order.
    seen : ndarray, shape (rows, columns), bool
        Inside the photo.
    photo : Photo
        Whose values they are.
    """

    device: Device | MatLike
    seen: BoolArray
    photo: Photo

    @property
    def linear(self) -> NDArray[np.float32]:
        """Return linear light by the photo's transfer curves, 0 to 1, shape (rows, columns, 3)."""
        return self.looked_up(self.light_of_levels)

    @property
    def light_of_levels(self) -> NDArray[np.float32]:
        """Return the linear light of each device value, shape (levels, 3), read-only."""
        return _light_of_levels(self.photo.transfer.tobytes(), self.photo.full_scale)

    def looked_up(self, table: NDArray[Float]) -> NDArray[Float]:
        """Return what a table, shape (levels, 3), has for the samples, each in its channel."""
        if self.device.dtype.itemsize == 1:
            return np.asarray(cv2.LUT(self.device, table[np.newaxis]), dtype=table.dtype)
        return np.stack([table[self.device[..., c], c] for c in range(3)], axis=-1)

    @property
    def bright(self) -> BoolArray:
        """Return which are seen and at the top of the scale in any channel."""
        return ~self._within(0, self._share(CLIPPED_HIGH)) & self.seen

    @property
    def dark(self) -> BoolArray:
        """Return which are seen and at the bottom of the scale in every channel."""
        return self._within(0, self._share(CLIPPED_LOW)) & self.seen

    @property
    def unclipped(self) -> BoolArray:
        """Return which are seen and inside the scale in every channel."""
        return self._within(self._share(CLIPPED_LOW) + 1, self._share(CLIPPED_HIGH)) & self.seen

    def _share(self, of_scale: float) -> int:
        return int(of_scale * self.photo.full_scale)

    def _within(self, lowest: int, highest: int) -> BoolArray:
        """Return which lie within whole levels, both included, in every channel."""
        return np.asarray(cv2.inRange(self.device, (lowest,) * 3, (highest,) * 3) > 0)


@lru_cache(maxsize=2)  # one photo after the other has the same curves
def _light_of_levels(transfer: bytes, full_scale: int) -> NDArray[np.float32]:
    """Interpolate transfer curves, the bytes of shape (k, 3), to each device value."""
    curves = np.frombuffer(transfer, np.float32).reshape(-1, 3)
    place = np.linspace(0, len(curves) - 1, full_scale + 1)
    low = np.minimum(place.astype(np.intp), len(curves) - 2)
    share = (place - low)[:, np.newaxis]
    light = np.asarray(curves[low] * (1 - share) + curves[low + 1] * share, np.float32)
    light.setflags(write=False)
    return light


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
    pixels = sheet_to_pixels(placement, points_mm.reshape(-1, 2)).astype(np.float32)
    places = pixels.reshape(points_mm.shape)
    height, width = photo.pixels.shape[:2]
    device = cv2.remap(photo.pixels, places, None, cv2.INTER_LINEAR)  # type: ignore[call-overload]  # without a second map
    seen = np.asarray(cv2.inRange(places, (0.0, 0.0), (width - 1.0, height - 1.0)) > 0)
    return device_samples(photo, device, seen)


def device_samples(
    photo: Photo, device: Device | MatLike, seen: BoolArray | None = None
) -> PointSamples:
    """Turn device values of a photo, shape (rows, columns, 3), into samples; all seen without."""
    everywhere = np.ones(device.shape[:2], bool)
    return PointSamples(device=device, seen=everywhere if seen is None else seen, photo=photo)


def box_points(box: Box, columns: int, rows: int) -> FloatArray:
    """Return the centres, shape (rows, columns, 2) [mm], of a box's evenly split cells."""
    return np.asarray(boxes_points([box], columns, rows)[0])


def boxes_points(boxes: Sequence[Box], columns: int, rows: int) -> FloatArray:
    """Return the same for several boxes, shape (boxes, rows, columns, 2) [mm]."""
    x, y, width, height = np.array(
        [(box.x_mm, box.y_mm, box.width_mm, box.height_mm) for box in boxes]
    ).T[:, :, np.newaxis]
    points = np.empty((len(boxes), rows, columns, 2))
    points[..., 0] = (x + (np.arange(columns) + 0.5) * width / columns)[:, np.newaxis]
    points[..., 1] = (y + (np.arange(rows) + 0.5) * height / rows)[:, :, np.newaxis]
    return points
