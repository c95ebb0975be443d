"""Detects a lamp that lights the rest and not the sheet, by the hue of the dark ground."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.robust import percentiles
from greasecheck.reference.cie import WHITES

if TYPE_CHECKING:
    from greasecheck.model import BoolArray, FloatArray

# Without a source, where none is named; the words beside each value state what it does.
CLEAR_MM = 3.0  # about what lies on the ground, where blur and its own light reach
BESIDE_MM = 15.0  # ground as near as this is lit as the bone
LEAST_MM2 = 100.0  # of ground; on less, noise decides
LEAST_Y = 0.3  # of 100; darker in 8 bits, a hue is noise
# What lies on the rest throws its own light on the ground: between an empty rest and one with a
# bone, in photos of one stand in one light, hues differ by less (`sample_images`).
USUAL_CHANGE = 0.03
# Black felt, card and cloth are grey within about this.
GREY_WITHIN = 0.2


def ground_hue(
    xyz: FloatArray, ground: BoolArray, standing: BoolArray, per_mm: float
) -> float | None:
    """Return the hue of the dark ground beside what lies on it: 0 is grey.

    It is the logarithm of X over Z less that of grey; positive is redder. None where too little of
    the ground is seen.

    Parameters
    ----------
    xyz : ndarray, shape (rows, columns, 3)
        CIE XYZ (D65/2) in the sheet's light, carried on beyond the sheet.
    ground : ndarray, shape (rows, columns), bool
        The rest, as far as it is seen.
    standing : ndarray, shape (rows, columns), bool
        What lies on it; where nothing does, all of the ground counts.
    per_mm : float
        Sampling density [px/mm].
    """
    away = np.full(ground.shape, (CLEAR_MM + BESIDE_MM) / 2)
    if standing.any():
        away = cv2.distanceTransform((~standing).astype(np.uint8), cv2.DIST_L2, 3) / per_mm
    beside = ground & (away > CLEAR_MM) & (away < BESIDE_MM) & (xyz[..., 1] > LEAST_Y)
    if beside.sum() < LEAST_MM2 * per_mm**2:
        return None
    x, _, z = (percentiles(channel, [50])[0] for channel in xyz[beside].T)
    white_x, _, white_z = WHITES["D65"]
    return float(np.log(x / z) - np.log(white_x / white_z))


def hue_off_sheet(hue: float | None, usual: float | None) -> float:
    """Return by how much the light on the ground is redder or bluer than on the sheet.

    Parameters
    ----------
    hue : float or None
        Of the ground in this photo; 0 is returned where it is unseen.
    usual : float or None
        The same in the photo of the clear-water reference, of the same stand; without it, dark
        ground may be off grey by `GREY_WITHIN`.
    """
    if hue is None:
        return 0.0
    off, within = (hue, GREY_WITHIN) if usual is None else (hue - usual, USUAL_CHANGE)
    return max(abs(off) - within, 0.0)
