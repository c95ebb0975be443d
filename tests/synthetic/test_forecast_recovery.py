"""Truths that the model does not share come back within the stated uncertainty, and no narrower.

Whole tables: `python -m tests.benchmarks.forecast_truths`.
"""

from __future__ import annotations

import pytest
from scipy.stats import binom

from tests.benchmarks.forecast_truths import Case, error, holds, run
from tests.synthetic.tubs.kinds import Kind

SURE = 2e-3


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    kinds = [Kind.PLAIN, Kind.PLATES, Kind.STEEP, Kind.BLOOM, Kind.MOVED_OUT]
    return run(kinds, range(8), 1, (30, 60))


def test_eighty_percent_intervals_hold_the_truth_about_as_often(cases: list[Case]) -> None:
    least = float(binom.ppf(SURE, len(cases), 0.8)) / len(cases)
    assert len(cases) > 50
    assert holds(cases, 0.8) >= least


def test_intervals_are_not_wider_than_they_say(cases: list[Case]) -> None:
    # a stated error 1.8 times too large would put 4 in 5 truths into the inner half
    most = float(binom.ppf(1 - SURE, len(cases), 0.5)) / len(cases)
    assert holds(cases, 0.5) <= most


def test_the_forecast_beats_a_decaying_exponential(cases: list[Case]) -> None:
    assert error(cases, "median") < 0.8 * error(cases, "exponential")
