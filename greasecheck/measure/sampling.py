"""From places on the sheet to pixels of the photo."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.measure.lens import project

if TYPE_CHECKING:
    from greasecheck.model import FloatArray, Placement

CLIPPED_LOW = 1.5 / 255
CLIPPED_HIGH = 253.5 / 255


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
    return project(placement.homography, placement.lens, points_mm)
