"""Applies the distortion of a fixed camera, and keeps it in a file."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.errors import DataFileError
from greasecheck.model import Lens
from greasecheck.reference.folder import plain_file

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.model import FloatArray

SCHEMA = 1
KIND = "greasecheck lens"
REDO = "estimate the lens again from photos from this camera at its present setting"
# Without a source, where none is named; the comment beside each value states what it does.
ASPECT_TOLERANCE = 0.002  # rounding when a camera writes photos of another size
UNDISTORT_ROUNDS = 20  # of fixed-point iteration; more change nothing once it has settled


def project(homography: FloatArray, lens: Lens | None, points: FloatArray) -> FloatArray:
    """Project points of a plane into a photo.

    Parameters
    ----------
    homography : ndarray, shape (3, 3)
        Takes homogeneous plane coordinates to pixels of an undistorted image.
    lens : Lens or None
        Distortion to apply afterwards.
    points : ndarray, shape (n, 2)
        Plane coordinates, e.g. [mm], of at least one point.

    Returns
    -------
    ndarray, shape (n, 2)
        Pixel coordinates [px]; the centre of the first pixel is (0, 0).

    Examples
    --------
    >>> project(np.diag([2.0, 2.0, 1.0]), None, np.array([[3.0, 4.0]])).tolist()
    [[6.0, 8.0]]
    """
    ideal = np.asarray(cv2.perspectiveTransform(points[np.newaxis], homography)[0])
    return ideal if lens is None else distort(ideal, lens)


def distort(ideal: FloatArray, lens: Lens) -> FloatArray:
    """Move points of an undistorted image to where the lens shows them.

    Parameters
    ----------
    ideal : ndarray, shape (n, 2)
        Pixel coordinates of a pinhole camera with the matrix of `lens` [px].
    lens : Lens
        The distortion.

    Returns
    -------
    ndarray, shape (n, 2)
        Pixel coordinates in the photo [px].

    References
    ----------
    Brown, D. C. (1966), Decentering distortion of lenses, Photogrammetric Engineering 32(3):
    444-462, as in OpenCV's ``projectPoints``.
    """
    rays = np.column_stack([ideal, np.ones(len(ideal))]) @ np.linalg.inv(lens.matrix).T
    projected, _ = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), lens.matrix, lens.distortion)
    return np.asarray(projected, dtype=np.float64).reshape(-1, 2)


def undistort(seen: FloatArray, lens: Lens) -> FloatArray:
    """Undo `distort` by fixed-point iteration.

    Parameters
    ----------
    seen : ndarray, shape (n, 2)
        Pixel coordinates in the photo [px].
    lens : Lens
        The distortion.

    Returns
    -------
    ndarray, shape (n, 2)
        Pixel coordinates of the pinhole camera with the same matrix [px].
    """
    ideal = seen
    for _ in range(UNDISTORT_ROUNDS):
        ideal = ideal + seen - distort(ideal, lens)
    return ideal


def fit_lens_to_photo(lens: Lens, width_px: int, height_px: int) -> Lens:
    """Scale a lens to photos of another size from the same camera.

    Parameters
    ----------
    lens : Lens
        The lens as estimated.
    width_px, height_px : int
        Size of the photo [px].

    Returns
    -------
    Lens
        The lens for photos of that size.

    Raises
    ------
    DataFileError
        When the photo's shape differs, so that it cannot be the same camera setting.

    Examples
    --------
    >>> lens = Lens(matrix=np.diag([900.0, 900, 1]), distortion=np.zeros(5),
    ...             width_px=1200, height_px=800)
    >>> float(fit_lens_to_photo(lens, 600, 400).matrix[0, 0])
    450.0
    """
    scale = width_px / lens.width_px
    if abs(height_px / (lens.height_px * scale) - 1) > ASPECT_TOLERANCE:
        raise DataFileError(
            f"the lens was estimated from photos of {lens.width_px} x {lens.height_px} pixels "
            f"and cannot serve for one of {width_px} x {height_px}",
            hint=REDO,
        )
    shift = (scale - 1) / 2  # pixel centres lie at whole numbers
    to_photo = np.array([[scale, 0, shift], [0, scale, shift], [0, 0, 1]])
    matrix = to_photo @ lens.matrix
    return Lens(matrix=matrix, distortion=lens.distortion, width_px=width_px, height_px=height_px)


def lens_to_json(lens: Lens) -> str:
    """Return the text of a lens file.

    Examples
    --------
    >>> lens = Lens(matrix=np.diag([900.0, 900, 1]), distortion=np.zeros(5),
    ...             width_px=1200, height_px=800)
    >>> json.loads(lens_to_json(lens))["width_px"]
    1200
    """
    body = {
        "schema": SCHEMA,
        "kind": KIND,
        "width_px": lens.width_px,
        "height_px": lens.height_px,
        "matrix_px": lens.matrix.tolist(),
        "distortion": lens.distortion.tolist(),
    }
    return json.dumps(body, indent=2) + "\n"


def read_lens(path: Path) -> Lens:
    """Read a lens file with the text of `lens_to_json`.

    Parameters
    ----------
    path : pathlib.Path
        The JSON file.

    Raises
    ------
    DataFileError
        When the file is missing, malformed or of another schema.
    """
    try:
        return _parse(json.loads(plain_file(path).read_text(encoding="utf-8")))
    except OSError as error:
        raise DataFileError(f"cannot read the lens file {path}: {error}", hint=REDO) from error
    except (ArithmeticError, KeyError, RecursionError, TypeError, ValueError) as error:
        raise DataFileError(f"{path} is not a lens file: {error}", hint=REDO) from error


def _parse(body: dict[str, object]) -> Lens:
    if (body["schema"], body["kind"]) != (SCHEMA, KIND):
        raise ValueError(f"it is a {body['kind']} of schema {body['schema']}")
    matrix = np.array(body["matrix_px"], dtype=np.float64)
    distortion = np.array(body["distortion"], dtype=np.float64)
    width, height = body["width_px"], body["height_px"]
    if not (isinstance(width, int) and isinstance(height, int) and min(width, height) > 0):
        raise ValueError("the photo size must be two whole numbers above 0")
    if matrix.shape != (3, 3) or distortion.shape != (5,):
        raise ValueError("the matrix must be 3 x 3 and the distortion 5 numbers")
    if not (np.isfinite(matrix).all() and np.isfinite(distortion).all()):
        raise ValueError("the numbers must be finite")
    if min(matrix[0, 0], matrix[1, 1]) <= 0 or (matrix[[1, 2, 2], [0, 0, 1]] != 0).any():
        raise ValueError("the matrix must be that of a camera with a focal length above 0")
    if matrix[2, 2] != 1:
        raise ValueError("the matrix must end in 1")
    return Lens(matrix=matrix, distortion=distortion, width_px=width, height_px=height)
