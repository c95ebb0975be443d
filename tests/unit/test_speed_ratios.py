"""The command that says what became slower tells slower from alike."""

from __future__ import annotations

from tests.benchmarks.speed_ratios import last_ratios, slower


def test_what_became_slower_by_a_quarter_is_named() -> None:
    last = {"reading": 1.0, "today": 10.0}
    assert slower({"reading": 1.24, "today": 12.6, "new": 99.0}, last) == ["today"]


def test_the_kept_ratios_can_be_read_and_are_of_something() -> None:
    kept = last_ratios()
    assert len(kept) >= 10
    assert all(value > 0 for value in kept.values())
