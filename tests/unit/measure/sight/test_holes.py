"""A spot of bars that lack contrast is told from noise, uneven light and smooth murk."""

import numpy as np
import pytest
from numpy.typing import NDArray

from greasecheck.measure.checks import limits
from greasecheck.measure.sight.bars import AS_PRINTED, BAND_MM, Strips
from greasecheck.measure.sight.holes import contrast_grain, contrast_hole

FloatArray = NDArray[np.float64]
BAR_MM, WIDTH_MM, BANDS, COLUMNS = 2.0, 48.0, 7, 288
X_MM = np.linspace(-24, 24, COLUMNS, endpoint=False) + 24 / COLUMNS
Y_MM = (np.arange(BANDS)[:, np.newaxis] - 3) * BAND_MM
NOISE = 0.004  # of a column of a band: 1 % on a cell of six


def drawn(
    contrast: FloatArray | float,
    veil: float,
    seed: int,
    light: FloatArray | float = 1.0,
    noise: float = NOISE,
) -> Strips:
    """Bars of a contrast round a grey of one half under a veil, lit unevenly, with noise."""
    bars = np.where((X_MM + WIDTH_MM / 2) // BAR_MM % 2 == 1, 0.5, -0.5)
    rng = np.random.default_rng(seed)
    shown = light * (0.5 + contrast * bars) + veil
    shown = shown + rng.normal(0, noise, (BANDS, COLUMNS))
    return Strips(
        light=np.repeat(shown[..., np.newaxis], 3, axis=-1),
        x_mm=np.linspace(-24, 24, COLUMNS + 1),
        clipped=np.zeros(COLUMNS),
        bar_mm=BAR_MM,
        width_mm=WIDTH_MM,
    )


def spot(centre_mm: tuple[float, float], radius_mm: float) -> FloatArray:
    """1 inside, 0 outside, shape (bands, columns)."""
    away = np.hypot(X_MM - centre_mm[0], Y_MM - centre_mm[1])
    return np.asarray((away < radius_mm).astype(np.float64))


@pytest.mark.parametrize("contrast", [0.9, 0.2, 0.03, 0.004, 0.0])
def test_noise_alone_makes_no_hole(contrast: float) -> None:
    found = [contrast_hole(drawn(contrast, 0.1, seed), AS_PRINTED) for seed in range(40)]
    assert np.count_nonzero(found) <= 1
    assert max(found) < limits.HOLE.doubtful / 10


def test_murk_that_settles_and_patches_of_light_make_none() -> None:
    settled = 0.6 - 0.1 * Y_MM / 10 + 0.05 * (X_MM / 24) ** 2
    patch = 1 + 0.15 * spot((-8, 2), 8)
    assert contrast_hole(drawn(settled, 0.1, 1), AS_PRINTED) == 0
    assert contrast_hole(drawn(0.8, 0.0, 2, patch), AS_PRINTED) == 0


@pytest.mark.parametrize("centre_mm", [(0.0, 0.0), (-15.0, 6.0), (20.0, -9.0)])
@pytest.mark.parametrize("radius_mm", [6.0, 8.0, 12.0])
@pytest.mark.parametrize("contrast", [0.9, 0.2])
def test_a_drop_is_told_and_never_overstated(
    centre_mm: tuple[float, float], radius_mm: float, contrast: float
) -> None:
    inside = spot(centre_mm, radius_mm)
    found = contrast_hole(drawn(contrast * (1 - 0.6 * inside), 0.1, 3), AS_PRINTED)
    missing = 0.6 * inside.mean() / (1 - 0.6 * inside.mean())
    assert limits.HOLE.doubtful < found < missing


def test_what_adds_contrast_in_a_spot_is_no_hole() -> None:
    assert contrast_hole(drawn(0.5 * (1 + 0.5 * spot((5, 0), 8)), 0.1, 4), AS_PRINTED) == 0


@pytest.mark.parametrize(("kept", "noise"), [(1.0, 0.0), (0.5, 0.0), (1.0, 0.1)])
def test_what_drops_hide_of_single_bars_scatters_by_the_root_of_three_eighths(
    kept: float, noise: float
) -> None:
    # A cell is half its own bar and a quarter of either neighbour: 1/4 + 2/16 = 3/8 of a bar's
    # variance, whatever noise both fields have.
    hidden = np.random.default_rng(5).normal(0, 0.12, (BANDS, round(WIDTH_MM / BAR_MM)))
    by_column = np.repeat(1 - hidden, COLUMNS // hidden.shape[1], axis=1)
    wet, dry = drawn(0.8 * kept * by_column, 0.0, 6, noise=noise), drawn(0.8, 0.0, 7, noise=noise)
    found = contrast_grain(wet, AS_PRINTED, dry, AS_PRINTED)
    assert found == pytest.approx(kept * 0.12 * np.sqrt(3 / 8), rel=0.2)


def test_bars_that_murk_hides_have_no_grain() -> None:
    dry = drawn(0.8, 0.0, 8)
    lost = drawn(0.01, 0.3, 9, noise=0.1)
    assert contrast_grain(lost, AS_PRINTED, dry, AS_PRINTED) == 0
