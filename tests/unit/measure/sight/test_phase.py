"""The stretch of drawn bars is found again, within its stated error."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from greasecheck.measure.checks import limits
from greasecheck.measure.sight.bars import Alignment, Strips
from greasecheck.measure.sight.phase import Edges, as_printed, edges_kept, measure_stretch
from greasecheck.measure.water import transmittance

FloatArray = NDArray[np.float64]
BAR_MM, WIDTH_MM, BANDS, COLUMNS = 2.0, 48.0, 7, 384


def bars(stretch: float, shift_mm: float, seen_mm: FloatArray) -> FloatArray:
    printed = (seen_mm - shift_mm) / stretch + WIDTH_MM / 2
    return np.where((printed > 0) & (printed < WIDTH_MM), (printed // BAR_MM) % 2, 1.0)


def strips(light: FloatArray) -> Strips:
    return Strips(
        light=np.repeat(light[..., None], 3, axis=-1),
        x_mm=np.linspace(-32, 32, COLUMNS + 1),
        clipped=np.zeros(COLUMNS),
        bar_mm=BAR_MM,
        width_mm=WIDTH_MM,
    )


def drawn(stretch: float, contrast: float, slope: float, noise: float, seed: int) -> Strips:
    fine = np.linspace(-32, 32, 8 * COLUMNS, endpoint=False) + 4 / COLUMNS
    profile = bars(stretch, -0.7, fine).reshape(COLUMNS, 8).mean(axis=1)
    veil = 0.5 + slope * np.linspace(-1, 1, COLUMNS)
    rng = np.random.default_rng(seed)
    return strips(veil + contrast * profile + rng.normal(0, noise, (BANDS, COLUMNS)))


@pytest.mark.parametrize("stretch", [1.0, 1.012, 1.024, 1.04])
@pytest.mark.parametrize("slope", [0.0, 0.3])
def test_stretch_is_found_from_a_near_guess_in_uneven_light(stretch: float, slope: float) -> None:
    near = Alignment(shift_mm=-0.72, stretch=round(stretch / 0.005) * 0.005)
    found = measure_stretch(drawn(stretch, 0.4, slope, 0.001, seed=1), near)
    assert found.value == pytest.approx(stretch, abs=3e-4)


@pytest.mark.parametrize("contrast", [0.5, 0.1, 0.03])
def test_stated_error_covers_the_noise(contrast: float) -> None:
    near = Alignment(shift_mm=-0.7, stretch=1.025)
    found = [measure_stretch(drawn(1.024, contrast, 0.1, 0.02, seed), near) for seed in range(20)]
    errors = np.array([abs(one.value - 1.024) / one.std for one in found])
    assert np.mean(errors < 3) >= 0.9
    assert np.mean(errors < 0.3) <= 0.6  # nor so wide that nothing could miss


DRY, WET_AT = drawn(1.0, 0.8, 0.0, 0.001, seed=3), Alignment(shift_mm=-0.7, stretch=1.024)
DRY_AT = Alignment(shift_mm=-0.7, stretch=1.0)


def blurred(strips: Strips, blur_mm: float) -> Strips:
    return replace(strips, light=gaussian_filter1d(strips.light, blur_mm * COLUMNS / 64, axis=1))


def assert_edges(found: Edges | None, truth: float) -> None:
    """They are told within their error, and that is small."""
    assert found is not None
    assert found.at_least - 0.02 < truth < found.at_most + 0.02
    assert found.at_most - found.at_least < 0.06


@pytest.mark.parametrize("contrast", [0.8, 0.2, 0.06])
def test_edges_stay_as_sharp_however_much_contrast_is_lost(contrast: float) -> None:
    wet = drawn(1.024, contrast, 0.1, 0.001, seed=4)
    assert_edges(edges_kept(wet, WET_AT, DRY, DRY_AT), 1.0)


def test_smear_is_doubted_where_it_takes_what_setting_the_jar_down_does() -> None:
    blur_mm = float(np.sqrt(2 * transmittance.JAR_ERROR)) * 2 * BAR_MM / (2 * np.pi)
    wave = np.cos(np.pi * np.linspace(-32, 32, 6400, endpoint=False) / BAR_MM)
    first, third = (
        np.ptp(gaussian_filter1d(one, blur_mm * 100, mode="wrap")) / np.ptp(one)
        for one in (wave, 4 * wave**3 - 3 * wave)
    )
    assert first == pytest.approx(np.exp(-transmittance.JAR_ERROR), rel=1e-4)
    assert third / first == pytest.approx(limits.EDGES.doubtful, rel=1e-3)


@pytest.mark.parametrize("blur_mm", [0.25, 0.5])
def test_blur_takes_the_edges_by_the_law_of_gauss(blur_mm: float) -> None:
    wet = blurred(drawn(1.024, 0.4, 0.0, 0.001, seed=4), blur_mm)
    cycles_per_mm = 1 / (2 * BAR_MM * 1.024)
    lost = 2 * (np.pi * blur_mm * cycles_per_mm) ** 2  # exponent at the fundamental; 9 times at 3
    assert_edges(edges_kept(wet, WET_AT, DRY, DRY_AT), np.exp(-8 * lost))
    both = edges_kept(wet, WET_AT, blurred(DRY, blur_mm), DRY_AT)
    assert both is None or both.at_most > 0.95  # the camera's own blur is no fault of the glass


def test_noise_makes_no_edges() -> None:
    """A wave has no third harmonic; noise has one in each band, of any phase."""
    fine = np.linspace(-32, 32, COLUMNS, endpoint=False) + 32 / COLUMNS
    wave = 0.5 - 0.05 * np.cos(np.pi * ((fine + 0.7) / 1.024 + WIDTH_MM / 2 - BAR_MM / 2) / BAR_MM)
    found = [
        edges_kept(strips(wave + rng.normal(0, 0.05, (BANDS, COLUMNS))), WET_AT, DRY, DRY_AT)
        for rng in map(np.random.default_rng, range(20))
    ]
    assert all(one is not None and one.at_least < 0.1 for one in found)
    assert abs(np.mean([one.at_least + one.at_most for one in found if one]) / 2) < 0.05


def test_edges_that_the_photo_does_not_show_tell_nothing() -> None:
    assert edges_kept(DRY, DRY_AT, blurred(DRY, 0.8), DRY_AT) is None


THROUGH_WATER = Alignment(shift_mm=-1.1, stretch=1.024)


def level_at(band: int, shift_mm: float, contrast: float = 0.8, noise: float = 0.005) -> Strips:
    """Bars as printed above a band, moved by water from there down, their edges a little soft."""
    fine = np.linspace(-32, 32, 8 * COLUMNS, endpoint=False) + 4 / COLUMNS
    above, below = (
        gaussian_filter1d(bars(stretch, shift, fine), 8).reshape(COLUMNS, 8).mean(axis=1)
        for stretch, shift in ((1.0, 0.0), (THROUGH_WATER.stretch, shift_mm))
    )
    kept = np.where(np.arange(BANDS) < band, 0.8, contrast)[:, np.newaxis]
    light = kept * np.where(np.arange(BANDS)[:, np.newaxis] < band, above, below)
    rng = np.random.default_rng(band)
    return strips(0.1 + light + rng.normal(0, noise, (BANDS, COLUMNS)))


@pytest.mark.parametrize("band", range(BANDS + 1))
@pytest.mark.parametrize("contrast", [0.8, 0.3, 0.02])
def test_bars_above_the_water_are_where_they_were_printed(band: int, contrast: float) -> None:
    seen = level_at(band, THROUGH_WATER.shift_mm, contrast)
    assert as_printed(seen, THROUGH_WATER, 0.8).tolist() == [k < band for k in range(BANDS)]


def test_a_camera_moved_before_the_bars_shows_none_above_the_water() -> None:
    assert not as_printed(level_at(0, 0.0), THROUGH_WATER, 0.8).any()  # stretched, though not moved


def test_bars_that_murk_hides_are_not_above_the_water() -> None:
    faint = level_at(BANDS, 0.0)
    veiled = replace(faint, light=faint.light + 0.6)
    assert as_printed(faint, THROUGH_WATER, 0.8).all()
    assert not as_printed(veiled, THROUGH_WATER, 0.8).any()


def test_water_that_moves_bars_by_half_a_period_is_water_all_the_same() -> None:
    far = Alignment(shift_mm=-2.3, stretch=1.04)
    fine = np.linspace(-32, 32, 8 * COLUMNS, endpoint=False) + 4 / COLUMNS
    moved = bars(far.stretch, far.shift_mm, fine).reshape(COLUMNS, 8).mean(axis=1)
    assert not as_printed(strips(np.tile(0.1 + 0.8 * moved, (BANDS, 1))), far, 0.8).any()
