from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.measure.ladder.profile import Field, Sampled
from greasecheck.measure.ladder.refraction import Sight

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

PATH_M = np.arange(0.004, 0.1, 0.003)
LIGHT = np.array([0.3, 0.2, 0.1])  # of R, G, B, halfway between white and black
DECAYS_PER_M = {
    "milky": np.array([20.0, 27.0, 38.0]),
    "brown": np.array([16.0, 25.0, 45.0]),
    "grey": np.array([20.0, 20.0, 20.0]),
}
CODES = np.array([0.299, 0.587, 0.114])  # ITU-T T.871, 7: brightness of codes R, G, B
STD = 1e-3


def field(contrasts: FloatArray) -> Field:
    """Return stripes of such contrasts, shape (bins, 3), about the light."""
    tint = LIGHT + contrasts / 2
    std = np.full(len(contrasts), STD)
    return Field(
        contrast=contrasts[:, 1],
        white=tint[:, 1],
        std=std,
        stripes=np.zeros((len(contrasts), 12)),
        tint=tint,
        contrasts=contrasts,
    )


def sampled(fine: FloatArray, coarse: FloatArray, stripe_px: float) -> Sampled:
    depth = 1000 * PATH_M * 0.85
    return Sampled(
        places_mm=96 + depth,
        sight=Sight(
            pixels=np.zeros((len(depth), 2)),
            path_mm=1000 * PATH_M,
            depth_mm=depth,
            cos_air=np.full(len(depth), 0.77),
        ),
        fine=field(fine),
        coarse=field(coarse),
        inside=np.ones(len(depth), dtype=np.bool_),
        stripe_px=stripe_px,
        bent_mm=0.0,
    )


def stripes(decays_per_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return contrasts of 3 and 8 mm, where 3 mm lose by optical depth alone, less and less."""
    optical = PATH_M[:, None] * decays_per_m
    coarse = 0.4 * np.exp(-optical)
    return coarse * np.exp(-0.05 - 0.2 * optical + 0.02 * optical**2), coarse


def without_colour(fine: FloatArray) -> FloatArray:
    """Return contrasts of the same brightness in codes of power 1/2.4, alike in all colours."""
    slopes = LIGHT ** (1 / 2.4 - 1)
    return np.asarray((fine * slopes) @ CODES)[:, None] / slopes


@pytest.mark.parametrize("kind", DECAYS_PER_M)
@pytest.mark.parametrize("channel", range(3))
def test_narrow_stripes_without_colour_keep_their_contrast(kind: str, channel: int) -> None:
    fine, coarse = stripes(DECAYS_PER_M[kind])
    seen = sampled(without_colour(fine), coarse, stripe_px=3.5).profile(channel)
    shown = fine[:, channel] > 0.02
    assert seen.fine[shown] == pytest.approx(fine[shown, channel], rel=0.02)


def test_wide_stripes_are_taken_as_seen() -> None:
    fine, coarse = stripes(DECAYS_PER_M["milky"])
    seen = sampled(without_colour(fine), coarse, stripe_px=9.0).profile(0)
    assert seen.fine == pytest.approx(without_colour(fine)[:, 0])
    assert (seen.fine < 0.9 * fine[:, 0]).any()


def test_stripes_lost_at_once_stay_finite() -> None:
    lost = np.zeros((len(PATH_M), 3))
    seen = sampled(lost - 0.01, lost, stripe_px=3.5).profile(0)
    assert np.isfinite(seen.fine).all()
