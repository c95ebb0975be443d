"""Turns a tub's history into a timeline."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import ForecastError
from greasecheck.model import Bound, Verdict
from greasecheck.predict.model.arrhenius import REFERENCE_C
from greasecheck.predict.model.timeline import Calendar, Condition, Observations, Steps, Timeline
from greasecheck.predict.records import SECONDS_PER_DAY, require_zone

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.predict.records import (
        HazeReading,
        SoakingSkull,
        TubHistory,
        WaterChange,
    )

DOUBTFUL_STD_RATIO = 3.0
COLDEST_C, HOTTEST_C = 0.0, 100.0
MOST_EVENTS = 2000  # more than one a day for five years; the state after each is kept in memory


@dataclass(frozen=True, slots=True, kw_only=True)
class _Event:
    days: float
    changed: bool
    carry_over: float
    load: float


def build_timeline(history: TubHistory, now: datetime) -> Timeline:
    """Return the arrays of `history` as known at `now`.

    Raises
    ------
    ForecastError
        For a tub without a skull or a filling, a time without a zone, or an impossible value.
    """
    _check(history, now)
    calendar = _calendar(history, now)
    used = sorted(
        (
            reading
            for reading in history.readings
            if calendar.origin < reading.at <= now and reading.verdict is not Verdict.REFUSED
        ),
        key=lambda reading: (reading.at, reading.attenuation_per_m),
    )
    days = calendar.event_days
    return Timeline(
        calendar=calendar,
        gaps_days=calendar.steps.exposure(np.append(days[:1], days[:-1]), days),
        now=calendar.moments(np.array([calendar.now_days]), after=True),
        observations=_observations(used, calendar),
        left_out=len(history.readings) - len(used),
    )


def _check(history: TubHistory, now: datetime) -> None:
    require_zone(now, "the forecast's 'now'")
    for skull in history.skulls:
        require_zone(skull.since, f"the entry of {skull.name}")
    for change in history.changes:
        require_zone(change.at, "a water change")
        check_temperature(change.temperature_c)
        if change.carry_over is not None and not 0 <= change.carry_over <= 1:
            raise ForecastError("a carry-over lies outside 0 to 1", hint="give it as a share")
    for record in history.temperatures:
        require_zone(record.at, "a temperature")
        check_temperature(record.temperature_c)
    for reading in history.readings:
        _check_reading(reading)


def check_temperature(temperature_c: float | None) -> None:
    """Refuse a temperature that no bath has.

    Raises
    ------
    ForecastError
        When it lies outside 0 to 100 degrees C.
    """
    if temperature_c is not None and not COLDEST_C <= temperature_c <= HOTTEST_C:
        raise ForecastError(
            f"a bath cannot be at {temperature_c:g} degrees C",
            hint="give temperatures in degrees Celsius, 0 to 100",
        )


def _check_reading(reading: HazeReading) -> None:
    require_zone(reading.at, "a reading")
    whole = np.isfinite(reading.attenuation_per_m) and np.isfinite(reading.std_per_m)
    if not (whole and reading.std_per_m >= 0):
        raise ForecastError(
            f"the reading of {reading.at:%Y-%m-%d %H:%M} is not a number with a standard error",
            hint="correct it, or mark it as refused",
        )


def _calendar(history: TubHistory, now: datetime) -> Calendar:
    changes = sorted((c for c in history.changes if c.at <= now), key=lambda change: change.at)
    skulls = [skull for skull in history.skulls if skull.since <= now]
    if not skulls or not changes:
        raise ForecastError(
            "the tub has no skull or was never filled",
            hint="enter the skull and the day the bath was first filled",
        )
    if len(changes) + len(skulls) > MOST_EVENTS:
        raise ForecastError(
            f"the tub has {len(changes)} water changes and {len(skulls)} skulls in one soak",
            hint=f"at most {MOST_EVENTS} can be reckoned with: take back what was logged twice",
        )
    origin = max(min(skull.since for skull in skulls), changes[0].at)
    first = max(index for index, change in enumerate(changes) if change.at <= origin)
    changes = changes[first:]
    events = _events(changes, skulls, origin)
    days = np.array([event.days for event in events])
    starts = np.array([_days(change.at, origin) for change in changes])
    recipes = tuple(dict.fromkeys(change.recipe for change in changes))
    code = np.array([recipes.index(change.recipe) for change in changes], dtype=np.intp)
    return Calendar(
        origin=origin,
        now_days=_days(now, origin),
        event_days=days,
        changed=np.array([event.changed for event in events]),
        carry_over=np.array([event.carry_over for event in events]),
        loads=np.array([event.load for event in events]),
        recipe=code[np.searchsorted(starts, days, side="right") - 1],
        recipes=recipes,
        steps=_steps(history, changes, origin),
    )


def _days(when: datetime, origin: datetime) -> float:
    return (when - origin).total_seconds() / SECONDS_PER_DAY


def _events(
    changes: Sequence[WaterChange], skulls: Sequence[SoakingSkull], origin: datetime
) -> list[_Event]:
    """Return fillings and skulls going in, in time order; at the same time, the water first."""
    fillings = [
        _Event(
            days=max(_days(change.at, origin), 0.0),
            changed=True,
            carry_over=np.nan if change.carry_over is None else change.carry_over,
            load=0.0,
        )
        for change in changes
    ]
    entries = [
        _Event(
            days=max(_days(skull.since, origin), 0.0),
            changed=False,
            carry_over=1.0,
            load=1 / len(skulls),
        )
        for skull in skulls
    ]
    return sorted(fillings + entries, key=lambda event: (event.days, not event.changed))


def _steps(history: TubHistory, changes: Sequence[WaterChange], origin: datetime) -> Steps:
    """Merge fillings and temperature records into steps of constant conditions."""
    stops = sorted(
        [(change.at, change.recipe, change.temperature_c) for change in changes]
        + [(record.at, None, record.temperature_c) for record in history.temperatures],
        key=lambda stop: stop[0],
    )
    recipe, temperature_c = changes[0].recipe, REFERENCE_C
    starts, met = [], []
    for at, new_recipe, new_temperature_c in stops:
        recipe = recipe if new_recipe is None else new_recipe
        temperature_c = temperature_c if new_temperature_c is None else new_temperature_c
        starts.append(_days(at, origin))
        met.append(Condition(recipe=recipe, temperature_c=round(temperature_c, 1)))
    conditions = tuple(dict.fromkeys(met))
    return Steps(
        starts=np.array(starts),
        index=np.array([conditions.index(condition) for condition in met], dtype=np.intp),
        conditions=conditions,
    )


def _observations(readings: Sequence[HazeReading], calendar: Calendar) -> Observations:
    doubtful = np.array([reading.verdict is Verdict.DOUBTFUL for reading in readings], dtype=bool)
    std = np.array([reading.std_per_m for reading in readings], dtype=float)
    days = np.array([_days(reading.at, calendar.origin) for reading in readings], dtype=float)
    return Observations(
        moments=calendar.moments(days),
        haze_per_m=np.array([reading.attenuation_per_m for reading in readings], dtype=float),
        std_per_m=std * np.where(doubtful, DOUBTFUL_STD_RATIO, 1.0),
        above=np.array([reading.bound is Bound.ABOVE for reading in readings], dtype=bool),
        below=np.array([reading.bound is Bound.BELOW for reading in readings], dtype=bool),
    )
