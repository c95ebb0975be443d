"""Contrast cell by cell: which cells count and what follows, derived a second time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.measure.sight.bars import AS_PRINTED, Alignment, Strips, align
from greasecheck.measure.sight.cells import measure_contrast

if TYPE_CHECKING:
    from greasecheck.model import BoolArray, FloatArray

BAR_MM, BARS, BANDS = 8.0, 12, 7
PER_BAR = 48
WIDTH_MM = BARS * BAR_MM


def strips_of(bars: FloatArray) -> Strips:
    """Strips whose bars have the given light, shape (bands, bars, 3), and paper beside them."""
    paper = np.ones((bars.shape[0], PER_BAR, 3))
    light = np.concatenate([paper, np.repeat(bars, PER_BAR, axis=1), paper], axis=1)
    half = WIDTH_MM / 2 + BAR_MM
    return Strips(
        light=light,
        x_mm=np.linspace(-half, half, light.shape[1] + 1),
        clipped=np.zeros(light.shape[1]),
        bar_mm=BAR_MM,
        width_mm=WIDTH_MM,
    )


def uneven(seed: int, noise: float) -> FloatArray:
    """Bars with noise, some cells spoilt: foam on the upper band, a drop, a little glare."""
    rng = np.random.default_rng(seed)
    white = np.arange(BARS) % 2 == 1
    bars = np.where(white, 0.9, 0.1)[None, :, None] * np.ones((BANDS, 1, 3))
    bars = bars + rng.normal(0, noise, bars.shape)
    bars[0, :4] += 0.3
    bars[3, 5] *= 0.7
    bars[5, 8] += rng.choice([0.05, 0.08, 0.11])
    bars[2] *= 1 + rng.choice([0.02, 0.06]) * np.linspace(-1, 1, BARS)[:, None]
    return np.asarray(bars)


def kept(bars: FloatArray) -> tuple[FloatArray, BoolArray, FloatArray]:
    """Return contrast of each cell, which are kept, and how brightness departs, by the text."""
    inner = bars[:, 1:-1]
    beside = (bars[:, :-2] + bars[:, 2:]) / 2
    sign = np.where(np.arange(1, BARS - 1) % 2 == 1, 1.0, -1.0)[None, :, None]
    cells = (inner - beside) * sign
    usual = np.median(cells[BANDS // 2 :].reshape(-1, 3), axis=0)
    off = np.abs(cells - usual)
    spread = 1.4826 * np.median(off[BANDS // 2 :].reshape(-1, 3), axis=0)
    odd = (off > 5 * spread + 0.15 * usual).any(axis=2)
    level = (beside + inner) / 2
    level = level / np.median(level.reshape(-1, 3), axis=0)
    level = level - np.median(level, axis=1)[:, None]
    level = level - np.median(level, axis=0)
    spread = 1.4826 * np.median(np.abs(level).reshape(-1, 3), axis=0)
    odd |= (np.abs(level) > 5 * spread + 0.04).any(axis=2)
    return cells, np.asarray(~odd), level


@pytest.mark.parametrize("noise", [0.001, 0.01])
@pytest.mark.parametrize("seed", range(6))
def test_cells_count_as_the_text_says(seed: int, noise: float) -> None:
    bars = uneven(seed, noise)
    cells, keep, level = kept(bars)
    found = measure_contrast(strips_of(bars), AS_PRINTED)
    assert 0.5 < keep.mean() < 1
    assert found.used_share == pytest.approx(keep.mean())
    assert found.contrast == pytest.approx(cells[keep].mean(axis=0))
    scatter = cells[keep].std(axis=0, ddof=1) * np.sqrt(8 / 3 / keep.sum())
    assert found.std == pytest.approx(scatter)
    assert found.bands == pytest.approx(np.median(cells, axis=1))
    white = np.arange(1, BARS - 1) % 2 == 1
    assert found.white == pytest.approx(bars[:, 1:-1][keep & white].mean(axis=0))
    assert found.black == pytest.approx(bars[:, 1:-1][keep & ~white].mean(axis=0))
    spread = np.median(np.abs(level).reshape(-1, 3), axis=0)
    assert found.unevenness == pytest.approx(1.4826 * spread.max())
    mean = cells.mean(axis=2)
    sides = [(slice(None), slice(5, None)), (slice(None), slice(5))]
    ends = [(slice(4, None), slice(None)), (slice(3), slice(None))]
    lean = [
        (mean[late][keep[late]].mean() - mean[early][keep[early]].mean()) / mean[keep].mean()
        for late, early in (sides, ends)
    ]
    assert found.lean == pytest.approx(lean, abs=1e-6)


@pytest.mark.parametrize("seed", range(3))
def test_what_columns_share_is_no_noise(seed: int) -> None:
    bars = uneven(seed, 0.005) + np.linspace(0, 0.05, BARS)[None, :, None] ** 2
    cells, keep, _ = kept(bars)
    found = measure_contrast(strips_of(bars), AS_PRINTED, columns_differ=True)
    noise = (cells - np.median(cells, axis=0))[keep]
    assert found.std == pytest.approx(noise.std(axis=0, ddof=1) * np.sqrt(8 / 3 / keep.sum()))
    weights = keep[..., None] + 1e-9
    assert found.bands == pytest.approx((cells * weights).sum(axis=1) / weights.sum(axis=1))


def test_foam_over_most_bands_is_left_out() -> None:
    rng = np.random.default_rng(2)
    bars = np.where(np.arange(BARS) % 2 == 1, 0.9, 0.1)[None, :, None] * np.ones((BANDS, 1, 3))
    bars[:4] = 0.6
    found = measure_contrast(strips_of(bars + rng.normal(0, 0.01, bars.shape)), AS_PRINTED)
    assert found.used_share == pytest.approx(3 / 7, abs=0.02)
    assert found.contrast == pytest.approx([0.8, 0.8, 0.8], abs=0.01)


def test_with_fewer_than_six_cells_left_none_is_rejected() -> None:
    rng = np.random.default_rng(0)
    bars = np.where(np.arange(5) % 2 == 1, 0.9, 0.1)[None, :, None] * np.ones((2, 1, 3))
    strips = Strips(
        light=np.repeat(bars + rng.normal(0, 1e-4, bars.shape), PER_BAR, axis=1),
        x_mm=np.linspace(-20, 20, 5 * PER_BAR + 1),
        clipped=np.zeros(5 * PER_BAR),
        bar_mm=BAR_MM,
        width_mm=40.0,
    )
    assert measure_contrast(strips, AS_PRINTED).used_share == 1
    strips.light[0, 2 * PER_BAR : 3 * PER_BAR] = 0.5  # spoils three cells of six
    assert measure_contrast(strips, AS_PRINTED).used_share == 1


def test_the_stated_error_is_the_scatter_of_contrast() -> None:
    clean = np.where(np.arange(BARS) % 2 == 1, 0.9, 0.1)[None, :, None] * np.ones((BANDS, 1, 3))
    rng = np.random.default_rng(1)
    found = [
        measure_contrast(strips_of(clean + rng.normal(0, 0.01, clean.shape)), AS_PRINTED)
        for _ in range(300)
    ]
    scatter = np.std([one.contrast for one in found], axis=0)
    stated = np.sqrt(np.mean([one.std**2 for one in found], axis=0))
    assert scatter == pytest.approx(stated, rel=0.12)


def drawn(shift_mm: float, stretch: float) -> Strips:
    """Bars seen displaced, eight samples to the mm, each a mean of sixteen."""
    half = WIDTH_MM / 2 + 10
    fine = np.linspace(-half, half, round(2 * half * 128), endpoint=False) + 1 / 256
    printed = (fine - shift_mm) / stretch + WIDTH_MM / 2
    light = np.where((printed > 0) & (printed < WIDTH_MM), (printed // BAR_MM) % 2, 1.0)
    columns = light.reshape(-1, 16).mean(axis=1)
    return Strips(
        light=np.tile(columns[None, :, None], (BANDS, 1, 3)),
        x_mm=np.linspace(-half, half, len(columns) + 1),
        clipped=np.zeros(len(columns)),
        bar_mm=BAR_MM,
        width_mm=WIDTH_MM,
    )


@pytest.mark.parametrize(("shift_mm", "stretch"), [(-6.8, 1.0), (6.8, 1.03), (0.0, 1.08)])
def test_bars_are_found_wherever_water_may_show_them(shift_mm: float, stretch: float) -> None:
    found = align(drawn(shift_mm, stretch))
    assert found.shift_mm == pytest.approx(shift_mm, abs=0.21)  # steps: a twentieth of a bar, 0.005
    assert found.stretch == pytest.approx(stretch, abs=0.0055)


def test_bars_are_looked_for_within_reach_of_where_they_should_be() -> None:
    near = Alignment(shift_mm=1.0, stretch=1.02)
    inside = align(drawn(2.2, 1.027), near, 1.4)
    assert inside.shift_mm == pytest.approx(2.2, abs=0.21)
    assert inside.stretch == pytest.approx(1.027, abs=0.0055)
    outside = align(drawn(4.0, 1.05), near, 1.4)
    assert abs(outside.shift_mm - 1.0) <= 1.4 + 0.01
    assert abs(outside.stretch - 1.02) <= 0.01 + 1e-9


def test_the_scatter_within_bands_tells_how_bands_scatter_and_a_step_is_none_of_it() -> None:
    """The estimate takes out bands and columns, which leaves 9/10 times 6/7 of the variance."""
    rng = np.random.default_rng(8)
    light = np.where(np.arange(BARS) % 2 == 1, 0.9, 0.1)[None, :, None]
    fields = light + rng.normal(0, 0.01, (150, BANDS, BARS, 3))
    fields[:, 3:] *= 0.3 / 0.8
    seen = [measure_contrast(strips_of(bars), AS_PRINTED) for bars in fields]
    upper = np.array([one.bands[:3] for one in seen])
    stated = np.array([one.bands_std for one in seen])
    assert 0.4 < np.sqrt(np.mean(stated**2)) / upper.std(axis=0).mean() < 1.1
    assert np.abs(upper.mean(axis=(0, 1)) - 0.8).max() < 0.01
