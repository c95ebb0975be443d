"""How saturated a camera renders colours, by the sheet's patches.

A vivid mode or a filter takes each channel away from the mean of the three. Bars behind coloured
water then show another contrast in red, while the sheet's patches fit as well as before.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.reference.patches.values import nominal_values
from greasecheck.reference.srgb import XYZ_FROM_LINEAR

if TYPE_CHECKING:
    from greasecheck.measure.colour.patches import SheetColours
    from greasecheck.model import BoolArray, FloatArray, SheetGeometry


def saturation(
    seen: SheetColours, camera: FloatArray, kept: BoolArray, geometry: SheetGeometry
) -> float | None:
    """Return how far channels lie apart over how far they do in sRGB, by least squares.

    Parameters
    ----------
    seen : SheetColours
        The sheet's colours.
    camera : ndarray, shape (n, 3)
        Their camera values under even light, white about 1.
    kept : ndarray, shape (n,), bool
        Which of them to go by.
    geometry : SheetGeometry
        The sheet; its nominal colours serve, so that photos compare whatever values are given.

    Returns
    -------
    float or None
        None for a chart without nominal colours.
    """
    if geometry.patch_values is None:
        return None
    nominal = nominal_values(geometry)
    rows = [
        (place, nominal.names.index(name))
        for place, name in enumerate(seen.names)
        if kept[place] and name in nominal.names
    ]
    places, printed = np.array(rows).T
    apart = _apart(camera[places])
    usual = _apart(nominal.xyz[printed] / 100 @ np.linalg.inv(XYZ_FROM_LINEAR).T)
    return float((apart * usual).sum() / (usual**2).sum())


def _apart(rgb: FloatArray) -> FloatArray:
    """Return the channels less their mean."""
    apart: FloatArray = rgb - rgb.mean(axis=-1, keepdims=True)
    return apart
