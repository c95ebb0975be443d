"""A tub fitted once, so that it can be asked under many plans."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.fit.clear_prior import skull_time, slowest_time
from greasecheck.predict.fit.posterior import SEED, FormFit, fit_forms
from greasecheck.predict.fit.unlogged import find_unlogged, with_changes
from greasecheck.predict.model.arrhenius import rate_factor
from greasecheck.predict.model.course import Course, run_course
from greasecheck.predict.model.history import build_timeline
from greasecheck.predict.model.leaching import fresh_soak_gain
from greasecheck.predict.model.projection import Routine, days_since_clear, days_until_clear
from greasecheck.predict.records import ClearRule, FilledPlan, Plan
from greasecheck.predict.tables import recipe_prior

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.clear_prior import ClearTime
    from greasecheck.predict.forecast_records import UnloggedChange
    from greasecheck.predict.model.timeline import Timeline
    from greasecheck.predict.records import FinishedTub, SoakingSkull, TubHistory

DRAWS = 2000
USUAL_INTERVAL_DAYS = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """Equally likely draws of one form.

    Attributes
    ----------
    course : Course
        The tub under each draw.
    log_clear_days : ndarray, shape (draws,)
        Log of the standard days until clear.
    """

    course: Course
    log_clear_days: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class TubFit:
    """A fitted tub.

    Attributes
    ----------
    now : datetime.datetime
        The time of the fit.
    timeline : Timeline
        The story, unlogged changes put in.
    skulls : tuple of SoakingSkull
        Skulls in the tub now.
    skull_times : tuple of ClearTime
        What was expected of each before it was read.
    clear_time : ClearTime
        What was expected of the slowest.
    unlogged : tuple of UnloggedChange
        Changes nobody logged.
    fits : tuple of FormFit
        Posterior under each form left, weightiest first.
    branches : tuple of Branch
        All draws are equally likely, over all branches.
    """

    now: datetime
    timeline: Timeline
    skulls: tuple[SoakingSkull, ...]
    skull_times: tuple[ClearTime, ...]
    clear_time: ClearTime
    unlogged: tuple[UnloggedChange, ...]
    fits: tuple[FormFit, ...]
    branches: tuple[Branch, ...]


def fit_tub(history: TubHistory, now: datetime, *, finished: Sequence[FinishedTub] = ()) -> TubFit:
    """Fit a tub's history as known at `now`; later entries are not looked at.

    Parameters
    ----------
    history : TubHistory
        Skulls, changes, readings and temperatures.
    now : datetime.datetime
        Zone-aware.
    finished : sequence of FinishedTub
        The user's own finished tubs, which bend the species table.

    Raises
    ------
    ForecastError
        For a tub without a skull or filling, or with impossible entries.
    """
    build_timeline(history, now)  # refuses what makes no sense before anything is worked out
    skulls = tuple(skull for skull in history.skulls if skull.since <= now)
    skull_times = tuple(skull_time(skull.species, finished) for skull in skulls)
    clear_time = slowest_time(skull_times)
    unlogged = find_unlogged(history, now, clear_time)
    timeline = build_timeline(with_changes(history, unlogged), now)
    fits = fit_forms(timeline, clear_time)
    return TubFit(
        now=now,
        timeline=timeline,
        skulls=skulls,
        skull_times=skull_times,
        clear_time=clear_time,
        unlogged=unlogged,
        fits=fits,
        branches=tuple(_branch(timeline, fit) for fit in fits if round(DRAWS * fit.weight)),
    )


def _branch(timeline: Timeline, fit: FormFit) -> Branch:
    """Resample equally likely draws of one form, as many as its weight earns."""
    count = round(DRAWS * fit.weight)
    ranks = (np.arange(count) + 0.5) / count
    chosen = np.searchsorted(np.cumsum(fit.draws.weights), ranks)
    points = fit.draws.points[:, np.minimum(chosen, fit.draws.points.shape[1] - 1)]
    return Branch(
        course=run_course(timeline, fit.peak.parameters.draws(points)),
        log_clear_days=fit.peak.parameters.log_clear_days(points),
    )


def filled_plan(timeline: Timeline, plan: Plan) -> FilledPlan:
    """Return the plan with what has been usual in place of what it leaves open."""
    usual = timeline.calendar.steps.conditions[timeline.usual]
    interval = timeline.calendar.usual_interval_days(USUAL_INTERVAL_DAYS)
    return FilledPlan(
        change_interval_days=plan.change_interval_days or interval,
        temperature_c=usual.temperature_c if plan.temperature_c is None else plan.temperature_c,
        recipe=plan.recipe or usual.recipe,
    )


def soak_days(timeline: Timeline, course: Course, rule: ClearRule) -> FloatArray:
    """Return the effective days of the standard soak: in this tub as it has usually been kept."""
    days: FloatArray = rule.soak_days * course.speed[timeline.usual]
    return days


def routine_of(timeline: Timeline, course: Course, plan: FilledPlan) -> Routine:
    """Return the routine under a plan: its heat from now on, its recipe from the next change."""
    calendar = timeline.calendar
    interval, temperature_c = plan.change_interval_days, plan.temperature_c
    warmth = rate_factor(temperature_c, course.draws.activation_kj_per_mol)
    present = course.draws.rate_ratio[timeline.now.recipe[0]]
    return Routine(
        first_days=max(calendar.last_change_days + interval - calendar.now_days, 0.0),
        interval_days=interval,
        first_pace=warmth * present,
        pace=warmth * planned_ratio(timeline, course, plan),
        kept=_usual_kept(timeline, course),
    )


def _usual_kept(timeline: Timeline, course: Course) -> FloatArray:
    """Return the median logged carry-over, or each draw's own where none was ever logged."""
    calendar = timeline.calendar
    logged = calendar.carry_over[calendar.changed & ~np.isnan(calendar.carry_over)]
    fitted = course.draws.carry_over
    return np.full_like(fitted, np.median(logged)) if len(logged) else fitted


def planned_ratio(timeline: Timeline, course: Course, plan: FilledPlan) -> FloatArray:
    """Return the planned recipe's rate ratio; one never used here comes from its prior."""
    recipes = timeline.calendar.recipes
    if plan.recipe in recipes:
        row: FloatArray = course.draws.rate_ratio[recipes.index(plan.recipe)]
        return row
    prior = recipe_prior(plan.recipe)
    chance = np.random.default_rng(SEED).standard_normal(course.speed.shape[1])
    ratio: FloatArray = prior.rate_ratio * np.exp(prior.rate_log_std * chance)
    return ratio


def gains_per_m(timeline: Timeline, course: Course, rule: ClearRule) -> FloatArray:
    """Return what a fresh soak would have gained after each event and now, shape (n + 1, draws)."""
    weights = np.concatenate([course.after, course.weights(timeline.now)])
    return fresh_soak_gain(course.modes, weights, soak_days(timeline, course, rule))


def clear_days(timeline: Timeline, course: Course, plan: FilledPlan, rule: ClearRule) -> FloatArray:
    """Return when each draw runs clear, in days from the origin, shape (draws,)."""
    calendar = timeline.calendar
    since = days_since_clear(
        np.append(calendar.event_days, calendar.now_days),
        gains_per_m(timeline, course, rule),
        rule.gain_per_m,
    )
    until = days_until_clear(
        course.modes,
        course.weights(timeline.now)[0],
        routine_of(timeline, course, plan),
        soak_days(timeline, course, rule),
        rule.gain_per_m,
    )
    return np.where(np.isfinite(since), since, calendar.now_days + until)
