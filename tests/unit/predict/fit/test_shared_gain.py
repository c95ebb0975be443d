from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from greasecheck.predict.fit.noise import Expected, whiten
from greasecheck.predict.model.history import build_timeline
from greasecheck.predict.records import HazeReading, SoakingSkull, TubHistory, WaterChange

START = datetime(2026, 1, 1, tzinfo=UTC)
EXPECTED = Expected(fresh=np.ones(2), rise=np.array([3.0, 7.0]), bloom=np.zeros(2))


def covariance(log_gain_std: float, instruments: tuple[int, int] = (1, 1)) -> np.ndarray:
    readings = tuple(
        HazeReading(
            at=START + timedelta(days=day),
            attenuation_per_m=haze,
            std_per_m=0.3,
            log_gain_std=log_gain_std,
            instrument=instrument,
        )
        for day, haze, instrument in zip((1, 2), (4.0, 8.0), instruments, strict=True)
    )
    history = TubHistory(
        skulls=(SoakingSkull(name="fox", species="fox", since=START),),
        changes=(WaterChange(at=START),),
        readings=readings,
    )
    timeline = build_timeline(history, START + timedelta(days=3))
    inverse = np.linalg.inv(whiten(timeline.observations, EXPECTED).root)
    whole: np.ndarray = inverse @ inverse.T
    return whole


def test_a_shared_factor_moves_all_readings_in_proportion_to_their_haze() -> None:
    extra = covariance(0.2) - covariance(0.0)
    assert extra == pytest.approx(np.outer([0.8, 1.6], [0.8, 1.6]), rel=1e-6)


def test_each_instrument_has_a_factor_of_its_own() -> None:
    extra = covariance(0.2, (1, 2)) - covariance(0.0)
    assert extra == pytest.approx(np.diag([0.8**2, 1.6**2]), rel=1e-6, abs=1e-9)
