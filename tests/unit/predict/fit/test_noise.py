"""Sizes of what readings differ by, learnt where a fit would follow what drifts."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from greasecheck.predict.fit.noise import Expected, Leeway, whiten
from greasecheck.predict.model.history import build_timeline
from greasecheck.predict.records import HazeReading, SoakingSkull, TubHistory, WaterChange

START = datetime(2026, 1, 5, tzinfo=UTC)
DAYS = np.arange(1.0, 61.0)


def test_what_a_free_slope_could_explain_still_counts_as_drift() -> None:
    """A slow wave of 30 % that a free wave of that shape explains is learnt as drift anyway."""
    wave = 10.0 * 0.3 * np.sin(DAYS / 15.0)
    history = TubHistory(
        skulls=(SoakingSkull(name="fox", species="fox", since=START),),
        changes=tuple(WaterChange(at=START + timedelta(days=day)) for day in range(0, 60, 3)),
        readings=tuple(
            HazeReading(at=START + timedelta(days=day), attenuation_per_m=value, std_per_m=0.2)
            for day, value in zip(DAYS.tolist(), (10.0 + wave).tolist(), strict=True)
        ),
    )
    seen = build_timeline(history, START + timedelta(days=61)).observations
    followed = Expected(fresh=np.full(60, 0.1), rise=9.9 + wave, bloom=np.zeros(60))
    fixed = Leeway(slopes=np.zeros((60, 1)), best=np.zeros(1))
    free = Leeway(slopes=wave[:, None], best=np.ones(1))
    assert (
        whiten(seen, followed, free).noise.drift > 1.3 * whiten(seen, followed, fixed).noise.drift
    )
