"""Turns a tub's history into a timeline."""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import ForecastError
from greasecheck.model import Bound, Verdict
from greasecheck.predict.model.arrhenius import REFERENCE_C
from greasecheck.predict.model.timeline import Calendar, Condition, Observations, Steps, Timeline
from greasecheck.predict.model.warmth import warmth
from greasecheck.predict.records import SECONDS_PER_DAY, require_zone

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.model import FloatArray
    from greasecheck.predict.records import (
        HazeReading,
        SoakingSkull,
        TemperatureRecord,
        TubHistory,
        WaterChange,
    )

    HeldDays = list[tuple[Condition, float]]

DOUBTFUL_STD_RATIO = 3.0
COLDEST_C, HOTTEST_C = 0.0, 100.0
MOST_EVENTS = 2000  # more than one a day for five years; the state after each is kept in memory


@dataclass(frozen=True, slots=True, kw_only=True)
class _Event:
    days: float
    changed: bool
    carry_over: float
    enters: int = -1
    leaves: int = -1


def build_timeline(history: TubHistory, now: datetime) -> Timeline:
    """Return the arrays of `history` as known at `now`.

    Raises
    ------
    ForecastError
        For a tub without a skull or a filling, a time without a zone, or an impossible value.
    """
    _check(history, now)
    skulls = story_skulls(history, now)
    earlier = [_earlier_days(skull) for skull in skulls]
    calendar = _calendar(history, skulls, earlier, now)
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
        soaked_before_days=_soaked_before(earlier, calendar.steps.conditions),
        present=np.array([skull.until is None or skull.until > now for skull in skulls]),
        now=calendar.moments(np.array([calendar.now_days]), after=True),
        observations=_observations(used, calendar, fill_shares(history, used, now)),
        left_out=len(history.readings) - len(used),
    )


def story_skulls(history: TubHistory, now: datetime) -> tuple[SoakingSkull, ...]:
    """Return the skulls that were in the tub by `now`, those that left since included."""
    return tuple(skull for skull in history.skulls if skull.since <= now)


def fill_shares(history: TubHistory, readings: Sequence[HazeReading], now: datetime) -> FloatArray:
    """Return the volume of the bath over the full tub at each reading, shape (readings,).

    By what was poured in at the next topping up by `now`: the water dried away evenly since the
    bath was last full. Without one it is taken as full.
    """
    fills = sorted([change.at for change in history.changes])
    tops = sorted((top for top in history.top_ups if top.at <= now), key=lambda top: top.at)
    full = sorted([*fills, *(top.at for top in tops)])
    times = [top.at for top in tops]

    def share(reading: HazeReading) -> float:
        coming, since = bisect_left(times, reading.at), bisect_left(full, reading.at)
        if coming == len(tops) or not since or full[since] != tops[coming].at:
            return 1.0
        begin, end = full[since - 1], tops[coming].at
        return 1.0 - tops[coming].share * ((reading.at - begin) / (end - begin))

    return np.array([share(reading) for reading in readings], dtype=float)


def _soaked_before(earlier: Sequence[HeldDays], conditions: tuple[Condition, ...]) -> FloatArray:
    """Return the days that each skull soaked in other tubs, shape (skulls, conditions)."""
    days = np.zeros((len(earlier), len(conditions)))
    for row, each in enumerate(earlier):
        for condition, held in each:
            days[row, conditions.index(condition)] += held
    return days


def _earlier_days(skull: SoakingSkull) -> HeldDays:
    """Return the conditions of the tubs that a skull soaked in before, and how long each held."""
    found = []
    for soak in skull.earlier:
        calendar = build_timeline(soak.tub, soak.until).calendar
        begin = min(one.since for one in soak.tub.skulls if one.name == skull.name)
        start = max(_days(begin, calendar.origin), 0.0)
        held = calendar.steps.exposure(np.array([start]), np.array([calendar.now_days]))[0]
        found += list(zip(calendar.steps.conditions, held.tolist(), strict=True))
    return found


def _check(history: TubHistory, now: datetime) -> None:
    require_zone(now, "the forecast's 'now'")
    if history.volume_l is not None and not 0 < history.volume_l < math.inf:
        raise ForecastError(
            f"a tub cannot hold {history.volume_l:g} litres", hint="give its litres when full"
        )
    for skull in history.skulls:
        _check_skull(skull)
    for change in history.changes:
        require_zone(change.at, "a water change")
        check_temperature(change.temperature_c)
        if change.carry_over is not None and not 0 <= change.carry_over <= 1:
            raise ForecastError("a carry-over lies outside 0 to 1", hint="give it as a share")
    for record in history.temperatures:
        require_zone(record.at, "a temperature")
        check_temperature(record.temperature_c)
    for top in history.top_ups:
        require_zone(top.at, "a topping up")
        if not 0 < top.share < 1:
            raise ForecastError(
                "what was topped up lies outside 0 to 1", hint="give it as a share of the full tub"
            )
    for reading in history.readings:
        _check_reading(reading)


def _check_skull(skull: SoakingSkull) -> None:
    require_zone(skull.since, f"the entry of {skull.name}")
    if skull.until is not None and require_zone(skull.until, "its end") <= skull.since:
        raise ForecastError(
            f"{skull.name} was taken out before it went in", hint="correct one of the two times"
        )
    for soak in skull.earlier:
        if not any(one.name == skull.name for one in soak.tub.skulls):
            raise ForecastError(
                f"{skull.name} is not among the skulls of a tub it soaked in before",
                hint="give it the same name in both tubs",
            )


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
    errors = (reading.std_per_m, reading.log_gain_std)
    sound = all(0 <= error < math.inf for error in errors)
    if not (sound and math.isfinite(reading.attenuation_per_m)):
        raise ForecastError(
            f"the reading of {reading.at:%Y-%m-%d %H:%M} is not a number with a standard error",
            hint="correct it, or mark it as refused",
        )


def _calendar(
    history: TubHistory,
    skulls: Sequence[SoakingSkull],
    earlier: Sequence[HeldDays],
    now: datetime,
) -> Calendar:
    changes = sorted((c for c in history.changes if c.at <= now), key=lambda change: change.at)
    _check_size(changes, skulls)
    origin = max(min(skull.since for skull in skulls), changes[0].at)
    first = max(index for index, change in enumerate(changes) if change.at <= origin)
    changes = changes[first:]
    events = _events(changes, skulls, origin, now)
    days = np.array([event.days for event in events])
    starts = np.array([_days(change.at, origin) for change in changes])
    records = [record for record in history.temperatures if record.at <= now]
    steps = _steps(changes, records, origin)
    before = [condition for each in earlier for condition, _ in each]
    conditions = tuple(dict.fromkeys((*steps.conditions, *before)))
    recipes = tuple(dict.fromkeys(condition.recipe for condition in conditions))
    code = np.array([recipes.index(change.recipe) for change in changes], dtype=np.intp)
    each = np.arange(len(skulls))
    return Calendar(
        origin=origin,
        now_days=_days(now, origin),
        event_days=days,
        changed=np.array([event.changed for event in events]),
        carry_over=np.array([event.carry_over for event in events]),
        enters=np.array([event.enters for event in events])[:, None] == each,
        leaves=np.array([event.leaves for event in events])[:, None] == each,
        recipe=code[np.searchsorted(starts, days, side="right") - 1],
        recipes=recipes,
        steps=replace(steps, conditions=conditions),
    )


def _check_size(changes: Sequence[WaterChange], skulls: Sequence[SoakingSkull]) -> None:
    if not skulls or not changes:
        raise ForecastError(
            "the tub has no skull or was never filled",
            hint="enter the skull and the day the bath was first filled",
        )
    if len(changes) + len(skulls) > MOST_EVENTS:
        raise ForecastError(
            f"the tub has {len(changes)} water changes and {len(skulls)} skulls in one soak",
            hint=f"at most {MOST_EVENTS} can be computed: take back what was logged twice",
        )


def _days(when: datetime, origin: datetime) -> float:
    return (when - origin).total_seconds() / SECONDS_PER_DAY


def _events(
    changes: Sequence[WaterChange],
    skulls: Sequence[SoakingSkull],
    origin: datetime,
    now: datetime,
) -> list[_Event]:
    """Return fillings and skulls going in and out, in time order: at one time in this order."""
    fillings = [
        _Event(
            days=max(_days(change.at, origin), 0.0),
            changed=True,
            carry_over=np.nan if change.carry_over is None else change.carry_over,
        )
        for change in changes
    ]
    entries = [
        _Event(days=max(_days(skull.since, origin), 0.0), changed=False, carry_over=1.0, enters=n)
        for n, skull in enumerate(skulls)
    ]
    exits = [
        _Event(days=max(_days(skull.until, origin), 0.0), changed=False, carry_over=1.0, leaves=n)
        for n, skull in enumerate(skulls)
        if skull.until is not None and skull.until <= now
    ]
    return sorted(
        fillings + entries + exits, key=lambda event: (event.days, not event.changed, event.leaves)
    )


def _steps(
    changes: Sequence[WaterChange], records: Sequence[TemperatureRecord], origin: datetime
) -> Steps:
    """Merge fillings and temperature records into steps of constant conditions."""
    stops, cold = warmth(changes, records)
    recipe, temperature_c = changes[0].recipe, REFERENCE_C
    starts, met = [], []
    for stop in stops:
        recipe = stop.recipe or recipe
        temperature_c = temperature_c if stop.temperature_c is None else stop.temperature_c
        starts.append(_days(stop.at, origin))
        met.append(Condition(recipe=recipe, temperature_c=round(temperature_c, 1)))
    conditions = tuple(dict.fromkeys(met))
    return Steps(
        starts=np.array(starts),
        index=np.array([conditions.index(condition) for condition in met], dtype=np.intp),
        conditions=conditions,
        cold=cold,
    )


def _observations(
    readings: Sequence[HazeReading], calendar: Calendar, fill: FloatArray
) -> Observations:
    doubtful = np.array([reading.verdict is Verdict.DOUBTFUL for reading in readings], dtype=bool)
    std = np.array([reading.std_per_m for reading in readings], dtype=float)
    haze = np.array([reading.attenuation_per_m for reading in readings], dtype=float)
    days = np.array([_days(reading.at, calendar.origin) for reading in readings], dtype=float)
    return Observations(
        moments=calendar.moments(days),
        haze_per_m=haze * fill,
        std_per_m=std * fill * np.where(doubtful, DOUBTFUL_STD_RATIO, 1.0),
        above=np.array([reading.bound is Bound.ABOVE for reading in readings], dtype=bool),
        below=np.array([reading.bound is Bound.BELOW for reading in readings], dtype=bool),
        log_gain_std=np.array([reading.log_gain_std for reading in readings], dtype=float),
        instrument=np.array([reading.instrument for reading in readings], dtype=np.intp),
    )
