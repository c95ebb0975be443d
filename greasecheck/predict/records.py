"""What goes into a forecast: plain frozen records of a tub, its past and its plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import ForecastError
from greasecheck.model import Bound, Recipe, Verdict

if TYPE_CHECKING:
    from datetime import datetime

SECONDS_PER_DAY = 86400.0
LATEST_DAYS = 3650.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HazeReading:
    """One reading of a bath's haze.

    Attributes
    ----------
    at : datetime.datetime
        Zone-aware time; a reading at the very minute of a change is of the old water.
    attenuation_per_m : float
        Beam attenuation [1/m], or the bound itself when `bound` is set.
    std_per_m : float
        Standard error [1/m].
    bound : Bound or None
        Set when the true value lies only above or below `attenuation_per_m`.
    verdict : Verdict
        Doubtful readings weigh less; refused ones are left out.
    """

    at: datetime
    attenuation_per_m: float
    std_per_m: float
    bound: Bound | None = None
    verdict: Verdict = Verdict.GOOD


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterChange:
    """A filling of the tub; the first one starts the story.

    Attributes
    ----------
    at : datetime.datetime
        Zone-aware time.
    recipe : Recipe
        What went in.
    temperature_c : float or None
        Bath temperature from here on [degrees C]; None when unknown.
    carry_over : float or None
        Share of the old haze that stays, 0 to 1; None when unknown.
    """

    at: datetime
    recipe: Recipe = Recipe.SOAP
    temperature_c: float | None = None
    carry_over: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureRecord:
    """A bath temperature that holds from its time on, until the next record or change."""

    at: datetime
    temperature_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SoakingSkull:
    """A skull in the tub: its name, species and the time it went in."""

    name: str
    species: str
    since: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishedTub:
    """One of the user's own tubs that ran clear: its slowest species and how long it took."""

    species: str
    days: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SameWater:
    """A span in which, somebody says, the water was not changed, though its haze fell."""

    after: datetime
    before: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class TubHistory:
    """All that is known of a tub; the order within each sequence does not matter."""

    skulls: tuple[SoakingSkull, ...]
    changes: tuple[WaterChange, ...]
    readings: tuple[HazeReading, ...] = ()
    temperatures: tuple[TemperatureRecord, ...] = ()
    same_water: tuple[SameWater, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearRule:
    """When a tub counts as clear: a fresh soak of `soak_days` gains less than `gain_per_m`."""

    soak_days: float = 3.0
    gain_per_m: float = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How the tub will be run from now on; None keeps what has been usual for this tub."""

    change_interval_days: float | None = None
    temperature_c: float | None = None
    recipe: Recipe | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledPlan:
    """A plan with nothing left open."""

    change_interval_days: float
    temperature_c: float
    recipe: Recipe


def require_zone(when: datetime, what: str) -> datetime:
    """Return `when`, or refuse a time without a zone.

    Raises
    ------
    ForecastError
        When `when` is naive.
    """
    if when.tzinfo is None:
        raise ForecastError(f"{what} has no time zone", hint="give every time with its UTC offset")
    return when
