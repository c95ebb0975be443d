"""Known truths come back within the stated uncertainty; whole tables: tests/benchmarks."""

from __future__ import annotations

import pytest
from scipy.stats import binom

from tests.benchmarks.forecast_accuracy import (
    coverage,
    median_error,
    simulate_cases,
)
from tests.synthetic.tub_simulator import Truth

SURE = 1e-3


@pytest.mark.parametrize("truth", [Truth.PRIOR, Truth.THREE_POOLS])
def test_eighty_percent_intervals_hold_the_truth_about_as_often(truth: Truth) -> None:
    cases = simulate_cases(truth, 8, 1, ages=(30,))
    least = float(binom.ppf(SURE, len(cases), 0.8)) / len(cases)
    assert coverage(cases, 0.8) >= least
    assert coverage(cases, 0.999) >= 0.75


def test_after_two_months_the_forecast_beats_what_needs_no_model() -> None:
    cases = simulate_cases(Truth.PRIOR, 10, 1, ages=(60,))
    waiting = [case for case in cases if case.truth > case.age]
    best = min(median_error(waiting, name) for name in ("table", "line", "exponential"))
    assert median_error(waiting, "median") < best
