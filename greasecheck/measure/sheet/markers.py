"""Sees fiducial markers in a grey photo."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray, Photo

    Grey = NDArray[np.uint8]

# Without a source, where none is named; the comment beside each value states what it does.
# Longest side of the reduced copy; doubled, the search takes four times as long
QUICK_SIDE_PX = 1400
GLANCE_SIDE_PX = 1000  # of one on which only large markers are to be trusted:
GLANCE_MARKER_PX = 30.0  # five pixels a cell
SMALLEST_REDUCTION = 1.3  # less is not worth the blur
NEAR_SIDE_PX = 300  # a marker fills about a third of what is looked at, so its perimeter is
NEAR_PERIMETER_SHARE = 0.6  # at least this of the longest side: a marker half as wide
QUICK_WINDOWS_PX = range(13, 14)  # of the adaptive threshold; one is enough in 49 of 50 views
THOROUGH_WINDOWS_PX = range(3, 24, 10)
MARKER_CELLS = 6  # 4 x 4 bits and the black border, Garrido-Jurado et al. (2014)
# Least perimeter of a marker, of the picture's longest side: an 8 px marker in 2600 px, and
SMALLEST_PERIMETER_SHARE = 0.012
# at a glance half of what is to be trusted there, so that one too small for it is noticed
GLANCE_PERIMETER_SHARE = 4 * GLANCE_MARKER_PX / 2 / GLANCE_SIDE_PX
# Least distance of two corners, of the perimeter: a square of 0.25 seen from 70 degrees off has
# 0.13, bars have less and are not worth a look
SHORTEST_SIDE_SHARE = 0.12
SHARPEN_SIGMA_PX = 1.3  # with this amount best in trials on sheets 15 % of 1600 px wide
SHARPEN_AMOUNT = 2.0  # of the unsharp mask; doubled, noise makes false corners


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
    """Return the green channel in 8 bits, shape (height, width): the one with least noise.

    It is a view of the photo's pixels where these have 8 bits, for what looks at little of it.
    """
    green = photo.pixels[:, :, 1]
    deep = photo.full_scale > 255
    return np.asarray(green // 256 if deep else green, dtype=np.uint8)


def grey_copy_of(photo: Photo) -> Grey:
    """Return the same as an array of its own, for what looks at all of it: that takes half."""
    if photo.full_scale > 255:
        return grey_of(photo)
    return np.asarray(cv2.extractChannel(photo.pixels, 1), dtype=np.uint8)


def detect_at_a_glance(
    grey: Grey, dictionary: str, ids: tuple[int, ...] = ()
) -> tuple[SeenMarker, ...]:
    """Detect markers on a small copy; none when any of them is too small there to be sure.

    Cells that are large enough need no sharpening, which would lift noise to contours.
    """
    small = _reduced(grey, GLANCE_SIDE_PX)
    found = _detect_on_copy(grey, small, dictionary, ids, GLANCE_PERIMETER_SHARE)
    least_px = GLANCE_MARKER_PX * max(grey.shape) / GLANCE_SIDE_PX
    return found if all(marker.side_px >= least_px for marker in found) else ()


def detect_quickly(
    grey: Grey, dictionary: str, ids: tuple[int, ...] = ()
) -> tuple[SeenMarker, ...]:
    """Detect markers on a reduced copy; corners are good to about a pixel of that copy.

    With `ids`, only those are looked for, which takes less time in a large dictionary.
    """
    return _detect_reduced(grey, dictionary, QUICK_SIDE_PX, ids)


def detect_thoroughly(grey: Grey, dictionary: str) -> tuple[SeenMarker, ...]:
    """Detect markers at full resolution, by several thresholds."""
    return _detect(_sharpened(grey), dictionary, THOROUGH_WINDOWS_PX)


def detect_near(
    grey: Grey, dictionary: str, outline_px: FloatArray, ids: tuple[int, ...] = ()
) -> tuple[SeenMarker, ...]:
    """Detect markers, or those of `ids`, in the box around `outline_px`, shape (n, 2) [px]."""
    height, width = grey.shape
    left, top = np.clip(np.floor(outline_px.min(axis=0)), 0, [width, height]).astype(int)
    right, bottom = np.clip(np.ceil(outline_px.max(axis=0)), 0, [width, height]).astype(int)
    if min(right - left, bottom - top) < 2 * MARKER_CELLS:
        return ()
    crop = np.ascontiguousarray(grey[top:bottom, left:right])
    return tuple(
        SeenMarker(id=marker.id, corners_px=marker.corners_px + np.array([left, top]))
        for marker in _detect_reduced(crop, dictionary, NEAR_SIDE_PX, ids, NEAR_PERIMETER_SHARE)
    )


def _detect_reduced(
    grey: Grey,
    dictionary: str,
    side_px: int,
    ids: tuple[int, ...] = (),
    least_perimeter: float = SMALLEST_PERIMETER_SHARE,
) -> tuple[SeenMarker, ...]:
    """Detect markers on a copy whose longest side is at most about `side_px`."""
    small = _sharpened(_reduced(grey, side_px))
    return _detect_on_copy(grey, small, dictionary, ids, least_perimeter)


def _detect_on_copy(
    grey: Grey, small: Grey, dictionary: str, ids: tuple[int, ...], least_perimeter: float
) -> tuple[SeenMarker, ...]:
    """Detect markers on a reduced copy of a picture; return them as they lie in the picture."""
    grown = np.array(grey.shape[::-1]) / np.array(small.shape[::-1])
    return tuple(
        SeenMarker(id=marker.id, corners_px=(marker.corners_px + 0.5) * grown - 0.5)
        for marker in _detect(small, dictionary, QUICK_WINDOWS_PX, ids, least_perimeter)
    )


def _reduced(grey: Grey, side_px: int) -> Grey:
    """Halve a picture while it is twice too large, by mean; go the rest of the way linearly."""
    rows, columns = grey.shape
    factor = max(rows, columns) / side_px
    if factor < SMALLEST_REDUCTION:
        return grey
    if factor >= 2:
        half = cv2.resize(grey, (columns // 2, rows // 2), interpolation=cv2.INTER_AREA)
        return _reduced(np.asarray(half, dtype=np.uint8), side_px)
    size = round(columns / factor), round(rows / factor)
    return np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_LINEAR), dtype=np.uint8)


def _sharpened(grey: Grey) -> Grey:
    """Bring back small blurred cells by an unsharp mask."""
    soft = cv2.GaussianBlur(grey, (0, 0), SHARPEN_SIGMA_PX)
    sharp = cv2.addWeighted(grey, 1 + SHARPEN_AMOUNT, soft, -SHARPEN_AMOUNT, 0)
    return np.asarray(sharp, dtype=np.uint8)


def _detect(
    grey: Grey,
    dictionary: str,
    windows_px: range,
    wanted: tuple[int, ...] = (),
    least_perimeter: float = SMALLEST_PERIMETER_SHARE,
) -> tuple[SeenMarker, ...]:
    """Detect the markers of an OpenCV dictionary such as "DICT_4X4_50", or some of them.

    References
    ----------
    Garrido-Jurado et al. (2014), Automatic generation and detection of highly reliable fiducial
    markers under occlusion, Pattern Recognition 47(6): 2280-2292,
    doi:10.1016/j.patcog.2014.01.005.
    """
    detector = _detector(dictionary, windows_px, wanted, least_perimeter)
    corners, ids, _ = detector.detectMarkers(grey)
    if ids is None:
        return ()
    rows = np.ravel(ids).astype(int).tolist()
    return tuple(
        SeenMarker(
            id=wanted[row] if wanted else row,
            corners_px=np.asarray(quad, dtype=np.float64).reshape(4, 2),
        )
        for row, quad in zip(rows, corners, strict=True)
    )


def _detector(
    dictionary: str, windows_px: range, wanted: tuple[int, ...], least_perimeter: float
) -> cv2.aruco.ArucoDetector:
    parameters = cv2.aruco.DetectorParameters()
    parameters.minMarkerPerimeterRate = least_perimeter
    parameters.minCornerDistanceRate = SHORTEST_SIDE_SHARE
    parameters.adaptiveThreshWinSizeMin = windows_px.start
    parameters.adaptiveThreshWinSizeMax = windows_px[-1]
    parameters.adaptiveThreshWinSizeStep = windows_px.step
    book = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    if wanted:
        rows = np.ascontiguousarray(book.bytesList[list(wanted)])
        book = cv2.aruco.Dictionary(rows, book.markerSize, book.maxCorrectionBits)
    return cv2.aruco.ArucoDetector(book, parameters)
