import numpy as np
import pytest

from greasecheck.measure.scatter import (
    ALBEDO,
    ASYMMETRIES,
    ApparentAttenuation,
    bar_factor,
    correct_scatter,
    shadow_factor,
    usual_factor,
)

CLEAR_RATIO = 0.9


def apparent(
    true_per_m: float, g: float, bars: tuple[float, ...], std_per_m: float
) -> tuple[ApparentAttenuation, ...]:
    rows = []
    for bar_mm in bars:
        scatter = bar_factor(bar_mm, 60.0, np.array([g]), ALBEDO, true_per_m)[0]
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
    beam = correct_scatter(apparent(true_per_m, g, (2.0, 8.0), 0.05), 60.0)
    assert beam.value_per_m == pytest.approx(true_per_m, rel=0.05)
    assert beam.asymmetry == pytest.approx(g, abs=0.04)
    assert abs(beam.value_per_m - true_per_m) < 2 * beam.std_per_m


def test_one_width_is_less_sure() -> None:
    both = correct_scatter(apparent(20.0, 0.9, (2.0, 8.0), 0.05), 60.0)
    coarse = correct_scatter(apparent(20.0, 0.9, (8.0,), 0.05), 60.0)
    assert coarse.std_per_m > 2 * both.std_per_m
    assert abs(coarse.value_per_m - 20.0) < 2 * coarse.std_per_m


def test_noise_below_zero_is_kept() -> None:
    seen = (
        ApparentAttenuation(bar_mm=2.0, clear_ratio=CLEAR_RATIO, value_per_m=-0.05, std_per_m=0.07),
    )
    beam = correct_scatter(seen, 60.0)
    assert beam.value_per_m == pytest.approx(-0.05, abs=0.02)
    assert beam.std_per_m == pytest.approx(0.07, rel=0.2)


def test_usual_factor_lies_between_the_extremes() -> None:
    extremes = bar_factor(2.0, 60.0, np.array([0.6, 0.99]), ALBEDO, 20.0)
    unshaded = usual_factor(2.0, 60.0, 20.0, clear_ratio=0.5)
    assert extremes.min() < unshaded < extremes.max()
    assert usual_factor(2.0, 60.0, 20.0, clear_ratio=1.0) > unshaded
