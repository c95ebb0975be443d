"""What goes into a forecast and what comes out: plain frozen records."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import ForecastError
from greasecheck.model import Bound, Recipe, Verdict

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

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


@dataclass(frozen=True, slots=True, kw_only=True)
class FormWeight:
    """A model form and its posterior probability, 0 to 1."""

    form: str
    weight: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """A central interval of dates; an end is None when it lies beyond ten years."""

    probability: float
    earliest: datetime | None
    latest: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HazeCurve:
    """Haze over time: history as fitted, then as planned.

    Attributes
    ----------
    times : tuple of datetime.datetime
        n times.
    low_per_m, median_per_m, high_per_m : ndarray, shape (n,)
        10 %, 50 % and 90 % quantiles of the bath's haze [1/m].
    gain_low_per_m, gain_median_per_m, gain_high_per_m : ndarray, shape (n,)
        The same of what a fresh standard soak would gain [1/m].
    """

    times: tuple[datetime, ...]
    low_per_m: FloatArray
    median_per_m: FloatArray
    high_per_m: FloatArray
    gain_low_per_m: FloatArray
    gain_median_per_m: FloatArray
    gain_high_per_m: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearDates:
    """Equally likely dates on which the water runs clear.

    Attributes
    ----------
    origin : datetime.datetime
        The time that days are counted from.
    days : ndarray, shape (n,)
        Days from `origin`, ascending; infinite for 'never under this plan'.
    """

    origin: datetime
    days: FloatArray

    def quantile(self, probability: float) -> datetime | None:
        """Return the date by which it is clear with `probability`; None beyond ten years."""
        days = float(np.quantile(self.days, probability, method="inverted_cdf"))
        return self.origin + timedelta(days=days) if days < LATEST_DAYS else None

    def probability_by(self, when: datetime) -> float:
        """Return the probability, 0 to 1, that it is clear by `when`."""
        limit = (when - self.origin).total_seconds() / SECONDS_PER_DAY
        return float(np.mean(self.days <= limit))

    def interval(self, probability: float) -> Interval:
        """Return the central interval that holds the date with `probability`."""
        tail = (1 - probability) / 2
        return Interval(
            probability=probability,
            earliest=self.quantile(tail),
            latest=self.quantile(1 - tail),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SkullForecast:
    """What the tub's haze says of one skull.

    Attributes
    ----------
    name, species : str
        The skull.
    dates : ClearDates
        When this skull stops giving off grease.
    slowest_probability : float
        Probability that this skull is the one the tub waits for.
    told_apart : bool
        False when the haze, a sum over skulls, cannot say which one still gives off grease.
    """

    name: str
    species: str
    dates: ClearDates
    slowest_probability: float
    told_apart: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class UnloggedChange:
    """A water change that the readings show but nobody logged; to be confirmed.

    Attributes
    ----------
    after, before : datetime.datetime
        The readings that it lies between.
    fall_per_m, fall_share : float
        The fall of the haze [1/m], and as a share of the haze before.
    """

    after: datetime
    before: datetime
    fall_per_m: float
    fall_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnostics:
    """How far the fit can be trusted.

    Attributes
    ----------
    converged : bool
        The optimiser and the sampler both settled.
    describes_data : bool
        The best model's residuals look like scatter.
    pareto_k : float
        Shape of the largest importance weights: good below 0.7, worthless above 1
        (Vehtari et al. 2024).
    effective_draws : float
        Effective number of posterior draws.
    scatter_share : float
        Fitted relative scatter of the readings beyond their own standard errors.
    residual_size : float
        Robust size of the standardised residuals; near 1 when all is well.
    residual_correlation : float
        How much more often neighbouring residuals have the same sign than not, -1 to 1.
    readings_used, readings_left_out : int
        Counts; refused readings and those before the first filling are left out.
    data_share : float
        How much the readings narrowed the date against the table: 0 nothing, 1 everything.
    """

    converged: bool
    describes_data: bool
    pareto_k: float
    effective_draws: float
    scatter_share: float
    residual_size: float
    residual_correlation: float
    readings_used: int
    readings_left_out: int
    data_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """When a tub will run clear, and how sure that is.

    Attributes
    ----------
    made_at : datetime.datetime
        The time that 'now' meant.
    rule : ClearRule
        What counts as clear.
    plan : FilledPlan
        The plan that was assumed.
    dates : ClearDates
        Posterior of the date the tub runs clear.
    probability_clear_now : float
        0 to 1.
    gain_now_per_m : tuple of float
        10 %, 50 % and 90 % quantiles of what a fresh standard soak would gain now [1/m].
    curve : HazeCurve
        For charts.
    forms : tuple of FormWeight
        The models that were averaged, weightiest first.
    skulls : tuple of SkullForecast
        One for each skull in the tub.
    unlogged_changes : tuple of UnloggedChange
        Changes taken into the fit though nobody logged them.
    diagnostics : Diagnostics
        Trust.
    notes : tuple of str
        What to know before believing the dates, in plain words.
    """

    made_at: datetime
    rule: ClearRule
    plan: FilledPlan
    dates: ClearDates
    probability_clear_now: float
    gain_now_per_m: tuple[float, float, float]
    curve: HazeCurve
    forms: tuple[FormWeight, ...]
    skulls: tuple[SkullForecast, ...]
    unlogged_changes: tuple[UnloggedChange, ...]
    diagnostics: Diagnostics
    notes: tuple[str, ...] = field(default=())


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
