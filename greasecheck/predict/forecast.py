"""When will a tub run clear: fit its history once, then ask under any plan and rule."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.arrhenius import rate_factor
from greasecheck.predict.clear_prior import skull_time, slowest_time
from greasecheck.predict.leaching import decay, fresh_soak_gain
from greasecheck.predict.likelihood import Course, pace, run_course
from greasecheck.predict.posterior import SEED, fit_forms
from greasecheck.predict.projection import Routine, days_since_clear, days_until_clear
from greasecheck.predict.records import ClearRule, Plan
from greasecheck.predict.tables import recipe_prior
from greasecheck.predict.timeline import build_timeline

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.model import FloatArray
    from greasecheck.predict.clear_prior import ClearTime
    from greasecheck.predict.parameters import Draws, Parameters
    from greasecheck.predict.posterior import FormFit
    from greasecheck.predict.records import FinishedTub, TubHistory
    from greasecheck.predict.timeline import Condition, Timeline

DRAWS = 2000
USUAL_INTERVAL_DAYS = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """Equally likely draws of one form and the course they give."""

    parameters: Parameters
    points: FloatArray
    draws: Draws
    course: Course


@dataclass(frozen=True, slots=True, kw_only=True)
class TubFit:
    """A fitted tub, ready to be asked."""

    history: TubHistory
    now: datetime
    timeline: Timeline
    clear_time: ClearTime
    skull_times: tuple[ClearTime, ...]
    fits: tuple[FormFit, ...]
    weights: FloatArray
    branches: tuple[Branch, ...]


def fit_tub(
    history: TubHistory, now: datetime, *, finished: Sequence[FinishedTub] = ()
) -> TubFit:
    timeline = build_timeline(history, now)
    skull_times = tuple(skull_time(skull.species, finished) for skull in history.skulls)
    clear_time = slowest_time(skull_times)
    fits = fit_forms(timeline, clear_time)
    log_weights = np.array([fit.log_weight for fit in fits])
    weights = np.exp(log_weights - log_weights.max())
    weights = weights / weights.sum()
    return TubFit(
        history=history, now=now, timeline=timeline, clear_time=clear_time,
        skull_times=skull_times, fits=fits, weights=weights,
        branches=_branches(timeline, fits, weights),
    )


def _branches(timeline: Timeline, fits: Sequence[FormFit], weights: FloatArray) -> tuple[Branch, ...]:
    generator = np.random.default_rng(SEED)
    branches = []
    for fit, weight in zip(fits, weights, strict=True):
        count = round(DRAWS * weight)
        if not count:
            continue
        ranks = (np.arange(count) + generator.random()) / count
        chosen = np.searchsorted(np.cumsum(fit.draws.weights), ranks)
        points = fit.draws.points[:, np.minimum(chosen, fit.draws.points.shape[1] - 1)]
        draws = fit.peak.parameters.draws(points)
        branches.append(
            Branch(parameters=fit.peak.parameters, points=points, draws=draws,
                   course=run_course(timeline, draws))
        )
    return tuple(branches)


def branch_days(fit: TubFit, branch: Branch, plan: Plan, rule: ClearRule) -> FloatArray:
    timeline, modes = fit.timeline, branch.course.modes
    speed = pace(timeline.conditions, timeline.recipes, branch.draws)
    usual = int(np.argmax(timeline.exposure_days.sum(axis=0)))
    soak_days = rule.soak_days * speed[usual]
    now = branch.course.after[-1] * decay(modes, timeline.exposure_days[-1:] @ speed)[0]
    gains = fresh_soak_gain(modes, np.concatenate([branch.course.after, now[None]]), soak_days)
    since = days_since_clear(np.append(timeline.event_days, timeline.now_days), gains, rule.gain_per_m)
    routine = _routine(timeline, branch, plan, speed, usual)
    until = timeline.now_days + days_until_clear(modes, now, routine, soak_days, rule.gain_per_m)
    return np.where(np.isfinite(since), since, until)


def _routine(timeline, branch, plan, speed, usual):
    draws = branch.draws
    interval = plan.change_interval_days or timeline.usual_interval_days(USUAL_INTERVAL_DAYS)
    first = max(timeline.last_change_days + interval - timeline.now_days, 0.0)
    cond = timeline.conditions[usual]
    t = plan.temperature_c if plan.temperature_c is not None else cond.temperature_c
    ratio = draws.rate_ratio[timeline.recipes.index(cond.recipe)]
    first_pace = rate_factor(t, draws.activation_kj_per_mol) * ratio
    return Routine(first_days=first, interval_days=interval, first_pace=first_pace, pace=first_pace,
                   kept=draws.carry_over)
