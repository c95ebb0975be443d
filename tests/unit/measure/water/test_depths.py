"""Optical depths of low bars, worked by hand, as they go to the fit of three channels."""

from dataclasses import replace

import numpy as np
import pytest

from greasecheck.measure.sight.shade import WaterShade
from greasecheck.measure.sight.stand_light import UNKNOWN_LIGHT, StandLight, light_of
from greasecheck.measure.sight.view import SightView
from greasecheck.measure.water import depths
from greasecheck.measure.water.depths import LowBars, low_bars
from greasecheck.measure.water.reference import unknown_jar
from greasecheck.measure.water.spectral import ChannelDepths
from greasecheck.measure.water.transmittance import Transmittance
from tests.synthetic.bar_pairs import CLEAR, pair

LIGHT = replace(light_of(0.0), shade=1.0, shade_std=0.1, coarse=0.8, coarse_std=0.05)
Explained = tuple[tuple[ChannelDepths | None, ...], tuple[float, float], StandLight]


def kept(bar_mm: float, shares: tuple[float, ...], std: float) -> Transmittance:
    return Transmittance(
        bar_mm=bar_mm, clear_ratio=0.9, veil=0.0, kept=np.array(shares), std=np.full(3, std)
    )


def explained(
    fine: Transmittance, coarse: Transmittance, monkeypatch: pytest.MonkeyPatch
) -> Explained:
    """Return what the fit of the channels is given: depths, widths of the bars, light."""
    given: list[Explained] = []

    def explain(
        channels: tuple[ChannelDepths | None, ...],
        bars_mm: tuple[float, float],
        path_mm: float,
        light: StandLight,
    ) -> list[float]:
        assert path_mm == 60.0
        given.append((channels, bars_mm, light))
        return [1.0] * sum(one is not None for one in channels)

    monkeypatch.setattr(depths, "explain", explain)
    bars = LowBars(fine=fine, coarse=coarse, veil=np.array([0.1, 0.2, 0.3]), light=LIGHT)
    answers = bars.beams(60.0)
    assert [one is None for one in answers] == [one is None for one in given[0][0]]
    return given[0]


def test_depths_are_logarithms_of_contrast_with_the_error_of_the_stand(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    fine, coarse = kept(2.0, (0.5, 0.25, 0.02), 0.01), kept(8.0, (0.6, 0.3, 0.0), 0.02)
    (red, green, blue), bars_mm, light = explained(fine, coarse, monkeypatch)
    assert (bars_mm, light, blue) == ((2.0, 8.0), LIGHT, None)
    assert red is not None
    assert red.fine == pytest.approx(0.693147, abs=1e-6)
    assert red.fine_std == pytest.approx(np.hypot(0.01 / 0.5, 0.009))
    assert red.coarse == pytest.approx(0.510826, abs=1e-6)
    assert red.coarse_std == pytest.approx(0.02 / 0.6)
    assert green is not None
    assert (red.veil, green.veil) == (0.1, 0.2)


def test_lost_coarse_bars_say_nothing_and_stay_finite(monkeypatch: pytest.MonkeyPatch) -> None:
    fine, coarse = kept(2.0, (0.5,) * 3, 0.01), kept(8.0, (0.0,) * 3, 0.02)
    red = explained(fine, coarse, monkeypatch)[0][0]
    assert red is not None
    assert red.coarse == pytest.approx(-np.log(1e-4))
    assert red.coarse_std == np.inf


def test_coarse_bars_are_read_alone_where_the_fine_ones_are_lost(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    fine, coarse = kept(2.0, (0.02, 0.5, 0.5), 0.01), kept(8.0, (0.6,) * 3, 0.02)
    (red, _, _), bars_mm, light = explained(fine, coarse, monkeypatch)
    assert bars_mm == (8.0, 8.0)
    assert red is not None
    assert (red.fine, red.coarse_std) == pytest.approx((-np.log(0.6), np.inf))
    assert (light.shade, light.shade_std) == pytest.approx((0.8, 0.05))


def test_fields_carry_the_noise_floor_and_the_veil_beyond_clear_water() -> None:
    clear = unknown_jar(60.0, 2)
    fine = replace(clear.fine, ratio=((0.9,) * 3,) * 7, veil=(0.04, 0.05, 0.06))
    # black and white both 0.2 brighter: a veil of 0.2 over dry white
    milky = pair(np.full(3, 0.5), np.full(3, 0.5 + 0.2 / 0.98))
    veil = (milky.wet.black - 0.03 / 0.95 * milky.wet.contrast) / 0.98
    seen = SightView(fine=milky, coarse=CLEAR)
    made = low_bars(
        seen, replace(clear, fine=fine), kept(2.0, (0.5,) * 3, 0.001), kept(8.0, (0.6,) * 3, 0.003)
    )
    assert made.veil == pytest.approx(veil * 0.9 - np.array([0.04, 0.05, 0.06]))
    assert made.fine.std == pytest.approx(np.full(3, np.hypot(0.001, 0.002)))
    assert made.coarse.std == pytest.approx(np.full(3, np.hypot(0.003, 0.002)))
    assert made.light == UNKNOWN_LIGHT
    shade = WaterShade(dark=0.3, bright=1.0, reach_mm=30.0)
    for ratio, lit in ((0.7, np.log(0.7)), (0.02, np.log(0.1))):
        coarse = replace(clear.coarse, ratio=((ratio,) * 3,) * 7)
        known = replace(clear, shade=shade, coarse=coarse)
        light = low_bars(seen, known, made.fine, made.coarse).light
        assert light.coarse == pytest.approx(light_of(lit).coarse)
