"""Whether the edges of faint wide stripes are as sharp as those of strong ones."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.ladder.refraction import look
from greasecheck.measure.ladder.slopes import FEWEST_BINS, LEAST_SHARE
from greasecheck.reference.ladder.plate import dip_ladder

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.measure.ladder.light import Picture
    from greasecheck.measure.ladder.profile import Sampled
    from greasecheck.measure.ladder.refraction import Eye, Surface

STEP_MM, ROWS = 0.5, 3  # samples across, and rows of them in each bin
SHOWN_STD = 4.0  # standard errors: contrast that shows
LEAST_SHARPNESS = 1e-3  # keeps the ratio finite


def edges_ratio(picture: Picture, eye: Eye, surface: Surface, sampled: Sampled) -> float:
    """Return how sharp the edges of strong wide stripes are over those of faint ones.

    Water takes contrast and leaves edges as sharp as they are: what it scatters comes from farther
    away. A camera that smooths faint detail away as noise blurs edges the more the fainter they
    are. Sharp is the third harmonic of a square wave over its first; 1 where too few stripes show.
    """
    first, third = harmonics(picture, eye, surface, sampled)[sampled.inside].T
    strength, std = np.abs(first), sampled.coarse.std[sampled.inside]
    shown = np.cumprod(strength > np.maximum(LEAST_SHARE, SHOWN_STD * std)) > 0
    half = int(shown.sum()) // 2
    if half < FEWEST_BINS:
        return 1.0
    strength, edges = strength[shown], (third * (first.conj() / strength) ** 3).real[shown]
    strong, faint = (
        float(edges[part].sum() / strength[part].sum()) for part in (slice(half), slice(half, None))
    )
    return strong / max(faint, LEAST_SHARPNESS)


def harmonics(
    picture: Picture, eye: Eye, surface: Surface, sampled: Sampled
) -> NDArray[np.complex128]:
    """Return the first and third harmonic of the wide stripes in each bin, shape (bins, 2).

    Of whole periods of two stripes, in green; both are 1 for sharp stripes of contrast 1.
    """
    field, bar = dip_ladder().stripes.coarse, dip_ladder().stripes.coarse_bar_mm
    places, height = sampled.places_mm, sampled.places_mm[1] - sampled.places_mm[0]
    width = field.width_mm // (2 * bar) * 2 * bar
    x = np.arange(field.x_mm + STEP_MM / 2, field.x_mm + width, STEP_MM)
    rows = places[:, None] + np.linspace(-0.4, 0.4, ROWS) * height
    across, down = np.broadcast_arrays(x, rows[:, :, None])
    sight = look(eye, surface, np.column_stack([across.ravel(), down.ravel()]))
    light = picture.at(sight.pixels)[:, 1].reshape(across.shape).mean(axis=1)
    phase = np.pi * (x - field.x_mm - bar / 2) / bar
    # a square wave of contrast 1 has 1 / pi of it at its period, and a third of that at the third
    # harmonic, where it is negative at the middle of white
    waves = [np.pi * light @ np.exp(-1j * phase), -3 * np.pi * light @ np.exp(-3j * phase)]
    return np.asarray(np.column_stack(waves) / len(x), dtype=np.complex128)
