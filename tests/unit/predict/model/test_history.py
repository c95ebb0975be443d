from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest

from greasecheck.errors import ForecastError
from greasecheck.model import Bound, Recipe, Verdict
from greasecheck.predict.model.history import build_timeline
from greasecheck.predict.model.timeline import USUAL_INTERVAL_DAYS
from greasecheck.predict.records import (
    HazeReading,
    SoakingSkull,
    TemperatureRecord,
    TubHistory,
    WaterChange,
)
from tests.unit.predict.tubs import START, day, fading_tub, reading

SKULL = SoakingSkull(name="buck", species="deer", since=START)
FILLING = WaterChange(at=START, temperature_c=40.0)


def test_days_under_each_condition_add_up() -> None:
    history = TubHistory(
        skulls=(SKULL,),
        changes=(FILLING, WaterChange(at=day(3), recipe=Recipe.AMMONIA, temperature_c=35.0)),
        readings=(reading(5.0, 9.0),),
        temperatures=(TemperatureRecord(at=day(1), temperature_c=31.0),),
    )
    timeline = build_timeline(history, day(6))
    conditions = timeline.calendar.steps.conditions
    assert [c.temperature_c for c in conditions] == [40.0, 31.0, 35.0]
    assert timeline.gaps_days[-1].tolist() == [1.0, 2.0, 0.0]
    assert timeline.now.exposure_days[0].tolist() == [0.0, 0.0, 3.0]
    assert timeline.observations.moments.exposure_days[0].tolist() == [0.0, 0.0, 2.0]
    assert timeline.calendar.recipes == (Recipe.SOAP, Recipe.AMMONIA)
    assert timeline.observations.moments.recipe.tolist() == [1]
    assert timeline.usual == 2


def test_a_reading_at_the_minute_of_a_change_is_of_the_old_water() -> None:
    history = TubHistory(
        skulls=(SKULL,),
        changes=(FILLING, WaterChange(at=day(3))),
        readings=(reading(3.0, 9.0), reading(3.01, 2.0)),
    )
    moments = build_timeline(history, day(4)).observations.moments
    assert moments.exposure_days[:, 0] == pytest.approx([3.0, 0.01])


def test_refused_early_and_future_readings_are_left_out_and_counted() -> None:
    readings = (
        reading(-1.0, 5.0),
        reading(1.0, 9.0),
        replace(reading(2.0, 9.0), verdict=Verdict.REFUSED),
        reading(9.0, 9.0),
    )
    history = TubHistory(skulls=(SKULL,), changes=(FILLING,), readings=readings)
    timeline = build_timeline(history, day(5))
    assert len(timeline.observations.haze_per_m) == 1
    assert timeline.left_out == 3


def test_doubtful_readings_weigh_less_and_bounds_are_marked() -> None:
    readings = (
        replace(reading(1.0, 9.0, 0.5), verdict=Verdict.DOUBTFUL),
        replace(reading(2.0, 70.0), bound=Bound.ABOVE),
        replace(reading(2.5, 0.3), bound=Bound.BELOW),
    )
    history = TubHistory(skulls=(SKULL,), changes=(FILLING,), readings=readings)
    seen = build_timeline(history, day(5)).observations
    assert seen.std_per_m[0] == pytest.approx(1.5)
    assert seen.above.tolist() == [False, True, False]
    assert seen.below.tolist() == [False, False, True]


def test_a_second_skull_brings_its_grease_when_it_goes_in() -> None:
    later = SoakingSkull(name="doe", species="deer", since=day(4))
    history = TubHistory(skulls=(SKULL, later), changes=(FILLING, WaterChange(at=day(3))))
    calendar = build_timeline(history, day(6)).calendar
    assert calendar.event_days.tolist() == [0.0, 0.0, 3.0, 4.0]
    assert calendar.enters.tolist() == [
        [False, False],
        [True, False],
        [False, False],
        [False, True],
    ]
    assert not calendar.leaves.any()
    assert calendar.changed.tolist() == [True, False, True, False]
    assert build_timeline(history, day(3.5)).calendar.enters.shape == (3, 1)


def test_the_story_starts_with_the_first_skull_not_with_older_water() -> None:
    changes = tuple(WaterChange(at=day(d)) for d in (-9, -3, 2))
    calendar = build_timeline(TubHistory(skulls=(SKULL,), changes=changes), day(4)).calendar
    assert calendar.origin == START
    assert calendar.event_days[calendar.changed].tolist() == [0.0, 2.0]
    assert calendar.usual_interval_days() == 2.0
    alone = build_timeline(TubHistory(skulls=(SKULL,), changes=changes[:1]), day(4)).calendar
    assert alone.usual_interval_days() == USUAL_INTERVAL_DAYS


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"changes": ()}, "never filled"),
        ({"skulls": ()}, "no skull"),
        ({"changes": (WaterChange(at=START, temperature_c=400.0),)}, "400 degrees"),
        ({"changes": (WaterChange(at=START, carry_over=5.0),)}, "carry-over"),
        ({"temperatures": (TemperatureRecord(at=START, temperature_c=-40.0),)}, "-40 degrees"),
        ({"readings": (reading(1.0, float("nan")),)}, "not a number"),
        ({"readings": (reading(1.0, 5.0, -1.0),)}, "not a number"),
        ({"readings": (replace(reading(1.0, 5.0), log_gain_std=np.nan),)}, "not a number"),
        ({"volume_l": 0.0}, "cannot hold 0 litres"),
        ({"volume_l": np.nan}, "cannot hold nan litres"),
        (
            {
                "readings": (
                    HazeReading(
                        at=datetime(2026, 1, 6),  # noqa: DTZ001 - the very fault tested
                        attenuation_per_m=5.0,
                        std_per_m=0.1,
                    ),
                )
            },
            "time zone",
        ),
    ],
)
def test_impossible_histories_are_refused_in_words(change: dict[str, object], problem: str) -> None:
    history = replace(fading_tub(6), **change)  # type: ignore[arg-type]
    with pytest.raises(ForecastError, match=problem) as caught:
        build_timeline(history, day(5))
    assert caught.value.hint


def test_order_within_the_history_does_not_matter() -> None:
    history = fading_tub(9)
    turned = replace(history, changes=history.changes[::-1], readings=history.readings[::-1])
    one, two = build_timeline(history, day(9)), build_timeline(turned, day(9))
    assert np.array_equal(one.gaps_days, two.gaps_days)
    assert np.array_equal(one.observations.haze_per_m, two.observations.haze_per_m)
