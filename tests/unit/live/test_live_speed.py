"""A short run of the benchmark of the live page."""

from __future__ import annotations

import pytest

from tests.benchmarks.live_page import QUICK_DAYS, QUICK_TUBS, measure


@pytest.mark.slow
def test_a_photo_is_read_within_two_seconds_and_the_list_is_there_in_half_a_second() -> None:
    answers = measure(2, QUICK_TUBS, QUICK_DAYS)
    assert answers.photo_s < 2.0
    assert answers.list_cold_s < 0.5
