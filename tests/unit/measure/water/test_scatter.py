import numpy as np
import pytest

from greasecheck.measure.water.albedo import USUAL_ALBEDO, Albedo, albedo_from_veil
from greasecheck.measure.water.scatter import (
    ASYMMETRIES,
    ApparentAttenuation,
    bar_factor,
    correct_scatter,
    shadow_factor,
    usual_factor,
)

CLEAR_RATIO = 0.9
VEILS = ((0.346, 0.321), (0.220, 0.250), (0.122, 0.188))
MILKY = Albedo(value=USUAL_ALBEDO, std=0.02)


def apparent(
    true_per_m: float, g: float, bars: tuple[float, ...], std_per_m: float
) -> tuple[ApparentAttenuation, ...]:
    rows = []
    for bar_mm in bars:
        scatter = bar_factor(bar_mm, 60.0, np.array([g]), USUAL_ALBEDO, true_per_m)[0]
        shadow = np.interp(g, ASYMMETRIES, shadow_factor(CLEAR_RATIO))
        rows.append(
            ApparentAttenuation(
                bar_mm=bar_mm,
                clear_ratio=CLEAR_RATIO,
                value_per_m=true_per_m * float(scatter + shadow),
                std_per_m=std_per_m,
            )
        )
    return tuple(rows)


@pytest.mark.parametrize("g", [0.8, 0.9, 0.95])
@pytest.mark.parametrize("true_per_m", [5.0, 20.0, 60.0])
def test_two_widths_tell_the_scatter(true_per_m: float, g: float) -> None:
    beam = correct_scatter(apparent(true_per_m, g, (2.0, 8.0), 0.05), 60.0, MILKY)
    assert beam.value_per_m == pytest.approx(true_per_m, rel=0.05)
    assert beam.asymmetry == pytest.approx(g, abs=0.04)
    assert abs(beam.value_per_m - true_per_m) < 2 * beam.std_per_m


def test_one_width_is_less_sure() -> None:
    both = correct_scatter(apparent(20.0, 0.9, (2.0, 8.0), 0.05), 60.0, MILKY)
    coarse = correct_scatter(apparent(20.0, 0.9, (8.0,), 0.05), 60.0, MILKY)
    assert coarse.std_per_m > 2 * both.std_per_m
    assert abs(coarse.value_per_m - 20.0) < 2 * coarse.std_per_m


def test_noise_below_zero_is_kept() -> None:
    seen = (
        ApparentAttenuation(bar_mm=2.0, clear_ratio=CLEAR_RATIO, value_per_m=-0.05, std_per_m=0.07),
    )
    beam = correct_scatter(seen, 60.0, MILKY)
    assert beam.value_per_m == pytest.approx(-0.05, abs=0.02)
    assert beam.std_per_m == pytest.approx(0.07, rel=0.2)


def test_usual_factor_lies_between_the_extremes() -> None:
    extremes = bar_factor(2.0, 60.0, np.array([0.6, 0.98]), USUAL_ALBEDO, 20.0)
    unshaded = usual_factor(2.0, 60.0, 20.0, clear_ratio=0.5)
    assert extremes.min() < unshaded < extremes.max()
    assert usual_factor(2.0, 60.0, 20.0, clear_ratio=1.0) > unshaded


def test_water_that_absorbs_is_corrected_for_its_shadow() -> None:
    seen = apparent(20.0, 0.9, (2.0, 8.0), 0.05)
    milky = correct_scatter(seen, 60.0, MILKY)
    brown = correct_scatter(seen, 60.0, Albedo(value=0.7, std=0.08))
    assert brown.value_per_m < 0.9 * milky.value_per_m
    assert brown.std_per_m > milky.std_per_m


def test_veil_tells_the_albedo() -> None:
    # Veils of path-traced waters, g 0.9: bars kept 0.32, 0.25 and 0.19 of their contrast.
    values = [albedo_from_veil(veil, kept).value for veil, kept in VEILS]
    assert values == pytest.approx([0.95, 0.80, 0.60], abs=0.05)


def test_hardly_any_water_tells_no_albedo() -> None:
    assert albedo_from_veil(0.0, 0.99).value == USUAL_ALBEDO
    assert albedo_from_veil(-0.1, 1.02).value == USUAL_ALBEDO
