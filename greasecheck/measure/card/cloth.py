"""Finds the dark cloth around a card: how light it is at each place, and how even."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from skimage.filters import threshold_otsu

from greasecheck.errors import BoneError
from greasecheck.measure.robust import percentiles, robust_scale, robust_weights

if TYPE_CHECKING:
    from greasecheck.measure.card.surroundings import Surroundings
    from greasecheck.model import BoolArray, FloatArray

# Cloth lighter than this (about 17 % reflectance) is not dark: bone in the shade would not stand
# out. At 60 a shaded brown bone is lost in it; at 36 a washed black T-shirt is refused.
DARK_CLOTH_L = 48.0
CLEAR_CONTRAST_L = 35.0  # but near the lamp, brighter than on the card, a dark cloth may seem paler
ALIKE_L = 14.0  # a cloth's folds and the light's fall keep within this of its usual lightness
FEWEST_SHARE = 0.1  # of the picture that is cloth
MOST_USED = 20_000  # samples that the fit takes
LEAST_STD_L = 0.7  # no cloth in 8 bits is more even
ROUNDS = 6
SHADOW_L = 6.0  # cloth this much darker than in the open lies in a shadow
FEWEST_SHADOW = 150  # samples


@dataclass(frozen=True, slots=True, kw_only=True)
class Cloth:
    """The cloth.

    Attributes
    ----------
    lightness : ndarray, shape (rows, columns)
        CIELAB L* that the cloth has, or would have, at each sample.
    std : float
        Scatter of its samples about that.
    """

    lightness: FloatArray
    std: float


def find_cloth(around: Surroundings) -> Cloth:
    """Fit a quadratic to the lightness of what is dark around the card.

    Raises
    ------
    BoneError
        When it is not dark, or too little of it is seen.
    """
    free = ~around.on_card
    lightness = around.lightness
    usual = _usual(lightness[free])
    brightest = percentiles(lightness[free], [99])[0]
    if usual > DARK_CLOTH_L and brightest - usual < CLEAR_CONTRAST_L:
        raise BoneError(
            "the ground around the card is not dark",
            hint="lay card and bone on dark, matt cloth: black felt, a dark T-shirt",
        )
    cloth = free & (np.abs(lightness - usual) < ALIKE_L)
    if cloth.sum() < FEWEST_SHARE * cloth.size:
        raise BoneError(
            "hardly any dark cloth is seen around the bone",
            hint="step back until cloth is seen all around bone and card",
        )
    fitted, std = _fit(lightness, cloth)
    return Cloth(lightness=fitted, std=std)


def shadow_level(around: Surroundings, cloth: Cloth) -> float:
    """Return how light the bone's shadow is, as a share of the light in the open, 0 to 1.

    Under one hard lamp it is dark, and so is the bone's other side. 1 where no shadow is seen.
    """
    shadow = ~around.on_card & (around.lightness - cloth.lightness < -SHADOW_L)
    if shadow.sum() < FEWEST_SHADOW:
        return 1.0
    share = ((around.lightness[shadow] + 16) / (cloth.lightness[shadow] + 16)) ** 3
    return percentiles(share, [25])[0]


def _usual(lightness: FloatArray) -> float:
    """Return the cloth's usual lightness: of most of the picture, or of its dark part."""
    middle = percentiles(lightness, [50])[0]
    if middle <= DARK_CLOTH_L:
        return middle
    dark = lightness < threshold_otsu(lightness)
    return percentiles(lightness[dark], [50])[0] if dark.any() else middle


def _fit(lightness: FloatArray, cloth: BoolArray) -> tuple[FloatArray, float]:
    rows, columns = lightness.shape
    design = _terms(*np.meshgrid(np.linspace(-1, 1, columns), np.linspace(-1, 1, rows)))
    places = np.flatnonzero(cloth)
    used = places[:: max(len(places) // MOST_USED, 1)]
    terms, values = design.reshape(-1, design.shape[-1])[used], lightness.ravel()[used]
    weights = np.ones(len(used))
    for _ in range(ROUNDS):
        weighted = terms.T * weights
        solution = np.linalg.solve(
            weighted @ terms + 1e-6 * np.eye(terms.shape[1]), weighted @ values
        )
        residual = values - terms @ solution
        scale = robust_scale(residual, LEAST_STD_L)
        weights = robust_weights(residual, scale, absolute=False)
    return design @ solution, scale


def _terms(x: FloatArray, y: FloatArray) -> FloatArray:
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
