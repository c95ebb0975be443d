from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from greasecheck.predict.model.leaching import (
    Events,
    Network,
    bath_haze,
    decay,
    entry_weights,
    keep_bath_share,
    modes_of,
    run_events,
    to_amounts,
    to_modes,
)
from tests.unit.predict.soaks import fresh_soak_gain

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

RATES = np.array([0.01, 0.3, 6.0])
SHARES = np.array([0.6, 0.3, 0.1])
PARTITION, GREASE, KEPT = 0.7, 800.0, 0.06
GAPS = (0.0, 3.0, 2.0, 4.0, 7.0, 3.0)


def _network() -> Network:
    return Network(
        rates_per_day=RATES[:, None], shares=SHARES[:, None], partition=np.array([PARTITION])
    )


def _slope(_: float, state: FloatArray) -> FloatArray:
    flow = RATES * (state[:-1] - SHARES * state[-1] / PARTITION)
    slope: FloatArray = np.append(-flow, flow.sum())
    return slope


def _by_ode() -> list[FloatArray]:
    """Integrate the stiff equations with an implicit solver, changing water between spans."""
    state, states = np.append(GREASE * SHARES, 0.0), []
    for gap in GAPS:
        if gap:
            found = solve_ivp(_slope, (0.0, gap), state, method="Radau", rtol=1e-12, atol=1e-12)
            state = found.y[:, -1].copy()
            state[-1] *= KEPT
        states.append(state.copy())
    return states


def test_closed_form_equals_a_stiff_solver_through_changes() -> None:
    modes = modes_of(_network())
    events = Events(
        gaps_days=np.array(GAPS)[:, None],
        kept=np.full((len(GAPS), 1), KEPT),
        enters=np.arange(len(GAPS))[:, None] == 0,
        leaves=np.zeros((len(GAPS), 1), dtype=bool),
    )
    after = run_events(modes, events, GREASE * SHARES[None, :, None])
    for weights, state in zip(after, _by_ode(), strict=True):
        assert to_amounts(modes, weights)[:, 0] == pytest.approx(state, rel=1e-8, abs=1e-8)


def test_fresh_soak_gain_is_what_a_bath_gains_from_clean() -> None:
    modes = modes_of(_network())
    weights = entry_weights(modes, GREASE * SHARES[:, None]) * decay(modes, np.array([[5.0]]))[0]
    clean = keep_bath_share(modes, weights, 0.0)
    assert bath_haze(modes, clean)[0] == pytest.approx(0.0, abs=1e-10)
    soaked = clean * decay(modes, np.array([[3.0]]))[0]
    gain = fresh_soak_gain(modes, weights, 3.0)[0]
    assert gain == pytest.approx(bath_haze(modes, soaked)[0], rel=1e-12)
    assert gain > 0


def test_a_change_touches_only_the_bath() -> None:
    modes = modes_of(_network())
    weights = to_modes(modes, np.array([[5.0], [4.0], [3.0], [2.0]]))
    kept = to_amounts(modes, keep_bath_share(modes, weights, 0.25))[:, 0]
    assert kept == pytest.approx([5.0, 4.0, 3.0, 0.5], rel=1e-12)


def test_a_bath_left_alone_reaches_the_partition() -> None:
    modes = modes_of(_network())
    weights = entry_weights(modes, GREASE * SHARES[:, None])
    still = to_amounts(modes, weights * decay(modes, np.array([[1e5]]))[0])[:, 0]
    assert still[-1] / still[:-1].sum() == pytest.approx(PARTITION, rel=1e-9)
    assert still[:-1] / still[:-1].sum() == pytest.approx(SHARES, rel=1e-9)


def test_picked_draws_are_those_of_their_own_networks() -> None:
    rates = np.tile(RATES[:, None], 6) * np.arange(1, 7, dtype=np.float64)
    shares = np.tile(SHARES[:, None], 6)
    network = Network(rates_per_day=rates, shares=shares, partition=np.full(6, PARTITION))
    thin = modes_of(network).picked(np.array([3, 0, 3]))
    again = modes_of(network.picked(np.array([3, 0, 3])))
    assert thin.decay_per_day == pytest.approx(again.decay_per_day)
    assert thin.scale.shape[0] == 4


def test_a_skull_that_leaves_takes_its_own_grease_and_leaves_the_bath() -> None:
    pools = np.array([0.02, 0.02])
    network = Network(
        rates_per_day=pools[:, None], shares=np.full((2, 1), 0.5), partition=np.array([1.0])
    )
    modes = modes_of(network)
    events = Events(
        gaps_days=np.array([[0.0], [0.0], [10.0]]),
        kept=np.ones((3, 1)),
        enters=np.array([[True, False], [False, True], [False, False]]),
        leaves=np.array([[False, False], [False, False], [False, True]]),
    )
    after = run_events(modes, events, np.array([[[100.0]], [[300.0]]]))
    before, last = (to_amounts(modes, after[n])[:, 0] for n in (1, 2))
    assert before == pytest.approx([100.0, 300.0, 0.0])
    assert last[1] == pytest.approx(0.0, abs=1e-9)
    assert 70 < last[0] < 100
    assert 30 < last[2] < 80
