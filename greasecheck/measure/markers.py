"""Sees fiducial markers in a grey photo, coarsely on the whole, finely where they are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray, Photo

    Grey = NDArray[np.uint8]

COARSE_SIDE_PX = 2048
MARKER_CELLS = 6  # 4 x 4 bits and the black border, Garrido-Jurado et al. (2014)
SMALLEST_PERIMETER_SHARE = 0.012  # of the picture's longest side: an 8 px marker in 2600 px
SHARPEN_SIGMA_PX = 1.3  # with this amount best in trials on sheets 15 % of 1600 px wide
SHARPEN_AMOUNT = 2.0
PROFILE_STEP_PX = 0.5
EDGE_SPAN = (0.12, 0.88)  # the part of a marker's side away from its corners
PROFILES_PER_SIDE = 32
REACH_CELLS = 0.45  # stays within the black border and the white gap around it
REFINE_ROUNDS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenMarker:
    """A marker in a photo.

    Attributes
    ----------
    id : int
        Its number in the dictionary.
    corners_px : ndarray, shape (4, 2)
        Its corners [px], clockwise from the upper left one of the marker as printed.
    """

    id: int
    corners_px: FloatArray

    @property
    def centre_px(self) -> FloatArray:
        """Return the mean of the corners, shape (2,) [px]."""
        centre: FloatArray = self.corners_px.mean(axis=0)
        return centre

    @property
    def side_px(self) -> float:
        """Return the mean length of its sides [px]."""
        sides = self.corners_px - np.roll(self.corners_px, -1, axis=0)
        return float(np.hypot(*sides.T).mean())


def grey_of(photo: Photo) -> Grey:
    """Return the green channel in 8 bits, shape (height, width): the one with least noise."""
    green = photo.pixels[..., 1]
    if green.dtype.itemsize == 1:
        return np.ascontiguousarray(green, dtype=np.uint8)
    return (green >> 8).astype(np.uint8)


def detect_coarsely(grey: Grey, dictionary: str) -> tuple[SeenMarker, ...]:
    """Detect markers on a reduced copy; corners are good to about a pixel of that copy."""
    factor = -(-max(grey.shape) // COARSE_SIDE_PX)
    if factor == 1:
        return detect(grey, dictionary)
    rows, columns = (side // factor for side in grey.shape)
    cut = grey[: rows * factor, : columns * factor]
    small = cv2.resize(cut, (columns, rows), interpolation=cv2.INTER_AREA)
    shift = (factor - 1) / 2  # pixel centres lie at whole numbers
    return tuple(
        SeenMarker(id=marker.id, corners_px=marker.corners_px * factor + shift)
        for marker in detect(np.asarray(small, dtype=np.uint8), dictionary)
    )


def detect_near(grey: Grey, dictionary: str, outline_px: FloatArray) -> tuple[SeenMarker, ...]:
    """Detect markers at full resolution in the box around `outline_px`, shape (n, 2) [px]."""
    height, width = grey.shape
    left, top = np.clip(np.floor(outline_px.min(axis=0)), 0, [width, height]).astype(int)
    right, bottom = np.clip(np.ceil(outline_px.max(axis=0)), 0, [width, height]).astype(int)
    if min(right - left, bottom - top) < 2 * MARKER_CELLS:
        return ()
    crop = np.ascontiguousarray(grey[top:bottom, left:right])
    return tuple(
        SeenMarker(id=marker.id, corners_px=marker.corners_px + [left, top])
        for marker in detect_sharpened(crop, dictionary)
    )


def detect_sharpened(grey: Grey, dictionary: str) -> tuple[SeenMarker, ...]:
    """Detect markers after an unsharp mask, which brings back small blurred cells."""
    soft = cv2.GaussianBlur(grey, (0, 0), SHARPEN_SIGMA_PX)
    sharp = cv2.addWeighted(grey, 1 + SHARPEN_AMOUNT, soft, -SHARPEN_AMOUNT, 0)
    return detect(np.asarray(sharp, dtype=np.uint8), dictionary)


def detect(grey: Grey, dictionary: str) -> tuple[SeenMarker, ...]:
    """Detect the markers of an OpenCV dictionary such as "DICT_4X4_50".

    References
    ----------
    Garrido-Jurado et al. (2014), Automatic generation and detection of highly reliable fiducial
    markers under occlusion, Pattern Recognition 47(6): 2280-2292,
    doi:10.1016/j.patcog.2014.01.005.
    """
    parameters = cv2.aruco.DetectorParameters()
    parameters.minMarkerPerimeterRate = SMALLEST_PERIMETER_SHARE
    book = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    corners, ids, _ = cv2.aruco.ArucoDetector(book, parameters).detectMarkers(grey)
    if ids is None:
        return ()
    return tuple(
        SeenMarker(id=int(number), corners_px=np.asarray(quad, dtype=np.float64).reshape(4, 2))
        for number, quad in zip(np.ravel(ids), corners, strict=True)
    )


def refine(grey: Grey, marker: SeenMarker) -> SeenMarker:
    """Put a marker's corners where lines fitted to its four edges meet.

    Each edge is sampled by profiles across it; the centroid of a profile's rise from ink to
    paper does not move with blur. It is done thrice, as profiles must lie evenly about the edge.

    Parameters
    ----------
    grey : ndarray, shape (height, width), uint8
        The photo at full resolution.
    marker : SeenMarker
        The marker, its corners good to about a third of a cell.

    Returns
    -------
    SeenMarker
        The marker with corners good to about 0.1 px, or as it was where its edges are unclear.
    """
    quad = marker.corners_px
    for _ in range(REFINE_ROUNDS):
        lines = [_edge_line(grey, quad[i], quad[(i + 1) % 4]) for i in range(4)]
        meets = np.array([np.cross(lines[i - 1], lines[i]) for i in range(4)])
        if not np.abs(meets[:, 2]).all():
            return marker
        quad = meets[:, :2] / meets[:, 2:]
    moved = np.abs(quad - marker.corners_px).max()
    sound = moved < marker.side_px / MARKER_CELLS
    return SeenMarker(id=marker.id, corners_px=quad) if sound else marker


def _edge_line(grey: Grey, start: FloatArray, end: FloatArray) -> FloatArray:
    """Line (a, b, c) with a x + b y + c = 0 along a marker's edge; outside is on its left."""
    length = np.hypot(*(end - start))
    along = (end - start) / length
    outward = np.array([along[1], -along[0]])
    reach = float(np.clip(REACH_CELLS * length / MARKER_CELLS, 2.0, 8.0))
    offsets = np.arange(-reach, reach + 1e-9, PROFILE_STEP_PX)
    places = start + np.outer(np.linspace(*EDGE_SPAN, PROFILES_PER_SIDE), end - start)
    grid = (places[:, None] + offsets[None, :, None] * outward).astype(np.float32)
    rise = np.clip(np.diff(_sample(grey, grid), axis=1), 0, None)
    weight = rise.sum(axis=1)
    good = weight > 0.5 * np.median(weight)
    if good.sum() < 2 or not weight.any():
        return np.array([*outward, -outward @ start])
    middles = (offsets[:-1] + offsets[1:]) / 2
    edge = places[good] + np.outer((rise @ middles)[good] / weight[good], outward)
    dx, dy, x, y = np.ravel(
        cv2.fitLine(edge.astype(np.float32), cv2.DIST_HUBER, 0, 0.01, 0.01)
    ).astype(np.float64)
    return np.array([dy, -dx, dx * y - dy * x])


def _sample(grey: Grey, grid: NDArray[np.float32]) -> NDArray[np.float32]:
    """Grey values, shape of the grid, as floats; only the part around the grid is touched."""
    low = np.floor(grid.min(axis=(0, 1))).astype(int) - 1
    high = np.ceil(grid.max(axis=(0, 1))).astype(int) + 2
    left, top = np.clip(low, 0, [grey.shape[1] - 1, grey.shape[0] - 1])
    crop = grey[top : max(high[1], top + 1), left : max(high[0], left + 1)].astype(np.float32)
    maps = grid - np.array([left, top], dtype=np.float32)
    sampled: NDArray[np.float32] = cv2.remap(
        crop, maps, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return sampled
