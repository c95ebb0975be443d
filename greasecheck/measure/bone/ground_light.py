"""Detects a lamp that lights the rest and not the sheet, by the light on the dark ground."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.robust import percentiles
from greasecheck.model.bone import GroundLight
from greasecheck.reference.cie import WHITES

if TYPE_CHECKING:
    from greasecheck.model import BoolArray, FloatArray

# Without a source, where none is named; the words beside each value state what it does.
CLEAR_MM = 3.0  # about what lies on the ground, where blur and its own light reach
BESIDE_MM = 15.0  # ground as near as this is lit as the bone
LEAST_MM2 = 100.0  # of ground; on less, noise decides
LEAST_Y = 0.3  # of 100; darker in 8 bits, a hue is noise
# What lies on the rest throws its own light on the ground: between an empty rest and one with a
# bone, clean or greasy, hues differ by less (`python -m tests.benchmarks.rest_hue`, no photos).
USUAL_CHANGE = 0.025
# Black felt, card and cloth are grey within about this.
GREY_WITHIN = 0.2


def ground_light(
    xyz: FloatArray, ground: BoolArray, standing: BoolArray, per_mm: float
) -> GroundLight | None:
    """Return the light on the dark ground beside what lies on it; None where too little is seen.

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
    x, y, z = (percentiles(channel, [50])[0] for channel in xyz[beside].T)
    white_x, _, white_z = WHITES["D65"]
    return GroundLight(hue=float(np.log(x / z) - np.log(white_x / white_z)), luminance=float(y))


def hue_off_sheet(seen: GroundLight | None, usual: GroundLight | None) -> float:
    """Return by how much the light on the ground is redder or bluer than on the sheet.

    Parameters
    ----------
    seen : GroundLight or None
        In this photo; 0 is returned where the ground is unseen.
    usual : GroundLight or None
        The same in the photo of the clear-water reference, of the same stand; without it, dark
        ground may be off grey by `GREY_WITHIN`.
    """
    if seen is None:
        return 0.0
    if usual is None:
        return max(abs(seen.hue) - GREY_WITHIN, 0.0)
    return max(abs(seen.hue - usual.hue) - USUAL_CHANGE, 0.0)


def gain_on_ground(seen: GroundLight | None, usual: GroundLight | None) -> float:
    """Return the logarithm of how much brighter than usual the ground is; 0 where that is unknown.

    Parameters are those of `hue_off_sheet`; without `usual` nobody knows how dark the ground is.
    """
    if seen is None or usual is None:
        return 0.0
    return float(np.log(seen.luminance / usual.luminance))
