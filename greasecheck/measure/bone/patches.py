"""How surely the share of yellow patches is known."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.robust import percentiles

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

# Of the light, by Fresnel's equations at right angles and a refractive index of 1.5.
MIRRORED = 0.04
# Of that: all where light comes from all around, none where one lamp is mirrored elsewhere. Taken
# to be anything between, its root mean square.
GLOSS_SEEN = 1 / math.sqrt(3)
ALIKE_YI = 8.0  # bone as near as this to the limit is about as light as bone at it
FEWEST = 30  # samples of it


def gloss_std(yellowness: float, luminance: float) -> float:
    """Return how much white light pales bone whose surface mirrors all that it can.

    Parameters
    ----------
    yellowness : float
        Yellowness index.
    luminance : float
        Y where it is well lit, of the perfect diffuser = 100.

    Examples
    --------
    >>> gloss_std(30.0, 60.0)
    2.0
    """
    return 100 * MIRRORED * abs(yellowness) / max(luminance, 100 * MIRRORED)


def patch_share_std(
    seen: FloatArray, lit: tuple[FloatArray, FloatArray], limit: float, colour_std: float
) -> float:
    """Return the standard error of the share of a bone that is yellower than a limit.

    It is half of what the share changes by when the limit moves by one standard error of the
    yellowness index either way: large where much of the bone is about as yellow as the limit.

    Parameters
    ----------
    seen : ndarray, shape (n,)
        Yellowness index of what is seen.
    lit : tuple of ndarray, each of shape (m,)
        Yellowness index and luminance of what is well lit.
    limit : float
        Yellowness index from which bone counts as yellow.
    colour_std : float
        Standard error of the yellowness index except for that of gloss.

    Examples
    --------
    >>> even = np.linspace(0.0, 100.0, 1001)
    >>> round(patch_share_std(even, (even, np.full(1001, 1e9)), 50.0, 10.0), 2)
    0.1
    """
    yellowness, luminance = lit
    alike = luminance[np.abs(yellowness - limit) < ALIKE_YI]
    lightness = percentiles(alike if len(alike) >= FEWEST else luminance, [50])[0]
    std = float(np.hypot(colour_std, GLOSS_SEEN * gloss_std(limit, lightness)))
    return float((seen > limit - std).mean() - (seen > limit + std).mean()) / 2
