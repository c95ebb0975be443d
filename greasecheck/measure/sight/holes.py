"""Finds spots where bars behind the jar lack contrast: drops on lens or glass, dirt, dew.

Murk takes contrast smoothly over the field. Where the jar gathers light the bars are brighter,
which their contrast over their brightness does not show. What lies before a part of the bars leaves
a dip there and no bump elsewhere; noise, JPEG's blocks and uneven murk make bumps as large as dips.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.robust import medians
from greasecheck.measure.sight.bars import BAND_MM, signed_differences
from greasecheck.measure.sight.cells import TRACE, central_light

if TYPE_CHECKING:
    from greasecheck.measure.sight.bars import Alignment, Strips
    from greasecheck.model import FloatArray

RED = 0  # the channel that is read; murk hides bars in the others first
RADII_MM = (5.0, 7.0, 9.5, 13.0)  # of spots: steps of about a third
EDGE_SHARE = 0.2  # of the radius, to either side of it, over which a spot's edge falls off
HOLE_STD = 4.0  # standard errors that a dip beyond the largest bump may have, as a step may


def contrast_hole(strips: Strips, at: Alignment) -> float:
    """Return how much of the field's mean contrast is missing in one round spot, beyond noise.

    Contrast over brightness of bar by bar in each band is described by a smooth surface and one
    spot, by least squares. The spot counts beyond the largest bump that is left without it and
    `HOLE_STD` standard errors by the scatter that is left, so that faint bars tell nothing.

    Parameters
    ----------
    strips : Strips
        Fine bars behind the jar, relative to clear water.
    at : Alignment
        Where the bars appear.

    Returns
    -------
    float
        Share of the mean contrast, 0 where noise may make all of it.
    """
    shown = _contrast_over_brightness(strips, at)
    usual = float(medians(shown.ravel()))
    if usual <= 0:
        return 0.0
    model = _spots(*shown.shape, strips.bar_mm)
    left = _roughness(shown, model) / usual
    dips = -(model.spots @ left)
    worst = int(np.argmax(dips))
    left = left + dips[worst] * model.spots[worst]
    bump = float((model.spots @ left).max())
    std = float(np.sqrt(left @ left / (len(left) - model.smooth.shape[1] - 1)))
    return max(float(dips[worst]) - bump - HOLE_STD * std, 0.0) * float(model.missing[worst])


def contrast_grain(wet: Strips, wet_at: Alignment, dry: Strips, dry_at: Alignment) -> float:
    """Return how far the contrast of bars behind the jar scatters more than that of dry ones.

    Drops smaller than a bar hide a part of some cells, and of others none. Contrast over brightness
    of bar by bar in each band is taken less a smooth surface; the root mean square counts, less
    that of the dry bars, which the camera's noise and JPEG's blocks make.

    Parameters
    ----------
    wet, dry : Strips
        Fine bars behind the jar and dry ones.
    wet_at, dry_at : Alignment
        Where they appear.

    Returns
    -------
    float
        Share of what dry bars have; 0 where it scatters by more than half of itself, as nothing
        between none and all of it does, but noise where murk hides the bars.
    """
    shown, bare = _contrast_over_brightness(wet, wet_at), _contrast_over_brightness(dry, dry_at)
    model = _spots(*shown.shape, wet.bar_mm)
    scatter, noise = (_roughness(cells, model).std() for cells in (shown, bare))
    found = sqrt(max(scatter**2 - noise**2, 0.0))
    usual, whole = (float(medians(cells.ravel())) for cells in (shown, bare))
    return found / whole if found < usual / 2 else 0.0


def _roughness(shown: FloatArray, model: _Spots) -> FloatArray:
    """Return what smooth surfaces do not describe, shape (cells,)."""
    cells = shown.ravel()
    return np.asarray(cells - model.smooth @ (cells @ model.smooth))


def _contrast_over_brightness(strips: Strips, at: Alignment) -> FloatArray:
    """Return the red contrast of each inner bar over its brightness, shape (bands, bars)."""
    light = strips.light[np.newaxis, ..., RED, np.newaxis]
    stretch, shift_mm = (np.array([[one]]) for one in (at.stretch, at.shift_mm))
    bars = central_light(light, strips, stretch, shift_mm)[0]
    level = (bars[:, :-2] + 2 * bars[:, 1:-1] + bars[:, 2:]) / 4
    return np.asarray((signed_differences(bars) / np.maximum(level, TRACE))[..., 0])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spots:
    """What bars are described by, as values of all cells.

    Attributes
    ----------
    smooth : ndarray, shape (cells, terms)
        An orthonormal base of smooth surfaces.
    spots : ndarray, shape (spots, cells)
        Round spots without what smooth surfaces describe of them, each of length 1.
    missing : ndarray, shape (spots,)
        Mean over the field of the whole spot.
    """

    smooth: FloatArray
    spots: FloatArray
    missing: FloatArray


@lru_cache(maxsize=2)  # a field's grid of cells is the same in all photos
def _spots(bands: int, bars: int, bar_mm: float) -> _Spots:
    """Spots of each radius round every other bar of every band."""
    y_mm, x_mm = (
        (np.arange(count) - (count - 1) / 2) * pitch
        for count, pitch in ((bands, BAND_MM), (bars, bar_mm))
    )
    down, across = (axis.ravel() for axis in np.meshgrid(y_mm, x_mm, indexing="ij"))
    y, x = down / y_mm.max(), across / x_mm.max()
    smooth, _ = np.linalg.qr(np.stack([x**0, x, y, x**2, y**2, x * y, x**3], axis=1))
    centres = [(y, x) for y in y_mm for x in x_mm[::2]]
    whole = np.array(
        [
            np.clip((1 - np.hypot(down - y, across - x) / radius) / EDGE_SHARE + 1, 0, 2) / 2
            for radius in RADII_MM
            for y, x in centres
        ]
    )
    spots = whole - whole @ smooth @ smooth.T
    sizes = np.linalg.norm(spots, axis=1)
    return _Spots(
        smooth=smooth, spots=spots / sizes[:, np.newaxis], missing=whole.mean(axis=1) / sizes
    )
