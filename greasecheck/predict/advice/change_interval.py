"""How often to change a tub's water: what a change costs against the days it saves."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import ForecastError
from greasecheck.model import Recipe
from greasecheck.model.longest_soak import LATEST_DAYS
from greasecheck.model.reasons import Reason, ReasonCode
from greasecheck.model.verdicts import ChangeVerdict
from greasecheck.predict.fit.dates import dates_of, filled_plan
from greasecheck.predict.fit.tub_fit import thinned_draws
from greasecheck.predict.model.leaching import keep_bath_share
from greasecheck.predict.records import ClearRule, Plan
from greasecheck.reference.advice import advice_value

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.tub_fit import FormDraws, TubFit
    from greasecheck.predict.records import FilledPlan

# Those tried; older baths rot: common practice, no source.
INTERVALS_DAYS = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 9.0, 11.0, 14.0)
DRAWS = 500  # 9 in 10 are told to 1.3 in 100 (binomial), by half as many to 1.9
WATER_WH_PER_L_K = 1.163  # heat capacity of water, 4.187 kJ/(kg K), in watt hours
SOAPY = (Recipe.SOAP, Recipe.SOAP_AMMONIA, Recipe.OWN)
DUE_WITHIN = timedelta(hours=12)
# No source. Water is changed for what may still be in the bone, also when that is little: until it
# is degreased, and at least until so much of it is gone. At 0.5 the tail just before that counts.
LEAST_GOAL = 0.5
# No source. Intervals that cost so nearly the same are told apart by chance alone: the shortest is
# done soonest. At three times as much tubs cost 1 to 2 in 100 more.
AS_CHEAP = 1.01


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeCost:
    """What a water change and a day cost, in the user's own money.

    Attributes
    ----------
    soap, heat, work : float
        Of one change.
    day : float
        Of one more day of soaking.
    """

    soap: float
    heat: float
    work: float
    day: float

    @property
    def change(self) -> float:
        """Return the cost of one change."""
        return self.soap + self.heat + self.work


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalOption:
    """One interval from now on: days and changes until its goal, and what both cost.

    The goal is that all is surely degreased and at least half of what may be left now is gone.
    """

    interval_days: float
    days: float | None
    changes: float | None
    cost: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DaysSaved:
    """What changing twice as often as usual would bring sooner: 10 %, 50 %, 90 % [days]."""

    interval_days: float
    low_days: float
    median_days: float
    high_days: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeAdvice:
    """When to change a tub's water.

    Attributes
    ----------
    verdict : ChangeVerdict
        For today.
    best_interval_days, usual_interval_days : float
        The cheapest interval from now on (the shortest of those as good as equal), and the one
        kept so far.
    due_at : datetime.datetime
        The next change at the cheapest interval.
    bath_age_days : float
        Since the last change.
    leach_share : float
        Leaching now over that in fresh water, 0 to 1: how far the bath has filled up.
    twice_as_often : DaysSaved
        Against the usual interval.
    cost : ChangeCost
        The prices used.
    options : tuple of IntervalOption
        Every interval tried.
    reasons : tuple of Reason
        What it rests on.
    """

    verdict: ChangeVerdict
    best_interval_days: float
    usual_interval_days: float
    due_at: datetime
    bath_age_days: float
    leach_share: float
    twice_as_often: DaysSaved
    cost: ChangeCost
    options: tuple[IntervalOption, ...]
    reasons: tuple[Reason, ...]


def usual_cost(
    recipe: Recipe, temperature_c: float, *, volume_l: float | None = None
) -> ChangeCost:
    """Return what a change costs by calibration/advice.csv.

    Parameters
    ----------
    recipe : Recipe
        What goes in; only soapy baths need soap.
    temperature_c : float
        Temperature that tap water is heated to [degrees C].
    volume_l : float, optional
        Volume of the bath [L]; the table's without it.

    Examples
    --------
    >>> round(usual_cost(Recipe.SOAP, 40.0, volume_l=20.0).change, 2)
    3.0
    """
    litres = advice_value("tub_volume_l") if volume_l is None else volume_l
    soap_l = litres * advice_value("soap_ml_per_l") / 1000.0 if recipe in SOAPY else 0.0
    warming_k = max(temperature_c - advice_value("tap_water_c"), 0.0)
    heat_kwh = WATER_WH_PER_L_K * litres * warming_k / 1000.0
    return ChangeCost(
        soap=soap_l * advice_value("soap_price_per_l"),
        heat=heat_kwh * advice_value("energy_price_per_kwh"),
        work=advice_value("minutes_per_change") / 60.0 * advice_value("work_price_per_hour"),
        day=advice_value("day_price"),
    )


def advise_change(
    fit: TubFit,
    *,
    cost: ChangeCost | None = None,
    rule: ClearRule | None = None,
    sure: float | None = None,
) -> ChangeAdvice:
    """Find the cheapest interval from now on, and whether a change is due.

    Parameters
    ----------
    fit : TubFit
        From `fit_tub`.
    cost : ChangeCost, optional
        What changes and days cost; `usual_cost` of this bath without it.
    rule : ClearRule, optional
        What counts as degreased.
    sure : float, optional
        How sure that must be before the skulls come out, 0 to 1; the table's without it. Until
        then there is always a change due.

    Raises
    ------
    ForecastError
        For a negative cost, or a day that costs nothing.

    Notes
    -----
    Each interval costs days x day + changes x change until the skulls come out: when they are
    surely degreased. The same draws serve every interval, so that differences are not chance.
    Where they are nearly or more than surely degreased, so few days would be left that the longest
    interval would always win; what counts is then that what may be left is halved.
    """
    rule = rule or ClearRule()
    usual = filled_plan(fit.timeline, Plan())
    cost = cost or usual_cost(usual.recipe, usual.temperature_c, volume_l=fit.volume_l)
    _check(cost)
    form_draws = thinned_draws(fit, DRAWS)
    sure = advice_value("degreased_probability") if sure is None else sure
    left = _may_be_left(fit, form_draws, usual, rule, sure)
    goal = replace(rule, grease_left_share=min(rule.grease_left_share, LEAST_GOAL * left))
    options = tuple(_option(fit, form_draws, days, goal, cost, sure) for days in INTERVALS_DAYS)
    unseen = usual.recipe is Recipe.ACETONE  # grease dissolved in it makes no haze
    best = usual.change_interval_days if unseen else _cheapest(options)
    calendar = fit.timeline.calendar
    age = calendar.now_days - calendar.last_change_days
    due = calendar.at(calendar.last_change_days + best)
    saved = _saved(fit, form_draws, usual, rule)
    advice = ChangeAdvice(
        verdict=(
            ChangeVerdict.ENOUGH if left < rule.grease_left_share else verdict_on(due, fit.now)
        ),
        best_interval_days=best,
        usual_interval_days=usual.change_interval_days,
        due_at=max(due, fit.now),
        bath_age_days=age,
        leach_share=_leach_share(fit, form_draws),
        twice_as_often=saved,
        cost=cost,
        options=options,
        reasons=(),
    )
    return replace(advice, reasons=_reasons(advice, unseen=unseen))


def _check(cost: ChangeCost) -> None:
    parts = (cost.soap, cost.heat, cost.work)
    if not (all(0 <= part < np.inf for part in parts) and 0 < cost.day < np.inf):
        raise ForecastError(
            "a water change costs less than nothing or without end, or a day of soaking nothing",
            hint="give what a change costs (0 or more) and what a day costs (above 0)",
        )


def _may_be_left(
    fit: TubFit, form_draws: tuple[FormDraws, ...], usual: FilledPlan, rule: ClearRule, sure: float
) -> float:
    """Return the share of grease that is surely the most that any skull still holds."""
    left = dates_of(fit, usual, rule, form_draws=form_draws).left_share.max(axis=0)
    return float(np.quantile(left, sure, method="inverted_cdf"))


def _days_left(
    fit: TubFit, form_draws: tuple[FormDraws, ...], interval_days: float, rule: ClearRule
) -> FloatArray:
    """Return the days from now until degreased, shape (draws,), ten years at most."""
    plan = filled_plan(fit.timeline, Plan(change_interval_days=interval_days))
    done = dates_of(fit, plan, rule, form_draws=form_draws).degreased_days.max(axis=0)
    left: FloatArray = done - fit.timeline.calendar.now_days
    return np.clip(left, 0.0, LATEST_DAYS)


def _option(
    fit: TubFit,
    form_draws: tuple[FormDraws, ...],
    interval_days: float,
    rule: ClearRule,
    cost: ChangeCost,
    sure: float,
) -> IntervalOption:
    left = _days_left(fit, form_draws, interval_days, rule)
    days = float(np.quantile(left, sure, method="inverted_cdf"))
    if days >= LATEST_DAYS:
        return IntervalOption(interval_days=interval_days, days=None, changes=None, cost=None)
    changes = days / interval_days
    total = days * cost.day + changes * cost.change
    return IntervalOption(interval_days=interval_days, days=days, changes=changes, cost=total)


def _cheapest(options: tuple[IntervalOption, ...]) -> float:
    """Return the shortest interval that costs as good as least [days]."""
    priced = {one.interval_days: one.cost for one in options if one.cost is not None}
    most = AS_CHEAP * min(priced.values(), default=0.0)
    return min((days for days, cost in priced.items() if cost <= most), default=INTERVALS_DAYS[0])


def verdict_on(due: datetime, now: datetime) -> ChangeVerdict:
    """Return whether a change that is due at a time is to be made now."""
    return ChangeVerdict.CHANGE if due <= now + DUE_WITHIN else ChangeVerdict.WAIT


def _saved(
    fit: TubFit, form_draws: tuple[FormDraws, ...], usual: FilledPlan, rule: ClearRule
) -> DaysSaved:
    half = usual.change_interval_days / 2
    now, often = (
        _days_left(fit, form_draws, days, rule) for days in (usual.change_interval_days, half)
    )
    low, median, high = (float(value) for value in np.quantile(now - often, (0.1, 0.5, 0.9)))
    return DaysSaved(interval_days=half, low_days=low, median_days=median, high_days=high)


def _leach_share(fit: TubFit, form_draws: tuple[FormDraws, ...]) -> float:
    """Return the rate of leaching now over that had the water just been changed."""
    shares = []
    for course in (drawn.course for drawn in form_draws):
        weights = course.weights(fit.timeline.now)[0]
        fresh = keep_bath_share(course.modes, weights, 0.0)
        slopes = course.modes.bath * course.modes.decay_per_day
        rates = [(slopes * some).sum(axis=0) for some in (weights, fresh)]
        shares.append(rates[0] / np.maximum(rates[1], 1e-12))
    return float(np.clip(np.median(np.concatenate(shares)), 0.0, 1.0))


def _reasons(advice: ChangeAdvice, *, unseen: bool) -> tuple[Reason, ...]:
    if unseen:
        return (Reason(code=ReasonCode.NO_HAZE, values=(advice.usual_interval_days,)),)
    if advice.verdict is ChangeVerdict.ENOUGH:
        return (Reason(code=ReasonCode.LITTLE_GREASE),)
    saved, price = advice.twice_as_often, advice.cost
    often = (saved.interval_days, advice.usual_interval_days)
    days = (saved.median_days, saved.low_days, saved.high_days)
    return (
        Reason(code=ReasonCode.LEACHING, values=(advice.bath_age_days, advice.leach_share)),
        Reason(
            code=ReasonCode.CHEAPEST, values=(advice.best_interval_days, price.change, price.day)
        ),
        Reason(code=ReasonCode.TWICE_AS_OFTEN, values=(*often, *days)),
    )
