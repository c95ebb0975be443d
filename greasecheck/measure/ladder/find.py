"""Finds dip ladders in a photo and where the camera stood before each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.ladder.refraction import Eye
from greasecheck.measure.ladder.tag import read_tub
from greasecheck.measure.sheet.corners import refine
from greasecheck.measure.sheet.markers import SeenMarker, detect_quickly, detect_thoroughly
from greasecheck.measure.sheet.pose import box_corners
from greasecheck.reference.ladder.plate import dip_ladder

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from greasecheck.measure.sheet.markers import Grey
    from greasecheck.model import FloatArray, Lens, Photo

FEWEST_MARKERS = 3  # to read a plate by
FEWEST_SEEN = 2  # to say that a plate hangs there, half hidden
# Two markers belong to one plate when each predicts the other's place within so many of its own
# sides: plates of neighbouring tubs are 15 sides apart, and one marker's guess errs by 2.
SAME_PLATE_SIDES = 4.5
FOCAL_SHARES = np.geomspace(0.4, 4.0, 70)  # of the longest side; common practice, no source
FOCAL_USUAL, FOCAL_LOG_STD = 0.85, 0.4  # phones, compact and web cameras; from memory
CORNER_STD_PX = 0.15
STRETCH = 2.0  # seen 20 to 30 degrees from straight down, a marker is twice as wide as high


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenLadder:
    """A ladder in a photo.

    Attributes
    ----------
    markers : tuple of SeenMarker
        Those of its markers that were seen, corners refined.
    homography : ndarray, shape (3, 3)
        From the plate [mm] to pixels, for what is above the water.
    tub : int or None
        The tub of its tag.
    """

    markers: tuple[SeenMarker, ...]
    homography: FloatArray
    tub: int | None

    @property
    def is_whole(self) -> bool:
        """Return whether enough of it is seen to read it."""
        return len(self.markers) >= FEWEST_MARKERS


def find_ladders(photo: Photo, grey: Grey) -> tuple[SeenLadder, ...]:
    """Find all ladders of which at least two markers are seen, from left to right.

    One of two markers is known to hang there, but not how it hangs.

    Parameters
    ----------
    photo : Photo
        The photo.
    grey : ndarray, shape (height, width), uint8
        The same in grey.
    """
    own = dip_ladder().markers
    seen = [one for one in detect_quickly(grey, dip_ladder().dictionary) if one.id in own]
    for more in (detect_thoroughly, _detect_stretched):
        if not _all_whole(seen):  # some are hidden, or too small or flat for a quick look
            seen = _merged(seen, more(grey, dip_ladder().dictionary))
    groups = [group for group in _groups(seen) if len(group) >= FEWEST_SEEN]
    found = [_ladder(photo, grey, group) for group in groups]
    return tuple(sorted(found, key=lambda one: float(one.markers[0].centre_px[0])))


def _all_whole(seen: Sequence[SeenMarker]) -> bool:
    """Return whether plates are seen, and of each of them all markers."""
    whole = len(dip_ladder().markers)
    return bool(seen) and all(len(group) == whole for group in _groups(seen))


def _detect_stretched(grey: Grey, dictionary: str) -> tuple[SeenMarker, ...]:
    """Detect markers seen from high above, which look flat, on a copy stretched upright."""
    tall = cv2.resize(grey, None, fx=1, fy=STRETCH, interpolation=cv2.INTER_CUBIC)
    scale = np.array([1.0, 1.0 / STRETCH])
    return tuple(
        SeenMarker(id=one.id, corners_px=(one.corners_px + 0.5) * scale - 0.5)
        for one in detect_thoroughly(np.asarray(tall, dtype=np.uint8), dictionary)
    )


def _merged(quick: Sequence[SeenMarker], late: Sequence[SeenMarker]) -> list[SeenMarker]:
    own = dip_ladder().markers
    fresh = [
        one
        for one in late
        if one.id in own
        and all(np.hypot(*(one.centre_px - old.centre_px)) > old.side_px for old in quick)
    ]
    return [*quick, *fresh]


def _groups(seen: Sequence[SeenMarker]) -> list[tuple[SeenMarker, ...]]:
    """Put markers of one plate together, beginning with the largest."""
    left = sorted(seen, key=lambda one: -one.side_px)
    groups = []
    while left:
        first, rest = left[0], left[1:]
        group = [first]
        for marker in rest:
            known = {one.id for one in group}
            if marker.id not in known and _fits(first, marker):
                group.append(marker)
        groups.append(tuple(group))
        left = [one for one in rest if all(one is not taken for taken in group)]
    return groups


def _fits(one: SeenMarker, other: SeenMarker) -> bool:
    """Whether two markers lie as those of one plate do, as each of them predicts."""
    return all(_misses(a, b) < SAME_PLATE_SIDES for a, b in ((one, other), (other, one)))


def _misses(one: SeenMarker, other: SeenMarker) -> float:
    """Return how far another marker is from where one predicts it, in its sides."""
    boxes = dip_ladder().markers
    corners = box_corners(boxes[one.id]).astype(np.float32)
    affine = cv2.estimateAffine2D(corners, one.corners_px.astype(np.float32))[0]
    expected = affine[:, :2] @ np.array(boxes[other.id].centre_mm) + affine[:, 2]
    return float(np.hypot(*(expected - other.centre_px)) / one.side_px)


def _ladder(photo: Photo, grey: Grey, group: Sequence[SeenMarker]) -> SeenLadder:
    markers = tuple(_refined(photo, one) for one in group)
    homography = _homography(markers)
    return SeenLadder(markers=markers, homography=homography, tub=read_tub(grey, homography))


def _refined(photo: Photo, marker: SeenMarker) -> SeenMarker:
    """Refine corners in linear light: blur moves the edges of device values into the ink.

    Only the light around the marker is worked out: that of a whole photo takes 16 bytes a pixel.
    """
    size = np.array(photo.pixels.shape[1::-1])
    corners = marker.corners_px
    low = np.clip(corners.min(axis=0) - marker.side_px, 0, size - 1).astype(int)
    high = np.clip(corners.max(axis=0) + marker.side_px + 1, low + 1, size).astype(int)
    table = photo.transfer[:, 1]
    levels = photo.pixels[low[1] : high[1], low[0] : high[0], 1].astype(np.intp)
    linear = table[levels * (len(table) - 1) // photo.full_scale]
    (near,) = refine(linear, [replace(marker, corners_px=corners - low)])
    return replace(near, corners_px=near.corners_px + low)


def _plate_and_pixels(markers: Iterable[SeenMarker]) -> tuple[FloatArray, FloatArray]:
    boxes = dip_ladder().markers
    chosen = tuple(markers)
    plate = np.concatenate([box_corners(boxes[one.id]) for one in chosen])
    return plate, np.concatenate([one.corners_px for one in chosen])


def _homography(markers: Sequence[SeenMarker]) -> FloatArray:
    plate, pixels = _plate_and_pixels(markers)
    return np.asarray(cv2.findHomography(plate, pixels)[0], dtype=np.float64)


def place_camera(
    ladders: Sequence[SeenLadder], size_px: tuple[int, int], lens: Lens | None
) -> tuple[Eye, ...]:
    """Find where the one camera of a photo stood before each of its ladders.

    Its focal length is that which explains all their markers best; the axis is taken as centred.

    Parameters
    ----------
    ladders : sequence of SeenLadder
        At least one.
    size_px : tuple of int
        Width and height of the photo [px].
    lens : Lens or None
        The calibrated lens; its distortion must have been taken out of the photo.
    """
    if lens is not None:
        return tuple(_eye(ladder, lens.matrix) for ladder in ladders)
    matrices = [_pinhole(share, size_px) for share in FOCAL_SHARES]
    costs = np.array([_cost(ladders, matrix) for matrix in matrices])
    costs = costs + (np.log(FOCAL_SHARES / FOCAL_USUAL) / FOCAL_LOG_STD) ** 2
    best = matrices[int(np.argmin(costs))]
    return tuple(_eye(ladder, best) for ladder in ladders)


def _cost(ladders: Sequence[SeenLadder], matrix: FloatArray) -> float:
    """Return the squared misfit of all corners in standard errors."""
    return sum(
        (_eye(ladder, matrix).residual_px / CORNER_STD_PX) ** 2 * 4 * len(ladder.markers)
        for ladder in ladders
    )


def _pinhole(share: float, size_px: tuple[int, int]) -> FloatArray:
    focal = share * max(size_px)
    middle = (np.array(size_px) - 1) / 2
    return np.array([[focal, 0, middle[0]], [0, focal, middle[1]], [0, 0, 1.0]])


def _eye(ladder: SeenLadder, matrix: FloatArray) -> Eye:
    """Find the camera by the corners of the markers."""
    plate, pixels = _plate_and_pixels(ladder.markers)
    solid = np.column_stack([plate, np.zeros(len(plate))])
    rotation, shift = _pose(solid, pixels, matrix)
    place = -rotation.T @ shift
    eye = Eye(matrix=matrix, rotation=rotation, place_mm=place, residual_px=0.0)
    miss = eye.project(solid) - pixels
    rms = float(np.sqrt((miss**2).sum(axis=1).mean()))
    return Eye(matrix=matrix, rotation=rotation, place_mm=place, residual_px=rms)


def _pose(
    solid: FloatArray, pixels: FloatArray, matrix: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the better of the two poses of a plane, refined."""
    _, turns, shifts, _ = cv2.solvePnPGeneric(solid, pixels, matrix, None, flags=cv2.SOLVEPNP_IPPE)
    turn, shift = cv2.solvePnPRefineLM(solid, pixels, matrix, None, turns[0], shifts[0])
    rotation = np.asarray(cv2.Rodrigues(turn)[0], dtype=np.float64)
    return rotation, np.asarray(shift, dtype=np.float64).ravel()
