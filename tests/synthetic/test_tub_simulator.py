"""The simulator itself: it must be right in ways that the fitted model cannot vouch for."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.linalg import expm

from sample_images.leaching import SHEET, SPHERE, diffusion_system, pool_system
from tests.synthetic.tub_simulator import (
    START,
    Habits,
    Truth,
    draw_bone,
    simulate_tub,
)


@pytest.mark.parametrize("truth", [Truth.TWO_POOLS, Truth.THREE_POOLS, Truth.SHEET, Truth.SPHERE])
def test_simulated_bones_keep_all_their_grease(truth: Truth) -> None:
    bone = draw_bone(np.random.default_rng(3), truth, "deer")
    assert bone.matrix_per_day.sum(axis=0) == pytest.approx(
        np.zeros(len(bone.start_per_m)), abs=1e-9 * np.abs(bone.matrix_per_day).max()
    )
    later = expm(bone.matrix_per_day * 40.0) @ bone.start_per_m
    # 1e-6: squaring the matrix exponential some 25 times costs that many digits
    assert later.sum() == pytest.approx(bone.start_per_m.sum(), rel=1e-6)
    assert np.all(later >= -1e-6)


@pytest.mark.parametrize("dimensions", [SHEET, SPHERE])
def test_shells_lose_what_crank_says_into_endless_water(dimensions: int) -> None:
    # Crank 1975, eq. 4.20 and 6.22, leading terms at short times (from memory)
    bone = diffusion_system(dimensions, 1.0, 1.0, 1e9)
    s = 0.01
    gone = (expm(bone.matrix_per_day * s) @ bone.start_per_m)[-1]
    crank = 2 * dimensions * np.sqrt(s / np.pi) - (0.0 if dimensions == SHEET else 3 * s)
    assert gone == pytest.approx(crank, rel=0.005)  # 60 shells


def test_pools_by_hand() -> None:
    # one pool, endless bath: 100 (1 - exp(-0.1 x 3)) = 25.918
    bone = pool_system(np.array([0.1]), np.array([100.0]), 1e12)
    assert (expm(bone.matrix_per_day * 3.0) @ bone.start_per_m)[-1] == pytest.approx(
        25.918, abs=0.0005
    )


def test_a_tub_without_faults_has_a_reading_a_day() -> None:
    tub = simulate_tub(
        np.random.default_rng(8),
        Truth.ONE_POOL,
        Habits(
            reading_probability=1.0,
            outlier_probability=0.0,
            missed_log_probability=0.0,
            heater_failure_probability=0.0,
        ),
    )
    assert 5.0 < tub.clear_days < 1200.0
    assert tub.unlogged_days == ()
    assert len(tub.history.readings) == pytest.approx(
        min(max(tub.clear_days, 90.0), 400.0), abs=2.0
    )


def test_the_same_seed_gives_the_same_tub_and_another_another() -> None:
    one, same, other = (simulate_tub(np.random.default_rng(s)) for s in (1, 1, 2))
    assert one == same
    assert one.history != other.history


def test_faults_happen_as_often_as_asked() -> None:
    generator = np.random.default_rng(4)
    habits = Habits(
        reading_probability=0.5,
        missed_log_probability=0.3,
        heater_failure_probability=1.0,
        most_days=100,
    )
    tubs = [simulate_tub(generator, Truth.ONE_POOL, habits) for _ in range(6)]
    assert all(tub.history.temperatures for tub in tubs)
    assert sum(len(tub.unlogged_days) for tub in tubs) > 10
    assert all(reading.at > START for tub in tubs for reading in tub.history.readings)
