"""How the pace changes with the days soaked, against the law of release integrated step by step."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from greasecheck.predict.model.tempo import Tempo, hastened, lagged

DONE_DAYS = 80.0


def left_after(days: float, evenness: float) -> float:
    """Return the share left by the clock of a first-order release that is at a tenth when done."""
    counted = hastened(np.array([days]), np.array([evenness]), np.array([DONE_DAYS]))
    return float(np.exp(-np.log(10) * counted[0] / DONE_DAYS))


@pytest.mark.parametrize("order", [0.0, 1 / 3, 2 / 3, 0.999])
def test_a_release_of_an_order_is_that_of_its_equation(order: float) -> None:
    rate = (1 - 0.1 ** (1 - order)) / (1 - order) / DONE_DAYS
    solved = solve_ivp(
        lambda _, left: -rate * left**order,
        (0.0, DONE_DAYS),
        [1.0],
        dense_output=True,
        rtol=1e-10,
        atol=1e-12,
    )
    for days in (5.0, 30.0, 60.0, DONE_DAYS):
        assert left_after(days, 1 - order) == pytest.approx(float(solved.sol(days)[0]), rel=1e-6)


def test_the_first_order_goes_by_the_calendar() -> None:
    assert left_after(40.0, 0.0) == pytest.approx(10**-0.5)


@pytest.mark.parametrize("evenness", [0.2, 1.0])
def test_what_is_held_at_a_tenth_leaves_in_proportion_at_the_pace_reached(evenness: float) -> None:
    before, at, later, last = (left_after(DONE_DAYS + h, evenness) for h in (-0.01, 0, 0.01, 0.02))
    assert at == pytest.approx(0.1)
    assert np.log(at / later) == pytest.approx(np.log(before / at), rel=1e-2)
    assert np.log(later / last) == pytest.approx(np.log(at / later), rel=1e-6)


def test_leaching_awakes_before_it_goes_by_its_order() -> None:
    tempo = Tempo(
        lag_days=np.array([4.0, 0.0]),
        evenness=np.array([0.0, 0.6]),
        done_days=np.array([DONE_DAYS, DONE_DAYS]),
    )
    soaked = np.array([[2.0, 30.0]])
    assert lagged(np.array([3.0]), np.array([0.0])) == pytest.approx([3.0])
    assert tempo.counted(soaked)[0] == pytest.approx(
        [
            2 + 4 * np.expm1(-0.5),
            hastened(np.array([30.0]), np.full(1, 0.6), np.full(1, DONE_DAYS))[0],
        ]
    )
    assert tempo.picked(np.array([0])).counted(soaked[:, :1]) == pytest.approx(
        tempo.counted(soaked)[:, :1]
    )
