"""A forecast keeps its time; the ratios over more tubs are in tests/benchmarks."""

from __future__ import annotations

from tests.benchmarks.forecast_speed import LIMIT_S, forecast_ratio

SLACK = 3.0  # a shared machine's caches and clocks; the benchmark holds the limit itself


def test_a_tub_of_180_daily_readings_is_forecast_in_time() -> None:
    seconds, ratio = forecast_ratio(3)
    assert seconds < SLACK * LIMIT_S
    assert ratio > 0
