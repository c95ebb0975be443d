"""Three channels, two bar widths and the veil together give back the water they were made of."""

from dataclasses import replace

import numpy as np
import pytest

from greasecheck.measure.sight.stand_light import UNKNOWN_LIGHT, StandLight
from greasecheck.measure.water import spectral
from greasecheck.measure.water.scatter import bar_factor
from greasecheck.measure.water.spectral import ChannelDepths, explain

PATH_MM, BARS_MM = 60.0, (2.0, 8.0)
LAMP = StandLight(
    shade=0.95,
    shade_std=0.12,
    coarse=0.80,
    coarse_std=0.06,
    absorbed=1.1,
    log_veil=-0.17,
    log_veil_std=0.12,
)


def channel(
    per_m: float, g: float, albedo: float, light: StandLight = LAMP, veil_error: float = 1.0
) -> ChannelDepths:
    """What bars behind such water show, by the forms in the module's own description."""
    depth = per_m * PATH_MM / 1000
    aside = albedo * (1 - g) * depth
    absorbed = light.absorbed * (1 - albedo) * depth
    turned = aside / (1 + spectral.SATURATION * aside)
    fine, coarse = (
        (1 - kept * (1 - float(bar_factor(bar, PATH_MM, np.array([g]), albedo, per_m)[0]))) * depth
        for bar, kept in zip(BARS_MM, (spectral.FORWARD, 1.0), strict=True)
    )
    x = albedo * (1 - g) ** spectral.VEIL_SIDEWAYS * depth
    bent = 1 + spectral.VEIL_BEND * x + spectral.VEIL_ABSORBED * (1 - albedo) * depth
    return ChannelDepths(
        fine=fine + light.shade * turned + absorbed,
        fine_std=0.01,
        coarse=coarse + light.coarse * turned + absorbed,
        coarse_std=0.01,
        veil=float(np.exp(light.log_veil) * x / bent**spectral.VEIL_POWER * veil_error),
    )


@pytest.mark.parametrize("per_m", [1.0, 5.0, 20.0, 50.0])
@pytest.mark.parametrize("g", [0.55, 0.75, 0.92])
@pytest.mark.parametrize("albedo", [0.98, 0.7])
def test_known_water_is_found_within_the_stated_error(
    per_m: float, g: float, albedo: float
) -> None:
    channels = tuple(channel(per_m * k, g, albedo) for k in (1.0, 1.3, 1.7))
    red, _, blue = explain(channels, BARS_MM, PATH_MM, LAMP)
    assert abs(red.value_per_m - per_m) < 2 * red.std_per_m
    assert abs(blue.value_per_m - 1.7 * per_m) < 2 * blue.std_per_m
    assert red.value_per_m == pytest.approx(per_m, rel=0.15)


def test_stated_errors_are_no_wider_than_light_and_scatter_leave_them() -> None:
    """The scatter of results over wrong beliefs of S and A within their errors: not half of it."""
    rng = np.random.default_rng(3)
    errors = []
    for _ in range(60):
        shade, log_veil = 0.95 + 0.12 * rng.normal(), -0.17 + 0.12 * rng.normal()
        light = replace(LAMP, shade=shade, log_veil=log_veil)
        per_m, g = rng.uniform(3, 40), float(np.clip(rng.normal(0.72, 0.14), 0.46, 0.96))
        channels = tuple(channel(per_m * k, g, 0.98, light) for k in (1.0, 1.3, 1.7))
        found = explain(channels, BARS_MM, PATH_MM, LAMP)[0]
        errors.append((found.value_per_m - per_m) / found.std_per_m)
    assert 0.45 < np.std(errors) < 1.2
    assert np.mean(np.abs(errors) < 2) > 0.9


def test_murkier_water_reads_higher() -> None:
    reads = [
        explain((channel(c, 0.8, 0.97),), BARS_MM, PATH_MM, LAMP)[0].value_per_m
        for c in (0.5, 2.0, 8.0, 30.0, 60.0)
    ]
    assert reads == sorted(reads)


def test_a_lost_channel_is_left_out() -> None:
    found = explain((channel(20.0, 0.7, 0.98), None, None), BARS_MM, PATH_MM, LAMP)
    assert len(found) == 1
    assert found[0].value_per_m == pytest.approx(20.0, rel=0.15)


def test_coarse_bars_that_tell_nothing_widen_the_error() -> None:
    whole = channel(20.0, 0.9, 0.98)
    alone = ChannelDepths(
        fine=whole.fine,
        fine_std=whole.fine_std,
        coarse=0.0,
        coarse_std=np.inf,
        veil=whole.veil,
    )
    with_both, without = (explain((one,), BARS_MM, PATH_MM, LAMP)[0] for one in (whole, alone))
    assert without.std_per_m > with_both.std_per_m


def test_an_unknown_light_widens_the_error() -> None:
    one = channel(10.0, 0.7, 0.98)
    known = explain((one,), BARS_MM, PATH_MM, LAMP)[0]
    unknown = explain((one,), BARS_MM, PATH_MM, UNKNOWN_LIGHT)[0]
    assert unknown.std_per_m > 1.3 * known.std_per_m


def test_a_veil_that_no_water_has_is_a_misfit() -> None:
    sound, frothy = (
        explain((channel(6.0, 0.7, 0.98, veil_error=error),), BARS_MM, PATH_MM, LAMP)[0]
        for error in (1.0, 4.0)
    )
    assert sound.misfit_std < 2
    assert frothy.misfit_std > 4


def test_water_clearer_than_the_reference_reads_below_zero() -> None:
    below = ChannelDepths(fine=-0.05, fine_std=0.01, coarse=-0.04, coarse_std=0.01, veil=0.0)
    assert explain((below,), BARS_MM, PATH_MM, LAMP)[0].value_per_m < 0


def brighter(one: ChannelDepths, gain: float) -> ChannelDepths:
    """What is seen of that water where a reflection adds light to bars and veil."""
    return replace(
        one, fine=one.fine - gain, coarse=one.coarse - gain, veil=one.veil * np.exp(gain)
    )


@pytest.mark.parametrize("per_m", [0.5, 2.0, 4.0])
def test_a_bright_spot_on_the_jar_is_told_from_water(per_m: float) -> None:
    sound = tuple(channel(per_m * k, 0.7, 0.98) for k in (1.0, 1.3, 1.7))
    lit = tuple(brighter(one, 0.15) for one in sound)
    assert explain(sound, BARS_MM, PATH_MM, LAMP)[0].brightened_std < 1
    assert explain(lit, BARS_MM, PATH_MM, LAMP)[0].brightened_std > 2


@pytest.mark.parametrize("per_m", [0.5, 2.0, 4.0])
def test_light_that_was_added_is_stated_by_its_size(per_m: float) -> None:
    sound = tuple(channel(per_m * k, 0.7, 0.98) for k in (1.0, 1.3, 1.7))
    lit = tuple(brighter(one, 0.10) for one in sound)
    assert explain(sound, BARS_MM, PATH_MM, LAMP)[0].brightened_depth < 0.01
    assert 0.04 < explain(lit, BARS_MM, PATH_MM, LAMP)[0].brightened_depth < 0.2


def test_brown_water_and_a_shadow_are_no_bright_spot() -> None:
    brown = tuple(channel(5.0 * k, 0.7, 0.7) for k in (1.0, 1.5, 2.5))
    shaded = tuple(brighter(channel(2.0 * k, 0.7, 0.98), -0.1) for k in (1.0, 1.3, 1.7))
    for one in (brown, shaded):
        assert explain(one, BARS_MM, PATH_MM, LAMP)[0].brightened_std < 1
