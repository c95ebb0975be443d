"""From the contrast that two fields keep to a reading, step by step."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest

from greasecheck.measure.turbidity import TurbidityScale
from greasecheck.measure.water.albedo import albedo_from_veil
from greasecheck.measure.water.attenuation import (
    Jar,
    _disagreement,
    _reading,
    _Seen,
    _tint,
)
from greasecheck.measure.water.scatter import (
    ApparentAttenuation,
    BeamAttenuation,
    correct_scatter,
    usual_factor,
)
from greasecheck.measure.water.transmittance import Transmittance
from greasecheck.model import Bound

if TYPE_CHECKING:
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.measure.sight.view import SightView

PATH_MM, PATH_M = 50.0, 0.05


def field(bar_mm: float, kept: float, std: float) -> Transmittance:
    shares = np.array([kept, 0.8 * kept, 0.01 * kept])
    return Transmittance(bar_mm=bar_mm, clear_ratio=0.9, veil=0.2, kept=shares, std=np.full(3, std))


def seen(fine: float, coarse: float, std: float = 0.01, light_std: float = 0.0) -> _Seen:
    return _Seen(
        fine=field(2.0, fine, std),
        coarse=field(8.0, coarse, std),
        light_std=light_std,
        path_mm=PATH_MM,
        tint_yi=12.0,
        jar=Jar(path_mm=PATH_MM, dilution=3.0),
        beams=None,
    )


def apparent(one: Transmittance) -> ApparentAttenuation:
    return ApparentAttenuation(
        bar_mm=one.bar_mm,
        clear_ratio=0.9,
        value_per_m=-np.log(one.main) / PATH_M,
        std_per_m=one.main_std / one.main / PATH_M,
    )


def corrected(whole: _Seen) -> BeamAttenuation:
    albedo = albedo_from_veil(0.2, whole.fine.main)
    return correct_scatter((apparent(whole.fine), apparent(whole.coarse)), PATH_MM, albedo)


def test_a_reading_is_corrected_for_scatter_then_for_dilution() -> None:
    whole = seen(0.4, 0.5, light_std=0.05)
    beam, reading = corrected(whole), _reading(whole)
    assert reading.main_per_m == pytest.approx(3 * beam.value_per_m)
    by_light = 0.05 / PATH_M / beam.factor
    assert reading.std_per_m == pytest.approx(3 * np.hypot(beam.std_per_m, by_light))
    assert reading.bound is None
    red, green, blue = reading.attenuation_rgb_per_m
    assert red == pytest.approx(-np.log(0.4) / PATH_M / beam.factor * 3)
    assert green == pytest.approx(-np.log(0.32) / PATH_M / beam.factor * 3)
    assert blue is None
    assert reading.forward_scatter == pytest.approx(np.log(0.5) / np.log(0.4))
    assert _disagreement(whole) == pytest.approx(beam.misfit_std)


def test_turbidity_follows_the_scale() -> None:
    scale = TurbidityScale(slope=2.0, slope_std=0.1, unit="FNU", points=5)
    whole = seen(0.4, 0.5)
    reading = _reading(replace(whole, jar=replace(whole.jar, scale=scale)))
    std = np.hypot(2 * reading.std_per_m, 0.1 * reading.main_per_m)
    assert (reading.turbidity, reading.turbidity_std) == pytest.approx(
        (2 * reading.main_per_m, std)
    )
    assert reading.turbidity_unit == "FNU"


@pytest.mark.parametrize(("kept", "is_bound"), [(0.985, True), (0.95, False), (1.02, True)])
def test_what_lies_within_two_standard_errors_of_zero_is_a_bound(
    kept: float, is_bound: bool
) -> None:
    whole = seen(kept, kept)
    beam, reading = corrected(whole), _reading(whole)
    assert (reading.bound is Bound.BELOW) is is_bound is (beam.value_per_m < 2 * beam.std_per_m)
    if is_bound:
        std_per_m = np.hypot(beam.std_per_m, min(beam.value_per_m, 0))
        highest = max(beam.value_per_m, 0) + 2 * std_per_m
        assert reading.main_per_m == pytest.approx(3 * highest)
        assert reading.turbidity is None


@pytest.mark.parametrize(("std", "is_known"), [(0.0071, True), (0.0074, False)])
def test_forward_scatter_is_known_where_fine_bars_stand_out_by_five_errors(
    std: float, is_known: bool
) -> None:
    # -ln(0.963) = 0.0377, and five errors are 5 x std / 0.963: as much at a std of 0.00726
    whole = seen(0.963, 0.97, std)
    assert (_reading(whole).forward_scatter is not None) is is_known


@pytest.mark.parametrize(("main", "hidden"), [(0.01, 0.05), (-0.01, 0.04), (0.0, 0.04)])
def test_lost_bars_are_at_least_as_murky_as_the_contrast_that_may_hide(
    main: float, hidden: float
) -> None:
    lost = seen(main, 0.01, std=0.02)
    reading = _reading(lost)
    factor = usual_factor(2.0, PATH_MM, 60.0, 0.9)
    assert reading.bound is Bound.ABOVE
    assert reading.main_per_m == pytest.approx(-np.log(hidden) / PATH_M / factor * 3)
    assert reading.std_per_m == pytest.approx(0.02 / hidden / PATH_M / factor * 3)
    assert _disagreement(lost) == 0


def test_fine_bars_lost_alone_count_as_the_least_murk_that_loses_them() -> None:
    whole = seen(0.01, 0.5, std=0.02)
    assert whole.fine_alone_lost
    hidden = apparent(field(2.0, 0.05, 0.02))
    expected = correct_scatter(
        (hidden, apparent(whole.coarse)), PATH_MM, albedo_from_veil(0.2, 0.01)
    ).misfit_std
    assert _disagreement(whole) == pytest.approx(expected)
    assert expected > 1
    like = seen(0.01, 0.045, std=0.01)  # coarse bars murkier than that: no disagreement by it
    murkier = replace(apparent(field(2.0, 0.03, 0.01)), value_per_m=-np.log(0.03) / PATH_M)
    both = (murkier, apparent(like.coarse))
    assert _disagreement(like) == pytest.approx(
        correct_scatter(both, PATH_MM, albedo_from_veil(0.2, 0.01)).misfit_std
    )


def test_low_bars_give_each_channel_by_itself() -> None:
    def beam(per_m: float) -> BeamAttenuation:
        return BeamAttenuation(
            value_per_m=per_m, std_per_m=0.5, asymmetry=0.8, factor=0.9, misfit_std=1.5
        )

    low = replace(seen(0.4, 0.5), beams=(beam(10.0), beam(14.0), None))
    reading = _reading(low)
    assert reading.attenuation_rgb_per_m == (30.0, 42.0, None)
    assert (reading.main_per_m, reading.std_per_m) == pytest.approx((30.0, 1.5))
    assert _disagreement(low) == 1.5
    assert _disagreement(replace(low, beams=(None, None, None))) == 0


@pytest.mark.parametrize(
    ("kept", "tint"),
    [
        ((0.5, 0.5, 0.5), 0.0),
        ((0.5, 0.5, 0.25), 61.71),  # 1.2985 x 95.047 - 1.1335 x 108.883 / 2
        ((0.5, 0.25, 0.25), 123.42),  # over Y of 100 / 2, twice the first term less the second
    ],
)
@pytest.mark.parametrize("lamp", [(95.0, 100.0, 109.0), (110.0, 100.0, 36.0)])
def test_water_is_as_yellow_as_paper_seen_through_it_in_any_light(
    kept: tuple[float, ...], tint: float, lamp: tuple[float, ...]
) -> None:
    """ASTM E313 for D65 and 2 degrees: 100 (1.2985 X - 1.1335 Z) / Y."""
    dry = np.array(lamp)
    coarse = SimpleNamespace(wet=SimpleNamespace(white=dry * kept), dry=SimpleNamespace(white=dry))
    sight, colour = SimpleNamespace(coarse=coarse), SimpleNamespace(to_xyz=lambda light: light)
    assert _tint(cast("SightView", sight), cast("ColourModel", colour)) == pytest.approx(
        tint, abs=0.01
    )
