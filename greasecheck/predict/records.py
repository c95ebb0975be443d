"""What goes into a forecast: plain frozen records of a tub, its past and its plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import ForecastError
from greasecheck.model import BodyCondition, Bound, Recipe, Verdict

if TYPE_CHECKING:
    from datetime import datetime

SECONDS_PER_DAY = 86400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HazeReading:
    """One reading of a bath's haze.

    Attributes
    ----------
    at : datetime.datetime
        Zone-aware time; a reading at the very time of a change is of the old water.
    attenuation_per_m : float
        Beam attenuation [1/m], or the bound itself when `bound` is set.
    std_per_m : float
        Standard error [1/m].
    bound : Bound or None
        Set when the true value lies only above or below `attenuation_per_m`.
    verdict : Verdict
        Doubtful readings weigh less; refused ones are left out.
    log_gain_std : float
        Standard deviation of the natural logarithm of a factor that all readings by one instrument
        share, such as those of a ladder in clear water; not in `std_per_m`.
    instrument : int
        Number of that instrument; a tub's ladder has the tub's.
    """

    at: datetime
    attenuation_per_m: float
    std_per_m: float
    bound: Bound | None = None
    verdict: Verdict = Verdict.GOOD
    log_gain_std: float = 0.0
    instrument: int = 0


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
class TopUp:
    """Fresh water poured in for what dried away: `share` of the full tub, 0 to 1."""

    at: datetime
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierSoak:
    """A tub in which a skull soaked before, as known at `until`, when it was taken out."""

    tub: TubHistory
    until: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class SoakingSkull:
    """A skull in the tub.

    Attributes
    ----------
    name, species : str
        The skull.
    since : datetime.datetime
        Zone-aware time it went into this tub.
    until : datetime.datetime or None
        When it was taken out; None while it soaks.
    condition : BodyCondition
        How fat the animal was.
    earlier : tuple of EarlierSoak
        Tubs it soaked in before, oldest first: its grease is carried on from there.
    """

    name: str
    species: str
    since: datetime
    until: datetime | None = None
    condition: BodyCondition = BodyCondition.UNKNOWN
    earlier: tuple[EarlierSoak, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishedTub:
    """One of the user's own tubs that ran clear: its slowest species and how long it took."""

    species: str
    days: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SameWater:
    """A span in which the water was not changed, as a person confirmed, though its haze fell."""

    after: datetime
    before: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class TubHistory:
    """All that is known of a tub; the order within each sequence does not matter.

    Attributes
    ----------
    skulls : tuple of SoakingSkull
        Those in it, and those that left while others stayed.
    changes : tuple of WaterChange
        Fillings.
    readings : tuple of HazeReading
        Haze.
    temperatures : tuple of TemperatureRecord
        Between the changes.
    same_water : tuple of SameWater
        Denied changes.
    top_ups : tuple of TopUp
        Water poured in for what dried away.
    volume_l : float or None
        Volume of the full tub [L]; None when unknown.
    """

    skulls: tuple[SoakingSkull, ...]
    changes: tuple[WaterChange, ...]
    readings: tuple[HazeReading, ...] = ()
    temperatures: tuple[TemperatureRecord, ...] = ()
    same_water: tuple[SameWater, ...] = ()
    top_ups: tuple[TopUp, ...] = ()
    volume_l: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearRule:
    """What counts as clear water, and as a degreased skull.

    Attributes
    ----------
    soak_days : float
        How long a fresh bath is left alone [days].
    gain_per_m : float
        It runs clear when that bath gains less than this, in the standard volume [1/m].
    grease_left_share : float
        A skull is degreased when it holds less than this share of its grease, 0 to 1.
    """

    soak_days: float = 14.0
    gain_per_m: float = 3.0
    grease_left_share: float = 0.1


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
