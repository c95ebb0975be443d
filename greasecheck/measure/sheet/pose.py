"""Fits the sheet's pose to the markers seen."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, product
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.sheet.lens import project, undistort

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from greasecheck.measure.sheet.markers import SeenMarker
    from greasecheck.model import Box, FloatArray, Lens, SheetGeometry

# Without a source, where none is named; the comment beside each value states what it does.
# Three give 12 corners for 8 unknowns; with two a wrong marker cannot be noticed
FEWEST_CORNER_MARKERS = 3
LOOSE_TOLERANCE_MM = 4.0  # an uncalibrated lens bends the sheet by less; a strange marker by more
# Focal length over the photo's longest side: from ultra-wide phone cameras (0.35) to long
# telephoto lenses (8); common practice, no source.
FOCAL_RANGE = (0.35, 8.0)
FOCAL_USUAL = 0.8  # where the weak prior lies
FOCAL_STEPS = 161  # of the search, 2 % apart; doubled, it takes twice as long
CAMERA_ASPECTS = (1, 4 / 3, 3 / 2, 16 / 9)  # common practice, no source
ASPECT_TOLERANCE = 0.01  # relative; doubled, a slight crop passes for a whole picture
CENTRED = (0.0,)
OFF_CENTRE = (-0.2, -0.1, 0.0, 0.1, 0.2)  # of a cropped photo, shares of its longest side
FOCAL_PRIOR = 1e-3  # so weak that it decides only when the picture carries no information


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """A homography with the markers that gave it.

    Attributes
    ----------
    homography : ndarray, shape (3, 3)
        Takes homogeneous sheet coordinates [mm] to pixels of an undistorted image.
    inverse : ndarray, shape (3, 3)
        Takes them back.
    markers : tuple of SeenMarker
        The sheet's markers that it was fitted to.
    residual_px : float
        Root-mean-square distance of their corners from the fit [px].
    residual_mm : float
        The same on the sheet [mm].
    """

    homography: FloatArray
    inverse: FloatArray
    markers: tuple[SeenMarker, ...]
    residual_px: float
    residual_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Attitude:
    """How the sheet is turned to the camera.

    Attributes
    ----------
    tilt_deg : float
        Angle between the camera's axis and the sheet's normal [degrees].
    stretch : float
        By how much the sheet is stretched or sheared as a share of its size, at the focal length
        that explains the picture best.
    """

    tilt_deg: float
    stretch: float


def box_corners(box: Box) -> FloatArray:
    """Return the corners of a box, shape (4, 2) [mm], clockwise from the upper left."""
    left, top = box.x_mm, box.y_mm
    right, bottom = left + box.width_mm, top + box.height_mm
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])


def fit_pose(
    markers: Sequence[SeenMarker], geometry: SheetGeometry, lens: Lens | None
) -> Pose | None:
    """Fit a homography to all corners of `markers` by least squares; None when it cannot be."""
    boxes = {marker.id: marker.box for marker in geometry.markers}
    sheet_mm = np.concatenate([box_corners(boxes[marker.id]) for marker in markers])
    seen_px = np.concatenate([marker.corners_px for marker in markers])
    ideal_px = seen_px if lens is None else undistort(seen_px, lens)
    fitted, _ = cv2.findHomography(sheet_mm, ideal_px)
    if fitted is None:
        return None
    homography = np.asarray(fitted, dtype=np.float64)
    inverse = np.asarray(np.linalg.inv(homography), dtype=np.float64)
    return Pose(
        homography=homography,
        inverse=inverse,
        markers=tuple(markers),
        residual_px=_rms(project(homography, None, sheet_mm) - ideal_px),
        residual_mm=_rms(project(inverse, None, ideal_px) - sheet_mm),
    )


def best_pose(
    seen: Sequence[SeenMarker], geometry: SheetGeometry, lens: Lens | None, tolerance_mm: float
) -> Pose | None:
    """Fit the pose to the largest set of the sheet's markers that agree within `tolerance_mm`.

    A marker whose number is seen twice counts once, where it agrees best; a marker that disagrees
    with the rest is left out. None when fewer than three corner markers agree.
    """
    for left_out in range(2):
        fits = (fit_pose(markers, geometry, lens) for markers in _choices(seen, geometry, left_out))
        sound = [fit for fit in fits if fit is not None and fit.residual_mm <= tolerance_mm]
        if sound:
            return min(sound, key=lambda fit: fit.residual_mm)
    return None


def _choices(
    seen: Sequence[SeenMarker], geometry: SheetGeometry, left_out: int
) -> Iterator[tuple[SeenMarker, ...]]:
    """All but `left_out` of the sheet's markers, each number once, with enough corners."""
    corner_ids = {marker.id for marker in geometry.markers if marker.corner}
    ids = sorted({marker.id for marker in geometry.markers} & {marker.id for marker in seen})
    for chosen in product(*([m for m in seen if m.id == number] for number in ids)):
        for kept in combinations(chosen, max(len(chosen) - left_out, 0)):
            if sum(marker.id in corner_ids for marker in kept) >= FEWEST_CORNER_MARKERS:
                yield kept


def attitude(homography: FloatArray, size_px: tuple[int, int], lens: Lens | None) -> Attitude:
    """Estimate the tilt of the sheet and whether its print is stretched.

    The columns h1, h2 of the homography, freed from the camera matrix, are the images of the
    sheet's two axes: for a true print they are orthogonal and of equal length (Zhang's two
    constraints). With a calibrated lens their disagreement is the stretch; without one, square
    pixels are assumed and the focal length is the one with the least disagreement. The axis is
    taken as centred; in a photo cropped to a shape that no camera makes it is sought nearby.

    Parameters
    ----------
    homography : ndarray, shape (3, 3)
        Sheet [mm] to undistorted pixels.
    size_px : tuple of int
        Width and height of the photo [px].
    lens : Lens or None
        The calibrated lens.

    References
    ----------
    Zhang, Z. (2000), A flexible new technique for camera calibration, IEEE Transactions on Pattern
    Analysis and Machine Intelligence 22(11): 1330-1334, doi:10.1109/34.888718, equations 3 and 4.
    """
    if lens is not None:
        tilt_deg, stretch = _attitudes(homography, lens.matrix[np.newaxis])
        return Attitude(tilt_deg=float(tilt_deg[0]), stretch=float(stretch[0]))
    offsets = CENTRED if has_camera_shape(size_px) else OFF_CENTRE
    return _best_attitude(homography, size_px, offsets)


def has_camera_shape(size_px: tuple[int, int]) -> bool:
    """Return whether a photo has a shape that cameras make; one of another shape was cropped."""
    aspect = max(size_px) / min(size_px)
    return any(abs(aspect / usual - 1) < ASPECT_TOLERANCE for usual in CAMERA_ASPECTS)


def _best_attitude(
    homography: FloatArray, size_px: tuple[int, int], offsets: tuple[float, ...]
) -> Attitude:
    """Attitude with the least stretch, the axis off the centre by any of `offsets` each way."""
    focal = np.geomspace(*FOCAL_RANGE, FOCAL_STEPS)
    shares, x, y = (axis.ravel() for axis in np.meshgrid(focal, offsets, offsets))
    pinholes = _pinholes(shares, np.column_stack([x, y]), size_px)
    tilt_deg, stretch = _attitudes(homography, pinholes)
    best = int(np.argmin(np.hypot(stretch, FOCAL_PRIOR * np.log(shares / FOCAL_USUAL))))
    return Attitude(tilt_deg=float(tilt_deg[best]), stretch=float(stretch[best]))


def _pinholes(shares: FloatArray, offsets: FloatArray, size_px: tuple[int, int]) -> FloatArray:
    """Camera matrices, shape (n, 3, 3), with square pixels."""
    longest = max(size_px)
    matrices = np.zeros((len(shares), 3, 3))
    matrices[:, 0, 0] = matrices[:, 1, 1] = shares * longest
    matrices[:, :2, 2] = (np.array(size_px) - 1) / 2 + offsets * longest
    matrices[:, 2, 2] = 1
    return matrices


def _attitudes(homography: FloatArray, matrices: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Tilt [degrees] and stretch for each camera matrix, shape (n, 3, 3)."""
    axes = np.linalg.solve(matrices, homography[np.newaxis])
    across, down = axes[:, :, 0], axes[:, :, 1]
    normal = np.cross(across, down)
    wide, high = np.linalg.norm(across, axis=1), np.linalg.norm(down, axis=1)
    shear = (across * down).sum(axis=1) / (wide * high)
    stretch = np.hypot(wide / high - 1, shear)
    cosine = np.minimum(np.abs(normal[:, 2]) / np.linalg.norm(normal, axis=1), 1)
    return np.degrees(np.arccos(cosine)), stretch


def _rms(differences: FloatArray) -> float:
    return float(np.sqrt((differences**2).sum(axis=1).mean()))
