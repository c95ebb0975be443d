from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greasecheck.errors import DataFileError, WaterError
from greasecheck.measure.turbidity import (
    ROUGH_SCALE,
    Dilution,
    fit_scale,
    scale_from_json,
    scale_to_json,
)

STEPS = (0.0, 5.0, 10.0, 20.0, 40.0)


def series(slope: float, bend: float = 0.0, noise: float = 0.0) -> list[Dilution]:
    rng = np.random.default_rng(4)
    return [
        Dilution(
            turbidity=known,
            turbidity_std=0.02 * known,
            attenuation_per_m=known / slope + bend * known**2 + noise * rng.normal(),
            std_per_m=0.1 + 0.02 * known / slope,
        )
        for known in STEPS
    ]


def test_exact_line_is_found() -> None:
    scale = fit_scale(series(1.7), "FNU")
    assert scale.slope == pytest.approx(1.7, rel=1e-9)
    assert (scale.unit, scale.points) == ("FNU", 5)


def test_stated_error_covers_the_noise() -> None:
    scale = fit_scale(series(1.7, noise=0.1), "FNU")
    assert abs(scale.slope - 1.7) < 2 * scale.slope_std < 0.2


def test_once_steps_scatter_beyond_their_errors_the_scatter_alone_tells_the_slope_s() -> None:
    scattered = series(1.7, noise=0.35)
    surer = [
        replace(step, turbidity_std=step.turbidity_std / 1.5, std_per_m=step.std_per_m / 1.5)
        for step in scattered
    ]
    one, other = fit_scale(scattered, "FNU"), fit_scale(surer, "FNU")
    assert other.slope_std == pytest.approx(one.slope_std, rel=1e-6)
    assert one.slope_std > 1.2 * fit_scale(series(1.7), "FNU").slope_std


def test_turbidity_carries_both_errors() -> None:
    scale = fit_scale(series(2.0), "FNU")
    small, large = scale.turbidity(1.0, 0.1), scale.turbidity(30.0, 0.1)
    assert small.value == pytest.approx(2.0)
    assert small.std == pytest.approx(np.hypot(0.2, scale.slope_std))
    assert large.std > small.std


def test_curved_series_is_refused() -> None:
    with pytest.raises(WaterError, match="straight line"):
        fit_scale(series(1.7, bend=0.02), "FNU")


@pytest.mark.parametrize(("errors_off", "is_refused"), [(2.9, False), (3.1, True)])
def test_steps_three_errors_off_their_line_are_no_line(
    errors_off: float, *, is_refused: bool
) -> None:
    """Three steps of one attenuation, two of them off by k errors: chi square 2 k^2 of 2 freedoms.

    The line goes through their middle.
    """
    off = [
        Dilution(
            turbidity=10 + side * errors_off, turbidity_std=1, attenuation_per_m=5, std_per_m=0
        )
        for side in (-1, 0, 1)
    ]
    if is_refused:
        with pytest.raises(WaterError, match=r"off by 3\.1 times their errors"):
            fit_scale(off, "FNU")
    else:
        assert fit_scale(off, "FNU").slope == pytest.approx(2.0)


def test_three_steps_of_two_turbidities_are_too_few() -> None:
    steps = series(1.7)
    with pytest.raises(WaterError, match="at least 3 different steps"):
        fit_scale([steps[1], steps[2], steps[2]], "FNU")


def test_too_few_steps_are_refused() -> None:
    with pytest.raises(WaterError, match="at least 3"):
        fit_scale(series(1.7)[:2], "FNU")


@settings(deadline=None, max_examples=30)
@given(st.floats(0.01, 100))
def test_json_round_trip(slope: float) -> None:
    scale = fit_scale(series(slope), "FNU")
    assert scale_from_json(scale_to_json(scale), "x") == scale


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"kind": "x", "schema": 1}', "no json"])
def test_other_files_are_refused(text: str) -> None:
    with pytest.raises(DataFileError, match=r"scale\.json"):
        scale_from_json(text, "scale.json")


def test_rough_scale_is_marked() -> None:
    assert "rough" in ROUGH_SCALE.unit
    assert ROUGH_SCALE.turbidity(10.0, 0.0).std == pytest.approx(5.0)
