"""What comes out of a forecast: plain frozen records."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model.longest_soak import LATEST_DAYS
from greasecheck.predict.records import SECONDS_PER_DAY

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.model.notes import Note
    from greasecheck.predict.records import ClearRule, FilledPlan

LIKELY = 0.5  # more likely than not
OFTEN_STOPPED = 0.1  # of ends; fewer leave 9 in 10 as they are


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
        The same of what a fresh bath left alone would gain, in the standard volume [1/m].
    left_low_share, left_median_share, left_high_share : ndarray, shape (n,)
        The same of the share of grease left in the skull that holds most, by the haze alone:
        where it ended at once, the grease is taken to have run out.
    """

    times: tuple[datetime, ...]
    low_per_m: FloatArray
    median_per_m: FloatArray
    high_per_m: FloatArray
    gain_low_per_m: FloatArray
    gain_median_per_m: FloatArray
    gain_high_per_m: FloatArray
    left_low_share: FloatArray
    left_median_share: FloatArray
    left_high_share: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearDates:
    """Equally likely dates on which the water runs clear, or a skull is degreased.

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
    """The forecast of one skull by the tub's haze.

    Attributes
    ----------
    name, species : str
        The skull.
    dates : ClearDates
        When a bath with this skull alone runs clear.
    degreased : ClearDates
        When it holds less grease than the rule's share.
    grease_left_share : tuple of float
        10 %, 50 % and 90 % quantiles of the share of its grease that it holds now.
    slowest_probability : float
        Probability that this skull is the one the tub waits for.
    identified : bool
        False when the haze, a sum over skulls, cannot show which one still gives off grease.
    """

    name: str
    species: str
    dates: ClearDates
    degreased: ClearDates
    grease_left_share: tuple[float, float, float]
    slowest_probability: float
    identified: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class UnloggedChange:
    """A water change that the readings show but nobody logged; to be confirmed.

    Attributes
    ----------
    after, before : datetime.datetime
        The readings that it lies between.
    before_per_m : float
        The haze before it [1/m].
    fall_per_m, fall_share : float
        The fall of the haze [1/m], and as a share of the haze before; below 0 where it rose, but
        by much less than was expected.
    """

    after: datetime
    before: datetime
    before_per_m: float
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
    drift_share : float
        How far the rise strays from every form over weeks, as a share: the model's own misfit,
        which widens the dates.
    bloom_share : float
        Share of the haze that is no grease but grew in the water, in the oldest third of the
        readings' baths.
    residual_size : float
        Robust size of the standardised residuals; near 1 when all is well.
    residual_correlation : float
        How much more often neighbouring residuals have the same sign than not, -1 to 1.
    readings_used, readings_left_out : int
        Counts; refused readings and those before the first filling are left out.
    data_share : float
        How much the readings narrowed the date against the table: 0 nothing, 1 everything.
    stop_share : float
        Probability that the haze ended at once and stopped, with grease left in the bone, 0 to 1.
    """

    converged: bool
    describes_data: bool
    pareto_k: float
    effective_draws: float
    scatter_share: float
    drift_share: float
    bloom_share: float
    residual_size: float
    residual_correlation: float
    readings_used: int
    readings_left_out: int
    data_share: float
    stop_share: float

    @property
    def may_have_stopped(self) -> bool:
        """Return whether ends are doubted so often that 9 in 10 may rest on a stop."""
        return self.stop_share > OFTEN_STOPPED


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """When a tub runs clear and its skulls are degreased, and how sure that is.

    Attributes
    ----------
    made_at : datetime.datetime
        The time that 'now' meant.
    rule : ClearRule
        What counts as clear, and as degreased.
    plan : FilledPlan
        The plan that was assumed.
    dates : ClearDates
        When it runs clear: a fresh bath left alone stays under the haze one sees.
    degreased : ClearDates
        When the last skull in the tub holds less grease than the rule's share.
    probability_clear_now, probability_degreased_now : float
        0 to 1.
    gain_now_per_m : tuple of float
        10 %, 50 % and 90 % quantiles of what a fresh bath left alone would gain now, in the
        standard volume [1/m].
    litres_over_standard : float
        The tub's litres over the standard volume of its skulls; 1 for a tub of unknown volume.
    grease_left_share : tuple of float
        10 %, 50 % and 90 % quantiles of the share of grease left now, of the skull with most.
    left_when_clear_share : tuple of float
        The same on the day that it runs clear.
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
    notes : tuple of Note
        What to know before believing the dates; `greasecheck.words.notes` has the words.
    """

    made_at: datetime
    rule: ClearRule
    plan: FilledPlan
    dates: ClearDates
    degreased: ClearDates
    probability_clear_now: float
    probability_degreased_now: float
    gain_now_per_m: tuple[float, float, float]
    litres_over_standard: float
    grease_left_share: tuple[float, float, float]
    left_when_clear_share: tuple[float, float, float]
    curve: HazeCurve
    forms: tuple[FormWeight, ...]
    skulls: tuple[SkullForecast, ...]
    unlogged_changes: tuple[UnloggedChange, ...]
    diagnostics: Diagnostics
    notes: tuple[Note, ...] = field(default=())

    @property
    def gain_in_tub_per_m(self) -> tuple[float, float, float]:
        """Return the quantiles of what a fresh bath left alone would gain in this tub [1/m]."""
        low, middle, high = (gain / self.litres_over_standard for gain in self.gain_now_per_m)
        return low, middle, high

    @property
    def clear_in_tub_per_m(self) -> float:
        """Return below which gain this tub is clear: the same grease per skull in its litres."""
        return self.rule.gain_per_m / self.litres_over_standard

    @property
    def clears_last(self) -> bool:
        """Return whether it is not clear yet and likely degreased before it is."""
        clear, done = (
            float(np.quantile(dates.days, 0.5, method="inverted_cdf"))
            for dates in (self.dates, self.degreased)
        )
        return clear > done and self.probability_clear_now < LIKELY
