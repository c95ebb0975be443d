from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.predict.model import projection
from greasecheck.predict.model.leaching import (
    Modes,
    Network,
    decay,
    entry_weights,
    keep_bath_share,
    modes_of,
    to_amounts,
)
from greasecheck.predict.model.projection import (
    Decline,
    Routine,
    changes_until,
    crossing_share,
    cycle_of,
    days_since_below,
    days_until_below,
    decline_of,
    gain_row,
    grease_row,
    value_of,
    weights_after_changes,
)
from tests.unit.predict.soaks import fresh_soak_gain

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

DRAWS = 3
SOAK = np.full(DRAWS, 3.0)


def _modes_and_state() -> tuple[Modes, FloatArray]:
    network = Network(
        rates_per_day=np.array([[0.02, 0.03, 0.05], [0.3, 0.2, 0.9]]),
        shares=np.array([[0.7, 0.5, 0.9], [0.3, 0.5, 0.1]]),
        partition=np.array([0.5, 2.0, 0.2]),
    )
    modes = modes_of(network)
    return modes, entry_weights(modes, 600.0 * network.shares)


def _routine(first: float, interval: float) -> Routine:
    return Routine(
        first_days=first,
        interval_days=interval,
        first_pace=np.ones(DRAWS),
        pace=np.ones(DRAWS),
        kept=np.array([0.0, 0.05, 0.3]),
    )


def test_the_power_of_a_soak_and_change_equals_doing_them_one_by_one() -> None:
    modes, weights = _modes_and_state()
    routine = _routine(0.0, 4.0)
    rows = [gain_row(modes, SOAK), grease_row(modes, slice(0, 2))]
    cycle = cycle_of(modes, routine)
    declines = [decline_of(cycle, weights, row) for row in rows]
    states = weights_after_changes(cycle, weights, np.arange(12.0))
    for changes in range(12):
        assert states[changes] == pytest.approx(weights, rel=1e-7, abs=1e-4)
        gain = fresh_soak_gain(modes, weights, SOAK)
        left = to_amounts(modes, weights)[:2].sum(axis=0)
        for decline, value in zip(declines, (gain, left), strict=True):
            found = decline.value(np.full(DRAWS, float(changes)))
            assert found == pytest.approx(value, rel=1e-7)
        soaked = weights * decay(modes, np.full((1, DRAWS), 4.0))[0]
        weights = keep_bath_share(modes, soaked, routine.kept)


def test_clear_day_is_where_the_stepped_gain_crosses() -> None:
    modes, weights = _modes_and_state()
    routine = _routine(2.0, 3.0)
    cycle, row = cycle_of(modes, routine), gain_row(modes, SOAK)
    found = days_until_below(modes, cycle, weights, routine, row, np.full(DRAWS, 3.0))
    for draw in range(DRAWS):
        state, before, day = weights, np.inf, 0.0
        while True:
            gain = float(fresh_soak_gain(modes, state, SOAK)[draw])
            if gain < 3.0:
                break
            before, step = day, 2.0 if day == 0.0 else 3.0
            soaked = state * decay(modes, np.full((1, DRAWS), step))[0]
            state, day = keep_bath_share(modes, soaked, routine.kept), day + step
        assert before <= found[draw] <= day


def test_a_tub_that_changes_too_seldom_to_clear_never_does() -> None:
    modes, weights = _modes_and_state()
    hoard = Routine(
        first_days=1.0,
        interval_days=3.0,
        first_pace=np.ones(DRAWS),
        pace=np.ones(DRAWS),
        kept=np.ones(DRAWS),
    )
    cycle, row = cycle_of(modes, hoard), gain_row(modes, SOAK)
    found = days_until_below(modes, cycle, weights, hoard, row, np.full(DRAWS, 3.0))
    assert np.all(np.isinf(found))


def test_crossing_lies_on_an_exponential() -> None:
    share = crossing_share(np.array([12.0]), np.array([0.75]), np.array([3.0]))
    assert share == pytest.approx([0.5])
    assert crossing_share(np.array([0.0]), np.array([0.0]), np.array([3.0])).tolist() == [0.0]


def test_a_rise_by_a_new_skull_counts_from_the_last_fall() -> None:
    gains = np.array([[8.0], [2.0], [9.0], [1.0]])
    found = days_since_below(np.array([0.0, 10.0, 20.0, 30.0]), gains, np.array([3.0]))
    assert found == pytest.approx([20.0 + 10.0 * np.log(3.0) / np.log(9.0)])
    only = days_since_below(np.array([0.0]), np.array([[5.0, 1.0]]), np.full(2, 3.0))
    assert only.tolist() == [np.inf, 0.0]


def test_what_the_bath_holds_counts_in_no_quantity() -> None:
    modes, weights = _modes_and_state()
    soaked = weights * decay(modes, np.full((1, DRAWS), 4.0))[0]
    fresh = keep_bath_share(modes, soaked, 0.0)
    for row in (gain_row(modes, SOAK), grease_row(modes, slice(0, 2))):
        assert value_of(row, soaked) == pytest.approx(value_of(row, fresh), rel=1e-9)


def test_newton_steps_need_few_rounds(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(projection, "MOST_STEPS", 9)  # halving alone leaves 2^-9 of 1000 changes
    decline = Decline(
        sizes=np.array([[9.0, 6.0, 1.0], [1.0, 4.0, 9.0]]),
        rates=np.array([[0.5, 0.3, 2.0], [0.05, 0.02, 0.01]]),
    )
    changes = changes_until(decline, np.array([0.5, 0.5, 0.5]), 1000.0)
    assert decline.value(changes) == pytest.approx([0.5, 0.5, 0.5], rel=1e-6)
