"""Whatever a logbook holds, a forecast gives ordered dates or refuses in words."""

from __future__ import annotations

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st

from greasecheck.model import Bound, Recipe, Verdict
from greasecheck.predict.outlook.forecasting import forecast
from greasecheck.predict.records import (
    HazeReading,
    SoakingSkull,
    TubHistory,
    WaterChange,
)
from tests.unit.predict.tubs import START, day

ahead = st.floats(0.0, 200.0)
readings = st.builds(
    HazeReading,
    at=ahead.map(day),
    attenuation_per_m=st.floats(-5.0, 1e5),
    std_per_m=st.floats(0.0, 1e3),
    bound=st.sampled_from([None, None, None, *Bound]),
    verdict=st.sampled_from(list(Verdict)),
)
changes = st.builds(
    WaterChange,
    at=ahead.map(day),
    recipe=st.sampled_from(list(Recipe)),
    temperature_c=st.none() | st.floats(0.0, 100.0),
    carry_over=st.none() | st.floats(0.0, 1.0),
)
skulls = st.builds(
    SoakingSkull,
    name=st.text(max_size=5),
    species=st.sampled_from(["deer", "bear", "mink", "yeti"]),
    since=ahead.map(day),
)


def exact(at: float, haze_per_m: float) -> HazeReading:
    """Return a reading without error."""
    return HazeReading(at=day(at), attenuation_per_m=haze_per_m, std_per_m=0.0)


@settings(deadline=None, max_examples=20)
@example(  # scatter that no size of noise explains
    reading=[exact(*one) for one in [*[(0, 0)] * 8, (8, 1966), (1, 0), (1, 0), (4, 51), (10, 65)]],
    change=[WaterChange(at=START, recipe=Recipe.SOAP, temperature_c=0.0)],
    skull=[],
    now=37.0,
)
@example(  # clear water that should have become murky
    reading=[exact(*one) for one in [*[(0, 0)] * 8, (8, 0), (1, 0), (1, 0), (39, 63), (26, 71)]],
    change=[WaterChange(at=START, recipe=Recipe.SOAP, temperature_c=0.0)],
    skull=[],
    now=126.0,
)
@given(
    reading=st.lists(readings, max_size=12),
    change=st.lists(changes, max_size=8),
    skull=st.lists(skulls, max_size=3),
    now=ahead,
)
def test_any_history_gives_ordered_dates(
    reading: list[HazeReading], change: list[WaterChange], skull: list[SoakingSkull], now: float
) -> None:
    history = TubHistory(
        skulls=(SoakingSkull(name="first", species="deer", since=START), *skull),
        changes=(WaterChange(at=START), *change),
        readings=tuple(reading),
    )
    found = forecast(history, day(now))
    days = found.dates.days
    assert not np.isnan(days).any()
    assert np.all(np.diff(days[np.isfinite(days)]) >= 0)
    assert days[0] >= 0
    assert 0 <= found.probability_clear_now <= 1
    assert np.isfinite(found.curve.median_per_m).all()
    assert np.isfinite(found.gain_now_per_m).all()
    assert len(found.skulls) == 1 + sum(entry.since <= day(now) for entry in skull)
