"""Bars in light that leans across the field: a reference read again keeps all its contrast."""

from dataclasses import replace

import numpy as np
import pytest

from greasecheck.measure.sight.bars import AS_PRINTED, Alignment, Strips, flatten
from greasecheck.measure.sight.cells import measure_contrast

BAR_MM, WIDTH_MM, BANDS = 2.0, 48.0, 7


def leaning(slope: float) -> Strips:
    """Strips whose light grows across the field by a power, as a jar's wall sends it."""
    edges = np.linspace(-32.0, 32.0, 385)
    place = (edges[:-1] + edges[1:]) / 2
    white = np.floor((place + WIDTH_MM / 2) / BAR_MM).astype(int) % 2 == 1
    light = np.where(white, 1.0, 0.05) * np.exp(slope * (place / 24.0) ** 3)
    return Strips(
        light=np.tile(light[None, :, None], (BANDS, 1, 3)),
        x_mm=edges,
        clipped=np.zeros(len(place)),
        bar_mm=BAR_MM,
        width_mm=WIDTH_MM,
    )


@pytest.mark.parametrize("slope", [0.0, 0.4, 0.8])
def test_the_reference_read_by_itself_keeps_its_contrast(slope: float) -> None:
    strips = leaning(slope)
    first = measure_contrast(strips, AS_PRINTED, columns_differ=True)
    again = measure_contrast(flatten(strips, first.bands), AS_PRINTED, columns_differ=True)
    assert again.contrast == pytest.approx(np.ones(3), abs=0.005)


def test_a_lean_that_all_bands_share_is_no_noise() -> None:
    strips = leaning(0.8)
    as_noise = measure_contrast(strips, AS_PRINTED)
    known = measure_contrast(strips, AS_PRINTED, columns_differ=True)
    assert known.std.max() < 0.1 * as_noise.std.min()


def test_only_the_bars_themselves_count_as_burnt_out() -> None:
    even = leaning(0.0)
    burnt = replace(even, clipped=(even.x_mm[1:] > 26.0).astype(float))
    assert burnt.clipped_share(AS_PRINTED) == 0
    moved = Alignment(shift_mm=1.0, stretch=1.05)  # bars from -24.2 to 26.2 mm
    assert burnt.clipped_share(moved) == pytest.approx(0.2 / 50.4, abs=0.002)
    assert burnt.clipped_share(Alignment(shift_mm=8.0, stretch=1.0)) == pytest.approx(
        1 / 8, rel=0.03
    )
