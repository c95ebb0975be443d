"""What the charts are drawn from: one record for those of a tub, one for those of the season."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from greasecheck.model.reasons import ReasonCode
    from greasecheck.model.recipe_ratios import RateRatio
    from greasecheck.predict.advice.done import SkullBone
    from greasecheck.predict.forecast_records import ClearDates, Forecast
    from greasecheck.predict.records import HazeReading, WaterChange
    from greasecheck.predict.yellowing.records import YellowingRisk


@dataclass(frozen=True, slots=True, kw_only=True)
class TubData:
    """A tub, for its charts.

    Attributes
    ----------
    number : int
        The tub.
    readings : tuple of HazeReading
        Measured haze [1/m].
    changes : tuple of WaterChange
        Fillings.
    forecast : Forecast or None
        The fitted curve and the dates; None for a tub that has none.
    now : datetime.datetime
        Zone-aware; its zone is that of the axes.
    withheld : ReasonCode or None
        Why dates are withheld; None while the forecast's stand.
    bones : sequence of SkullBone
        Readings of the bones in it.
    clean_yi : float
        Yellowness (ASTM E313) of clean bone.
    """

    number: int
    readings: tuple[HazeReading, ...]
    changes: tuple[WaterChange, ...]
    forecast: Forecast | None
    now: datetime
    withheld: ReasonCode | None = None
    bones: Sequence[SkullBone] = ()
    clean_yi: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TubEnd:
    """When a tub is degreased; `dates` is None where they are withheld, for the reason given."""

    dates: ClearDates | None
    withheld: ReasonCode | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonData:
    """The season, for its charts; what is empty has none.

    Attributes
    ----------
    now : datetime.datetime
        Zone-aware; its zone is that of the axes.
    ends : mapping
        From the name of a tub's row to when it is degreased.
    ratios : sequence of RateRatio
        The recipes against each other.
    risks : mapping
        From a skull's name to its risk of yellowing later.
    """

    now: datetime
    ends: Mapping[str, TubEnd] = field(default_factory=dict)
    ratios: Sequence[RateRatio] = ()
    risks: Mapping[str, YellowingRisk] = field(default_factory=dict)
