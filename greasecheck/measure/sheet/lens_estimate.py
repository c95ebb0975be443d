"""Estimates the lens of a fixed camera from a few photos of the sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.errors import SheetError
from greasecheck.measure.sheet.find import see_sheet
from greasecheck.measure.sheet.lens import distort
from greasecheck.measure.sheet.markers import grey_of
from greasecheck.measure.sheet.pose import box_corners
from greasecheck.model import Lens

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from cv2.typing import MatLike
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray, Photo, SheetGeometry

# Without a source, where none is named; the comment beside each value states what it does.
# One tilt leaves focal length and distance alike; twice as many ask more than it gains
FEWEST_PHOTOS = 3
# Square pixels, no tangential terms, two radial ones: what a few photos of one sheet can bear.
FLAGS = cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K3
SMALLEST_TURN_DEG = 15.0  # parallel sheets add nothing (Zhang 2000, appendix D)
LARGEST_FOCAL_STD = 0.02  # of the focal length; beyond it the photos are too much alike
LARGEST_RMS = 5e-4  # of the photo's longest side: 2 px in 12 megapixels
TURN_HINT = (
    "take 5 to 8 photos with the sheet turned 20 to 30 degrees left, right, up and down, "
    "in the middle and near each corner of the frame, at one zoom and focus"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LensEstimate:
    """A lens with how well it is known.

    Attributes
    ----------
    lens : Lens
        The lens.
    rms_px : float
        Root-mean-square distance of the marker corners from the fit [px].
    focal_std : float
        Standard error of the focal length as a share of it.
    corner_shift_px : float
        How far the lens moves the most displaced corner of the photo [px].
    turn_deg : float
        Largest angle between the sheet's normals in two of the photos [degrees].
    photos : int
        How many photos it rests on.
    """

    lens: Lens
    rms_px: float
    focal_std: float
    corner_shift_px: float
    turn_deg: float
    photos: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Points:
    """Marker corners on the sheet [mm], shape (n, 3), and in a photo [px], shape (n, 2)."""

    sheet_mm: NDArray[np.float32]
    photo_px: NDArray[np.float32]
    size_px: tuple[int, int]


def estimate_lens(photos: Iterable[Photo], sheets: Sequence[SheetGeometry] = ()) -> LensEstimate:
    """Estimate the lens of a fixed camera.

    Parameters
    ----------
    photos : iterable of Photo
        At least three photos of the sheet, lying flat, at different tilts; used one at a time.
    sheets : sequence of SheetGeometry
        The designs to look for; empty for those that come with greasecheck.

    Returns
    -------
    LensEstimate
        The lens, and how well it is known.

    Raises
    ------
    SheetError
        When a photo shows no sheet, or the photos differ in size, are too few or too much alike,
        or do not fit one lens.

    References
    ----------
    Zhang, Z. (2000), A flexible new technique for camera calibration, IEEE Transactions on Pattern
    Analysis and Machine Intelligence 22(11): 1330-1334, doi:10.1109/34.888718, as in OpenCV's
    ``calibrateCamera``.
    """
    views = [_points(photo, sheets) for photo in photos]
    if len(views) < FEWEST_PHOTOS:
        raise SheetError(
            f"{len(views)} photos are too few to estimate the lens from; {FEWEST_PHOTOS} at least",
            hint=TURN_HINT,
        )
    sizes = {view.size_px for view in views}
    if len(sizes) > 1:
        listed = " and ".join(f"{width} x {height}" for width, height in sorted(sizes))
        raise SheetError(
            f"the photos differ in size: {listed} pixels",
            hint="take them all with one camera, at one zoom, held the same way round",
        )
    return _checked(_calibrated(views))


def _points(photo: Photo, sheets: Sequence[SheetGeometry]) -> _Points:
    grey = grey_of(photo)
    try:
        sighting = see_sheet(grey, None, sheets)
    except SheetError as error:
        raise SheetError(f"{photo.path.name}: {error.problem}", hint=error.hint) from error
    boxes = {marker.id: marker.box for marker in sighting.geometry.markers}
    plane = np.concatenate([box_corners(boxes[marker.id]) for marker in sighting.pose.markers])
    seen = np.concatenate([marker.corners_px for marker in sighting.pose.markers])
    return _Points(
        sheet_mm=np.column_stack([plane, np.zeros(len(plane))]).astype(np.float32),
        photo_px=seen.astype(np.float32),
        size_px=(grey.shape[1], grey.shape[0]),
    )


def _calibrated(views: list[_Points]) -> LensEstimate:
    width, height = views[0].size_px
    rms, matrix, distortion, turns, _, std, _, _ = cv2.calibrateCameraExtended(
        [view.sheet_mm for view in views],
        [view.photo_px for view in views],
        (width, height),
        np.eye(3),
        np.zeros(5),
        flags=FLAGS,
    )
    lens = Lens(
        matrix=np.asarray(matrix, dtype=np.float64),
        distortion=np.ravel(distortion)[:5].astype(np.float64),
        width_px=width,
        height_px=height,
    )
    return LensEstimate(
        lens=lens,
        rms_px=float(rms),
        focal_std=float(np.ravel(std)[1] / lens.matrix[1, 1]),
        corner_shift_px=_corner_shift_px(lens),
        turn_deg=_largest_turn_deg(turns),
        photos=len(views),
    )


def _corner_shift_px(lens: Lens) -> float:
    right, bottom = lens.width_px - 1.0, lens.height_px - 1.0
    corners: FloatArray = np.array([[0, 0], [right, 0], [right, bottom], [0, bottom]])
    return float(np.hypot(*(distort(corners, lens) - corners).T).max())


def _largest_turn_deg(turns: Sequence[MatLike]) -> float:
    """Largest angle between the normals of planes with these rotation vectors [degrees]."""
    normals = np.array([cv2.Rodrigues(turn)[0][:, 2] for turn in turns])
    return float(np.degrees(np.arccos(np.clip(normals @ normals.T, -1, 1))).max())


def _checked(found: LensEstimate) -> LensEstimate:
    longest = max(found.lens.width_px, found.lens.height_px)
    if found.turn_deg < SMALLEST_TURN_DEG:
        raise SheetError(
            "the photos are too much alike to tell the lens from the sheet's tilt: the sheet turns "
            f"by {found.turn_deg:.0f} degrees only",
            hint=TURN_HINT,
        )
    if found.rms_px > LARGEST_RMS * longest:
        raise SheetError(
            f"the photos do not fit one lens: the markers lie {found.rms_px:.1f} pixels off",
            hint="put the sheet on a flat board, and do not zoom or focus anew between the photos",
        )
    if not found.focal_std < LARGEST_FOCAL_STD:
        raise SheetError(
            f"the photos give the focal length to {found.focal_std:.1%} only", hint=TURN_HINT
        )
    return found
