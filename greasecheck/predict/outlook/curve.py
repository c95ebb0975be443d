"""The haze of a tub as fitted and as planned, for charts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.fit.dates import (
    clear_gain_row,
    off_by,
    routine_of,
    skull_rows,
    tail_error,
    volume_share,
)
from greasecheck.predict.fit.tub_fit import thinned_draws
from greasecheck.predict.forecast_records import HazeCurve
from greasecheck.predict.model.leaching import (
    bath_haze,
    decay,
    keep_bath_share,
)
from greasecheck.predict.model.projection import cycle_of, value_of, weights_after_changes
from greasecheck.predict.tables import recipe_prior

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.tub_fit import FormDraws, TubFit
    from greasecheck.predict.model.course import Course
    from greasecheck.predict.model.projection import Routine
    from greasecheck.predict.records import ClearRule, FilledPlan

CURVE_DRAWS = 200  # an edge of the band is off by 2.1 in 100 of them (binomial)
MOST_DAYS_AHEAD = 400.0
JUST_AFTER_DAYS = 1e-6  # after an event: that moment shows the fresh water
QUANTILES = (0.1, 0.5, 0.9)


def haze_curve(fit: TubFit, plan: FilledPlan, rule: ClearRule, days_ahead: float) -> HazeCurve:
    """Return the curve from the origin until `days_ahead` days from now.

    Parameters
    ----------
    fit : TubFit
        The fitted tub.
    plan : FilledPlan
        How the tub will be run.
    rule : ClearRule
        Sets the standard soak.
    days_ahead : float
        How far to look [days]; at most 400.
    """
    past = _past_days(fit)
    ahead = _ahead_days(min(days_ahead, MOST_DAYS_AHEAD))
    both = [
        _values(fit, drawn, plan, rule, past, ahead) for drawn in thinned_draws(fit, CURVE_DRAWS)
    ]
    haze, gain, left = (
        np.quantile(np.sort(np.hstack(parts)), QUANTILES, axis=1)  # a sort is quicker than parting
        for parts in zip(*both, strict=True)
    )
    calendar = fit.timeline.calendar
    days = np.concatenate([past, calendar.now_days + ahead])
    return HazeCurve(
        times=tuple(calendar.at(float(day)) for day in days),
        low_per_m=haze[0],
        median_per_m=haze[1],
        high_per_m=haze[2],
        gain_low_per_m=gain[0],
        gain_median_per_m=gain[1],
        gain_high_per_m=gain[2],
        left_low_share=left[0],
        left_median_share=left[1],
        left_high_share=left[2],
    )


def _past_days(fit: TubFit) -> FloatArray:
    """Return each day so far and the moments before and after each event."""
    calendar = fit.timeline.calendar
    events = calendar.event_days
    daily = np.arange(0.0, calendar.now_days)
    days = np.concatenate([daily, events, events + JUST_AFTER_DAYS, [calendar.now_days]])
    kept: FloatArray = np.unique(days[(days > 0) & (days <= calendar.now_days)])
    return kept


def _ahead_days(days_ahead: float) -> FloatArray:
    return np.arange(1.0, max(days_ahead, 1.0) + 1.0)


def _values(
    fit: TubFit,
    drawn: FormDraws,
    plan: FilledPlan,
    rule: ClearRule,
    past: FloatArray,
    ahead: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return haze and lone gain [1/m] and the share left, each of shape (times, draws)."""
    timeline, course = fit.timeline, drawn.course
    before = timeline.calendar.moments(past)
    coming, changes = _coming_weights(course, routine_of(timeline, course, plan), fit, ahead)
    weights = np.concatenate([course.weights(before), coming])
    fresh = np.concatenate(
        [course.draws.fresh_per_m[before.recipe], _fresh_ahead(fit, course, plan, changes)]
    )
    error = tail_error(fit, drawn)  # as of the dates, so that a line has no step today
    gain = value_of(clear_gain_row(fit, course, rule), weights) * volume_share(fit)
    rows = [row for row, is_in in zip(skull_rows(course), timeline.present, strict=True) if is_in]
    left = np.max([value_of(row, weights) for row in rows], axis=0)
    return (
        fresh + bath_haze(course.modes, weights),
        gain * error,
        off_by(left, error),
    )


def _coming_weights(
    course: Course, routine: Routine, fit: TubFit, ahead: FloatArray
) -> tuple[FloatArray, NDArray[np.intp]]:
    """Return the mode weights on the days ahead, and how many changes lie before each."""
    past_first = np.maximum(ahead - routine.first_days, 0.0)
    done = np.where(
        ahead > routine.first_days, np.ceil(past_first / routine.interval_days), 0.0
    ).astype(np.intp)
    now = course.weights(fit.timeline.now)[0]
    at_change = now * decay(course.modes, (routine.first_days * routine.first_pace)[None])[0]
    first = keep_bath_share(course.modes, at_change, routine.kept)
    later, place = np.unique(np.maximum(done - 1, 0), return_inverse=True)
    after = weights_after_changes(cycle_of(course.modes, routine), first, later.astype(np.float64))
    begun = (done > 0)[:, None, None]
    last_change = routine.first_days + routine.interval_days * (done - 1)
    since = np.where(done > 0, ahead - last_change, ahead)
    pace = np.where((done == 0)[:, None], routine.first_pace, routine.pace)
    coming: FloatArray = np.where(begun, after[place], now) * decay(
        course.modes, since[:, None] * pace
    )
    return coming, done


def _fresh_ahead(
    fit: TubFit, course: Course, plan: FilledPlan, changes: NDArray[np.intp]
) -> FloatArray:
    """Return the fresh bath's haze on the days ahead, shape (days, draws) [1/m]."""
    recipes, recipe = fit.timeline.calendar.recipes, plan.recipe
    present = course.draws.fresh_per_m[fit.timeline.now.recipe[0]]
    planned = (
        course.draws.fresh_per_m[recipes.index(recipe)]
        if recipe in recipes
        else np.full_like(present, recipe_prior(recipe).fresh_per_m)
    )
    fresh: FloatArray = np.where((changes == 0)[:, None], present, planned)
    return fresh
