"""The quick version of tests/benchmarks/stalled_alarm.py."""

from __future__ import annotations

from tests.benchmarks.stalled_alarm import (
    FIRST_SEED,
    alarms_per_100_days,
    found_within,
    search_failure,
    watch_tub,
)


def test_a_cold_heater_is_found_within_four_readings() -> None:
    searches = [search_failure(seed) for seed in range(FIRST_SEED, FIRST_SEED + 3)]
    found = [search for search in searches if search is not None]
    assert len(found) == 3
    assert found_within(found, 4) > 0.5


def test_a_sound_tub_raises_no_alarm() -> None:
    watch = watch_tub(FIRST_SEED, 20)
    assert watch.readings > 10
    assert alarms_per_100_days([watch]) == 0.0
