"""Turns a tub's history into arrays of days that many draws can share."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import ForecastError
from greasecheck.model import Bound, Verdict
from greasecheck.predict.arrhenius import REFERENCE_C
from greasecheck.predict.records import SECONDS_PER_DAY, require_zone

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from greasecheck.predict.records import HazeReading, TubHistory, WaterChange

DOUBTFUL_STD_RATIO = 3.0
COLDEST_C, HOTTEST_C = 0.0, 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """What sets the pace of leaching: recipe and temperature [degrees C]."""

    recipe: str
    temperature_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Observations:
    """The readings as arrays, all of shape (readings,), in time order.

    Attributes
    ----------
    days : ndarray
        Days since the origin.
    haze_per_m, std_per_m : ndarray
        Reading and its standard error, widened for doubtful ones [1/m].
    above, below : ndarray of bool
        Readings that are only bounds.
    event : ndarray of int
        Index of the event whose water was read.
    recipe : ndarray of int
        Index into `Timeline.recipes`.
    exposure_days : ndarray, shape (readings, conditions)
        Days since that event under each condition.
    """

    days: FloatArray
    haze_per_m: FloatArray
    std_per_m: FloatArray
    above: NDArray[np.bool_]
    below: NDArray[np.bool_]
    event: NDArray[np.intp]
    recipe: NDArray[np.intp]
    exposure_days: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """A tub's story in numbers.

    Attributes
    ----------
    origin : datetime.datetime
        The first filling, or the first skull's entry when that is later.
    now_days : float
        Days from `origin` to now.
    event_days : ndarray, shape (events,)
        When water was changed or a skull went in; the first is 0.
    changed : ndarray of bool, shape (events,)
        Whether the water was changed.
    carry_over : ndarray, shape (events,)
        Logged carry-over; NaN where unknown.
    loads : ndarray, shape (events,)
        Share of all grease that went in.
    exposure_days : ndarray, shape (events + 1, conditions)
        Days under each condition since the event before; the last row ends at now.
    conditions : tuple of Condition
        All conditions met, in order of first use.
    recipes : tuple of str
        All recipes met, in order of first use.
    observations : Observations
        The readings.
    left_out : int
        Readings not used: refused, before the origin, or after now.
    """

    origin: datetime
    now_days: float
    event_days: FloatArray
    changed: NDArray[np.bool_]
    carry_over: FloatArray
    loads: FloatArray
    exposure_days: FloatArray
    conditions: tuple[Condition, ...]
    recipes: tuple[str, ...]
    observations: Observations
    left_out: int

    @property
    def last_change_days(self) -> float:
        """Return when the water was last changed, in days from the origin."""
        return float(self.event_days[self.changed][-1])

    def usual_interval_days(self, otherwise: float) -> float:
        """Return the median days between changes; `otherwise` while there are fewer than two."""
        gaps = np.diff(self.event_days[self.changed])
        return float(np.median(gaps)) if len(gaps) else otherwise

    def at(self, days: float) -> datetime:
        """Return the time `days` after the origin."""
        return self.origin + timedelta(days=days)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Steps:
    """Conditions as steps: from `starts[i]` on, condition `index[i]` holds."""

    starts: FloatArray
    index: NDArray[np.intp]
    conditions: tuple[Condition, ...]

    def exposure(self, begin: FloatArray, end: FloatArray) -> FloatArray:
        """Return days under each condition, shape (spans, conditions)."""
        stops = np.append(self.starts[1:], np.inf)
        overlap = np.minimum(end[:, None], stops) - np.maximum(begin[:, None], self.starts)
        member = self.index[:, None] == np.arange(len(self.conditions))
        days: FloatArray = np.maximum(overlap, 0.0) @ member
        return days


def build_timeline(history: TubHistory, now: datetime) -> Timeline:
    """Return the arrays of `history` as known at `now`.

    Raises
    ------
    ForecastError
        For a tub without a skull or a filling, a time without a zone, or an impossible value.
    """
    _check(history, now)
    changes = sorted((c for c in history.changes if c.at <= now), key=lambda change: change.at)
    origin = _origin(history, changes, now)
    changes = _from_origin(changes, origin)
    steps = _steps(history, changes, origin)
    event_days, changed, carry, loads = _events(history, changes, origin, now)
    now_days = _days(now, origin)
    used = sorted(
        (r for r in history.readings if origin < r.at <= now and r.verdict is not Verdict.REFUSED),
        key=lambda reading: (reading.at, reading.attenuation_per_m),
    )
    recipes = tuple(dict.fromkeys(change.recipe for change in changes))
    return Timeline(
        origin=origin,
        now_days=now_days,
        event_days=event_days,
        changed=changed,
        carry_over=carry,
        loads=loads,
        exposure_days=steps.exposure(
            np.append(event_days[:1], event_days), np.append(event_days, now_days)
        ),
        conditions=steps.conditions,
        recipes=recipes,
        observations=_observations(used, origin, event_days, changes, recipes, steps),
        left_out=len(history.readings) - len(used),
    )


def _check(history: TubHistory, now: datetime) -> None:
    require_zone(now, "the forecast's 'now'")
    for change in history.changes:
        require_zone(change.at, "a water change")
    for reading in history.readings:
        require_zone(reading.at, "a reading")
        if not (np.isfinite(reading.attenuation_per_m) and reading.std_per_m >= 0):
            raise ForecastError(
                f"the reading of {reading.at:%Y-%m-%d %H:%M} is not a number",
                hint="correct it, or mark it as refused",
            )
    known = [change.temperature_c for change in history.changes if change.temperature_c is not None]
    known += [record.temperature_c for record in history.temperatures]
    if not all(COLDEST_C <= value <= HOTTEST_C for value in known):
        raise ForecastError(
            "a bath temperature lies outside 0 to 100 degrees C",
            hint="give temperatures in degrees Celsius",
        )


def _origin(history: TubHistory, changes: Sequence[WaterChange], now: datetime) -> datetime:
    entries = [skull.since for skull in history.skulls if skull.since <= now]
    if not entries or not changes:
        raise ForecastError(
            "the tub has no skull or was never filled",
            hint="enter the skull and the day the bath was first filled",
        )
    return max(min(entries), changes[0].at)


def _from_origin(changes: Sequence[WaterChange], origin: datetime) -> list[WaterChange]:
    """Drop the fillings before the last one that the story starts in."""
    first = max(index for index, change in enumerate(changes) if change.at <= origin)
    return list(changes[first:])


def _days(when: datetime, origin: datetime) -> float:
    return (when - origin).total_seconds() / SECONDS_PER_DAY


def _steps(history: TubHistory, changes: Sequence[WaterChange], origin: datetime) -> _Steps:
    """Merge fillings and temperature records into steps of constant conditions."""
    stops = sorted(
        [(change.at, change.recipe, change.temperature_c) for change in changes]
        + [(record.at, None, record.temperature_c) for record in history.temperatures],
        key=lambda stop: stop[0],
    )
    recipe, temperature_c = changes[0].recipe, REFERENCE_C
    starts, met = [], []
    for at, new_recipe, new_temperature in stops:
        recipe = recipe if new_recipe is None else new_recipe
        temperature_c = temperature_c if new_temperature is None else new_temperature
        starts.append(_days(at, origin))
        met.append(Condition(recipe=recipe, temperature_c=round(temperature_c, 1)))
    conditions = tuple(dict.fromkeys(met))
    index = np.array([conditions.index(condition) for condition in met], dtype=np.intp)
    return _Steps(starts=np.array(starts), index=index, conditions=conditions)


def _events(
    history: TubHistory, changes: Sequence[WaterChange], origin: datetime, now: datetime
) -> tuple[FloatArray, NDArray[np.bool_], FloatArray, FloatArray]:
    """Return days, changed, carry-over and loads of fillings and skulls going in."""
    skulls = [skull for skull in history.skulls if skull.since <= now]
    rows = [
        (max(_days(change.at, origin), 0.0), True, change.carry_over, 0.0) for change in changes
    ]
    rows += [
        (max(_days(skull.since, origin), 0.0), False, 1.0, 1 / len(skulls)) for skull in skulls
    ]
    rows.sort(key=lambda row: (row[0], not row[1]))
    days, changed, carry, loads = zip(*rows, strict=True)
    return (
        np.array(days),
        np.array(changed),
        np.array([np.nan if share is None else share for share in carry]),
        np.array(loads),
    )


def _observations(  # noqa: PLR0913 - one line of arrays each
    readings: Sequence[HazeReading],
    origin: datetime,
    event_days: FloatArray,
    changes: Sequence[WaterChange],
    recipes: tuple[str, ...],
    steps: _Steps,
) -> Observations:
    days = np.array([_days(reading.at, origin) for reading in readings])
    event = np.maximum(np.searchsorted(event_days, days, side="left") - 1, 0)
    starts = np.array([_days(change.at, origin) for change in changes])
    filling = np.maximum(np.searchsorted(starts, days, side="left") - 1, 0)
    code = np.array([recipes.index(change.recipe) for change in changes], dtype=np.intp)
    doubtful = np.array([reading.verdict is Verdict.DOUBTFUL for reading in readings], dtype=bool)
    return Observations(
        days=days,
        haze_per_m=np.array([reading.attenuation_per_m for reading in readings]),
        std_per_m=np.array([reading.std_per_m for reading in readings])
        * np.where(doubtful, DOUBTFUL_STD_RATIO, 1.0),
        above=np.array([reading.bound is Bound.ABOVE for reading in readings], dtype=bool),
        below=np.array([reading.bound is Bound.BELOW for reading in readings], dtype=bool),
        event=event,
        recipe=code[filling],
        exposure_days=steps.exposure(event_days[event], days),
    )
