"""A tub's history as arrays of days that many draws can share."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray, Recipe
    from greasecheck.predict.model.warmth import ColdWater

# The plan's interval when logged changes are closer: with twice as much, a tub that really is
# changed twice a day would be forecast as changed once.
LEAST_INTERVAL_DAYS = 0.5
USUAL_INTERVAL_DAYS = 3.0  # of one who has not changed the water yet; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """What sets the pace of leaching: recipe and temperature [degrees C]."""

    recipe: Recipe
    temperature_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """Conditions as steps.

    Attributes
    ----------
    starts : ndarray, shape (steps,)
        Days from the origin, ascending; each step lasts until the next.
    index : ndarray of int, shape (steps,)
        Index into `conditions`.
    conditions : tuple of Condition
        All conditions met, in order of first use.
    cold : ColdWater or None
        The water's last measured temperature where that is much below what went in.
    """

    starts: FloatArray
    index: NDArray[np.intp]
    conditions: tuple[Condition, ...]
    cold: ColdWater | None = None

    def exposure(self, begin: FloatArray, end: FloatArray) -> FloatArray:
        """Return days under each condition between `begin` and `end`, shape (spans, conditions)."""
        stops = np.append(self.starts[1:], np.inf)
        overlap = np.minimum(end[:, None], stops) - np.maximum(begin[:, None], self.starts)
        member = self.index[:, None] == np.arange(len(self.conditions))
        days: FloatArray = np.maximum(overlap, 0.0) @ member
        return days


@dataclass(frozen=True, slots=True, kw_only=True)
class Moments:
    """Moments of a tub, ready to be computed for many draws.

    Attributes
    ----------
    days : ndarray, shape (moments,)
        Days from the origin.
    event : ndarray of int, shape (moments,)
        Index of the last event strictly before each.
    recipe : ndarray of int, shape (moments,)
        Index of the recipe in the tub.
    exposure_days : ndarray, shape (moments, conditions)
        Days since that event under each condition.
    bath : ndarray of int, shape (moments,)
        Which filling is in the tub.
    bath_age_days : ndarray, shape (moments,)
        Days since that filling.
    """

    days: FloatArray
    event: NDArray[np.intp]
    recipe: NDArray[np.intp]
    exposure_days: FloatArray
    bath: NDArray[np.intp]
    bath_age_days: FloatArray

    def picked(self, rows: NDArray[np.bool_]) -> Moments:
        """Return some of the moments."""
        return Moments(
            days=self.days[rows],
            event=self.event[rows],
            recipe=self.recipe[rows],
            exposure_days=self.exposure_days[rows],
            bath=self.bath[rows],
            bath_age_days=self.bath_age_days[rows],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Observations:
    """The readings as arrays, all of shape (readings,), in time order.

    Attributes
    ----------
    moments : Moments
        When they were taken.
    haze_per_m, std_per_m : ndarray
        Reading and its standard error, widened for doubtful ones [1/m].
    above, below : ndarray of bool
        Readings that are only bounds.
    log_gain_std : ndarray
        Of the factor that an instrument's readings share, in logarithms; 0 for those without one.
    instrument : ndarray of int
        The instrument that each was read by.
    """

    moments: Moments
    haze_per_m: FloatArray
    std_per_m: FloatArray
    above: NDArray[np.bool_]
    below: NDArray[np.bool_]
    log_gain_std: FloatArray
    instrument: NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """When a tub's water was changed and its skulls went in and out.

    Attributes
    ----------
    origin : datetime.datetime
        The first filling, or the first skull's entry when that is later.
    now_days : float
        Days from `origin` to now.
    event_days : ndarray, shape (events,)
        When water was changed or a skull went in or out; the first is 0.
    changed : ndarray of bool, shape (events,)
        Whether the water was changed.
    carry_over : ndarray, shape (events,)
        Logged carry-over, 1 where the water stayed; NaN where unknown.
    enters, leaves : ndarray of bool, shape (events, skulls)
        Which skull went in, or was taken out.
    recipe : ndarray of int, shape (events,)
        Index of the recipe in the tub after each event.
    recipes : tuple of Recipe
        All recipes met, in order of first use.
    steps : Steps
        Conditions over time.
    """

    origin: datetime
    now_days: float
    event_days: FloatArray
    changed: NDArray[np.bool_]
    carry_over: FloatArray
    enters: NDArray[np.bool_]
    leaves: NDArray[np.bool_]
    recipe: NDArray[np.intp]
    recipes: tuple[Recipe, ...]
    steps: Steps

    @property
    def last_change_days(self) -> float:
        """Return when the water was last changed, in days from the origin."""
        return float(self.event_days[self.changed][-1])

    def usual_interval_days(self) -> float:
        """Return the median days between changes; the usual ones while there are fewer than two.

        Never below `LEAST_INTERVAL_DAYS`: fillings minutes apart are one change logged twice.
        """
        gaps = np.diff(self.event_days[self.changed])
        return (
            float(max(np.median(gaps), LEAST_INTERVAL_DAYS)) if len(gaps) else USUAL_INTERVAL_DAYS
        )

    @property
    def shortest_interval_days(self) -> float:
        """Return the shortest span between two changes [days]; infinite with fewer than two."""
        return float(np.diff(self.event_days[self.changed]).min(initial=np.inf))

    def at(self, days: float) -> datetime:
        """Return the time `days` after the origin."""
        return self.origin + timedelta(days=days)

    def moments(self, days: FloatArray, *, after: bool = False) -> Moments:
        """Return moments at `days` past the origin; one at an event lies before it, or `after`."""
        side: Literal["left", "right"] = "right" if after else "left"
        event = np.maximum(np.searchsorted(self.event_days, days, side=side) - 1, 0)
        fillings = self.event_days[self.changed]
        bath = np.cumsum(self.changed)[event] - 1
        return Moments(
            days=days,
            event=event,
            recipe=self.recipe[event],
            exposure_days=self.steps.exposure(self.event_days[event], days),
            bath=bath,
            bath_age_days=days - fillings[bath],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """A tub's story in numbers.

    Attributes
    ----------
    calendar : Calendar
        Changes and entries.
    gaps_days : ndarray, shape (events, conditions)
        Days under each condition since the event before; the first row is 0.
    now : Moments
        One moment: now.
    soaked_before_days : ndarray, shape (skulls, conditions)
        Days that each skull soaked in other tubs before, under each condition.
    present : ndarray of bool, shape (skulls,)
        Which skulls are in the tub now.
    observations : Observations
        The readings.
    left_out : int
        Readings not used: refused, before the origin, or after now.
    """

    calendar: Calendar
    gaps_days: FloatArray
    soaked_before_days: FloatArray
    present: NDArray[np.bool_]
    now: Moments
    observations: Observations
    left_out: int

    @property
    def held_days(self) -> FloatArray:
        """Return how long each condition held, until now."""
        days: FloatArray = self.gaps_days.sum(axis=0) + self.now.exposure_days[0]
        return days

    @property
    def usual(self) -> int:
        """Return the index of the condition that held longest."""
        return int(np.argmax(self.held_days))

    @property
    def usual_condition(self) -> Condition:
        """Return the condition that held longest."""
        return self.calendar.steps.conditions[self.usual]
