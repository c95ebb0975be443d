from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.measure.ladder.limits import STEP
from greasecheck.measure.ladder.look import hazes_in
from greasecheck.measure.ladder.profile import Field, Sampled
from greasecheck.measure.ladder.refraction import Sight
from greasecheck.measure.ladder.signs.stripes import contrast_step
from greasecheck.model import Bound

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

PATH_M = np.arange(0.004, 0.1, 0.003)
LIGHT = np.array([0.3, 0.2, 0.1])  # of R, G, B, halfway between white and black
FINE_PER_M, COARSE_PER_M = np.array([33.0, 45.0, 65.0]), np.array([29.0, 37.0, 50.0])
CODES = np.array([0.299, 0.587, 0.114])  # ITU-T T.871, 7: brightness of codes R, G, B
STD = 1e-3


def field(contrasts: FloatArray) -> Field:
    """Return stripes of such contrasts, shape (bins, 3), about the light."""
    tint = LIGHT + contrasts / 2
    return Field(
        contrast=contrasts[:, 1],
        white=tint[:, 1],
        std=np.full(len(contrasts), STD),
        stripes=np.zeros((len(contrasts), 12)),
        tint=tint,
        contrasts=contrasts,
    )


def sampled(fine: FloatArray, stripe_px: float, coarse: FloatArray | None = None) -> Sampled:
    depth = 1000 * PATH_M * 0.85
    return Sampled(
        places_mm=96 + depth,
        sight=Sight(
            pixels=np.zeros((len(depth), 2)),
            path_mm=1000 * PATH_M,
            depth_mm=depth,
            cos_air=np.full(len(depth), 0.77),
            mirrored_mm=np.full(len(depth), 40.0),
        ),
        fine=field(fine),
        coarse=field(stripes(COARSE_PER_M) if coarse is None else coarse),
        inside=np.ones(len(depth), dtype=np.bool_),
        stripe_px=stripe_px,
        bent_mm=0.0,
        coarse_aside_mm=0.0,
    )


def stripes(decays_per_m: FloatArray) -> FloatArray:
    return np.asarray(0.2 * np.exp(-PATH_M[:, None] * decays_per_m))


def without_colour(fine: FloatArray) -> FloatArray:
    """Return contrasts of the same brightness in codes of power 1/2.4, alike in all colours."""
    slopes = LIGHT ** (1 / 2.4 - 1)
    return np.asarray((fine * slopes) @ CODES)[:, None] / slopes


def haze(seen: Sampled) -> float:
    return hazes_in(seen)[0].haze_per_m


def test_brightness_is_the_same_with_and_without_colour() -> None:
    fine = stripes(FINE_PER_M)
    full, lost = (sampled(one, 4.0).brightness() for one in (fine, without_colour(fine)))
    assert lost.fine == pytest.approx(full.fine)
    assert lost.white == pytest.approx(full.white)


def test_haze_of_narrow_stripes_hangs_little_on_their_colour() -> None:
    fine = stripes(FINE_PER_M)
    own = [haze(sampled(one, 40.0)) for one in (fine, without_colour(fine))]
    told = [haze(sampled(one, 3.5)) for one in (fine, without_colour(fine))]
    assert abs(np.log(told[1] / told[0])) < 0.25 * abs(np.log(own[1] / own[0]))


def test_stripes_lost_at_once_are_a_bound() -> None:
    none = np.zeros((len(PATH_M), 3))
    found = hazes_in(sampled(none, 3.5, none))[0]
    assert found.bound is Bound.ABOVE


def test_noise_alone_makes_no_step_of_contrast_but_a_shadow_does() -> None:
    noise = np.random.default_rng(4).normal(0, STD, (200, len(PATH_M), 3))
    coarse = 2 * stripes(COARSE_PER_M)
    shaded = np.where(PATH_M[:, None] > 0.02, 0.6, 1.0) * coarse
    smooth, stepped = (
        [contrast_step(sampled(one + lost, 6.0, one + lost), 30.0) for lost in noise]
        for one in (coarse, shaded)
    )
    assert np.mean(np.array(smooth) > STEP.doubtful) < 0.02
    assert min(stepped) > 2 * STEP.doubtful


@pytest.mark.parametrize("end", [3, 5, 9])
def test_contrast_that_is_lost_at_once_is_a_step(end: int) -> None:
    coarse = 2 * stripes(COARSE_PER_M)
    coarse[end:] = 0.0
    assert contrast_step(sampled(coarse, 6.0, coarse), 30.0) > 2 * STEP.doubtful


@pytest.mark.parametrize("faster", [1.0, 2.0, 5.0, 15.0])
def test_contrast_that_murk_hides_is_no_step(faster: float) -> None:
    coarse = 2 * stripes(faster * COARSE_PER_M)
    assert contrast_step(sampled(coarse, 6.0, coarse), 30.0) < STEP.doubtful
