import numpy as np
import pytest
from scipy.integrate import trapezoid

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


def test_the_jar_s_shadow_adds_what_comes_through_it() -> None:
    # 1.65 (1 - 0.65 / 0.9) (1 - 0.95 g) at g = 0.60 and 0.98; none where all comes past the jar
    assert shadow_factor(0.9)[[0, -1]] == pytest.approx([0.197083, 0.031625], abs=1e-6)
    assert shadow_factor(0.6).max() == 0
    assert ASYMMETRIES[[0, -1]].tolist() == [0.60, 0.98]


def test_the_water_begins_behind_gap_and_wall() -> None:
    # 2 mm of air and 2.5 mm of acrylic, n 1.49, as lengths in water: 2.666 + 2.2366 mm
    g = np.array([0.8, 0.95])
    assert bar_factor(2.0, 60.0, g, 0.95, 20.0) == pytest.approx(
        bar_factor(2.0, 60.0, g, 0.95, 20.0, standoff_mm=4.90258), abs=1e-6
    )


def factor_of(bar_mm: float, g: float, albedo: float, per_m: float) -> float:
    """The factor with light through the jar and absorption, by the module's description."""
    scatter = float(bar_factor(bar_mm, 60.0, np.array([g]), albedo, per_m)[0])
    shadow = 1.65 * (1 - 0.65 / CLEAR_RATIO) * (1 - 0.95 * g)
    return scatter + shadow + 1.22 * (0.95 - albedo)


def test_the_answer_averages_over_the_asymmetry_by_its_weight() -> None:
    """A second derivation, one asymmetry after the other."""
    albedo = Albedo(value=0.8, std=0.05)
    seen = tuple(
        ApparentAttenuation(bar_mm=bar, clear_ratio=CLEAR_RATIO, value_per_m=value, std_per_m=std)
        for bar, value, std in ((2.0, 24.0, 0.4), (8.0, 19.0, 0.3))
    )
    weights, values, variances, firsts, misfits = [], [], [], [], []
    for g in ASYMMETRIES:
        factors = np.array([factor_of(one.bar_mm, g, albedo.value, 24.0) for one in seen])
        value = np.array([one.value_per_m for one in seen])
        noise = np.array([one.std_per_m for one in seen])
        variance = noise**2 + (value * 0.02) ** 2 + (value * 0.02 / factors) ** 2
        best = np.sum(factors * value / variance) / np.sum(factors**2 / variance)
        chi2 = np.sum((value - factors * best) ** 2 / variance)
        weights.append(np.exp(-chi2 / 2 - ((g - 0.88) / 0.06) ** 2 / 2))
        values.append(best)
        variances.append(1 / np.sum(factors**2 / variance))
        firsts.append(factors[0])
        misfits.append(chi2)
    share = np.array(weights) / np.sum(weights)
    mean = float(share @ values)
    within = share @ (np.array(variances) + (np.array(values) - mean) ** 2)
    absorbed = 1.22 * 0.05 * mean / float(share @ firsts)
    beam = correct_scatter(seen, 60.0, albedo)
    assert beam.value_per_m == pytest.approx(mean, rel=1e-9)
    assert beam.std_per_m == pytest.approx(np.sqrt(within + absorbed**2), rel=1e-9)
    assert beam.asymmetry == pytest.approx(share @ ASYMMETRIES, rel=1e-9)
    assert beam.factor == pytest.approx(share @ firsts, rel=1e-9)
    assert beam.misfit_std == pytest.approx(np.sqrt(min(misfits)), rel=1e-9)


def test_the_usual_factor_is_that_of_the_usual_asymmetry() -> None:
    expected = factor_of(2.0, 0.88, 0.95, 60.0)
    assert usual_factor(2.0, 60.0, 60.0, CLEAR_RATIO) == pytest.approx(expected, abs=1e-6)


def test_a_single_sine_loses_contrast_by_wells_law() -> None:
    """At 1 per m and less all harmonics count; the square wave's own sum is their mean loss."""
    g, albedo, bar, per_m = 0.9, 0.95, 2.0, 0.5
    alpha = (1 - g) / np.sqrt(g)
    harmonics = np.arange(1, 16, 2)
    z = np.linspace(4.90258, 64.90258, 20001)
    kept = np.array(
        [trapezoid(np.exp(-2 * np.pi * alpha * n / (2 * bar) * z), z) / 60 for n in harmonics]
    )
    sign = np.array([1, -1] * 4)
    mean_of_half = np.sin(np.pi * harmonics / 4) / (np.pi * harmonics / 4)
    weight = sign / harmonics * mean_of_half
    contrast = np.exp(-per_m * 0.06 * (1 - albedo * kept)) @ weight / weight.sum()
    expected = -np.log(contrast) / (per_m * 0.06)
    found = bar_factor(bar, 60.0, np.array([g]), albedo, per_m)[0]
    assert found == pytest.approx(expected, rel=1e-6)
