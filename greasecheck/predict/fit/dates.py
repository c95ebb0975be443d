"""From a fitted tub and a plan to the days on which it runs clear and its skulls are done."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.predict.fit.posterior import SEED
from greasecheck.predict.model.arrhenius import rate_factor
from greasecheck.predict.model.course import run_course
from greasecheck.predict.model.kinetics import DONE_SHARE
from greasecheck.predict.model.projection import (
    Cycle,
    Routine,
    cycle_of,
    days_since_below,
    days_until_below,
    gain_row,
    grease_row,
    value_of,
)
from greasecheck.predict.records import FilledPlan, Plan
from greasecheck.predict.tables import recipe_prior, species_mass_kg, spread

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.tub_fit import FormDraws, TubFit
    from greasecheck.predict.model.course import Course
    from greasecheck.predict.model.timeline import Timeline
    from greasecheck.predict.records import ClearRule

LEAST_LOOK_AHEAD_DAYS = 10.0  # over which the pace ahead is averaged; no source
LEAST_SOAKED_DAYS = 1e-3  # keeps a logarithm finite
HALF = 0.5  # of the grease


def filled_plan(timeline: Timeline, plan: Plan) -> FilledPlan:
    """Return the plan with what has been usual in place of what it leaves open.

    Where the water was last measured cold it is taken to stay so.
    """
    usual, cold = timeline.usual_condition, timeline.calendar.steps.cold
    usual_c = cold.temperature_c if cold else usual.temperature_c
    interval = timeline.calendar.usual_interval_days()
    return FilledPlan(
        change_interval_days=plan.change_interval_days or interval,
        temperature_c=usual_c if plan.temperature_c is None else plan.temperature_c,
        recipe=plan.recipe or usual.recipe,
    )


def routine_of(timeline: Timeline, course: Course, plan: FilledPlan) -> Routine:
    """Return the routine under a plan: its heat from now on, its recipe from the next change."""
    calendar, draws = timeline.calendar, course.draws
    interval, temperature_c = plan.change_interval_days, plan.temperature_c
    warmth = rate_factor(temperature_c, draws.activation_kj_per_mol) * _awake(timeline, course)
    present = draws.rate_ratio[timeline.now.recipe[0]]
    return Routine(
        first_days=max(calendar.last_change_days + interval - calendar.now_days, 0.0),
        interval_days=interval,
        first_pace=warmth * present,
        pace=warmth * planned_ratio(timeline, course, plan),
        kept=_usual_kept(timeline, course),
    )


def _awake(timeline: Timeline, course: Course) -> FloatArray:
    """Return the mean share of its full pace at which leaching runs until it is about done."""
    now = course.soaked[-1] + timeline.now.exposure_days[0] @ course.speed
    ahead = np.maximum(course.draws.done_days.max(axis=0) - now, LEAST_LOOK_AHEAD_DAYS)
    counted = course.draws.tempo.counted
    share: FloatArray = (counted(now + ahead) - counted(now)) / ahead
    return share


def _usual_kept(timeline: Timeline, course: Course) -> FloatArray:
    """Return the median logged carry-over, or each draw's own where half were never logged."""
    calendar = timeline.calendar
    each = calendar.carry_over[calendar.changed]
    logged = each[~np.isnan(each)]
    fitted = course.draws.carry_over
    return np.full_like(fitted, np.median(logged)) if len(logged) > len(each) / 2 else fitted


def planned_ratio(timeline: Timeline, course: Course, plan: FilledPlan) -> FloatArray:
    """Return the planned recipe's rate ratio; one never used here comes from its prior.

    Then the draws have evenly spread quantiles of the prior, in an order that depends on nothing
    else that is drawn; a single draw has its median.
    """
    recipes = timeline.calendar.recipes
    if plan.recipe in recipes:
        row: FloatArray = course.draws.rate_ratio[recipes.index(plan.recipe)]
        return row
    prior = recipe_prior(plan.recipe)
    draws = course.speed.shape[1]
    quantiles = special.ndtri((np.arange(draws) + 0.5) / draws)
    chance = np.random.default_rng((SEED, 2)).permutation(quantiles)
    ratio: FloatArray = prior.rate_ratio * np.exp(prior.rate_log_std * chance)
    return ratio


def left_error(fit: TubFit, drawn: FormDraws) -> FloatArray:
    """Return what is left now over what the form of each draw says, shape (draws,).

    The error has two parts: the model's misfit as residuals show it (the drift), and what no
    residual can show (`left_now_share`).
    """
    error: FloatArray = np.exp(_log_std(fit, "left_now_share") * drawn.tail)
    return error


def off_by(share: FloatArray, error: FloatArray) -> FloatArray:
    """Return shares left with an error by a factor: of what is left, or of what is gone if less.

    A skull that has given off nothing yet so holds all of its grease, whatever the error. The error
    is a shift on the scale of the quantiles of the Laplace law.

    Parameters
    ----------
    share : ndarray, shape (draws,)
        What is left, 0 to 1.
    error : ndarray, shape (draws,)
        The factor, by which small shares are multiplied.

    Examples
    --------
    >>> off_by(np.array([0.01, 0.25, 0.5, 0.9, 1.0]), np.full(5, 4.0)).round(3).tolist()
    [0.04, 0.75, 0.875, 0.975, 1.0]
    >>> off_by(np.array([0.75]), np.array([0.25])).tolist()
    [0.25]
    """
    left = np.clip(share, 0.0, 1.0)
    with np.errstate(divide="ignore"):  # of 0 and 1, which stay
        place = np.sign(HALF - left) * np.log(2 * np.minimum(left, 1 - left))
    moved = place + np.log(error)
    tail = np.exp(-np.abs(moved)) / 2
    found: FloatArray = np.where(moved < 0, tail, 1 - tail)
    return found


def tail_error(fit: TubFit, drawn: FormDraws) -> FloatArray:
    """Return the error of what will be left, as a factor like that of `left_error`.

    What a bone has given off was seen, how the rest will leave was not. So more may be left later
    by the whole tail (`tail_share`), less only by the error of what is left now.
    """
    later, now = _log_std(fit, "tail_share"), _log_std(fit, "left_now_share")
    error: FloatArray = np.exp(np.where(drawn.tail > 0, later, now) * drawn.tail)
    return error


def _log_std(fit: TubFit, share: str) -> float:
    return float(np.hypot(fit.whitening.noise.drift, spread(share).median))


@dataclass(frozen=True, slots=True, kw_only=True)
class TubDates:
    """Equally likely courses of a tub under a plan; skulls are those in it now.

    Attributes
    ----------
    clear_days : ndarray, shape (draws,)
        When it runs clear, in days from the origin.
    degreased_days, alone_clear_days : ndarray, shape (skulls, draws)
        When each skull is degreased, and when a bath with it alone would run clear.
    left_share : ndarray, shape (skulls, draws)
        Share of its grease that each holds now.
    gain_per_m : ndarray, shape (draws,)
        What a fresh bath left alone would gain now, in the standard volume [1/m].
    """

    clear_days: FloatArray
    degreased_days: FloatArray
    alone_clear_days: FloatArray
    left_share: FloatArray
    gain_per_m: FloatArray


def dates_of(
    fit: TubFit, plan: FilledPlan, rule: ClearRule, *, form_draws: tuple[FormDraws, ...] = ()
) -> TubDates:
    """Return the courses that the draws of a fit take under a plan.

    Parameters
    ----------
    fit : TubFit
        The fitted tub.
    plan : FilledPlan
        How it is run from now on.
    rule : ClearRule
        What counts as clear and as degreased.
    form_draws : tuple of FormDraws, optional
        Draws to be asked; all of the fit without it.
    """
    parts = [_dates_of_form(fit, drawn, plan, rule) for drawn in form_draws or fit.form_draws]
    return TubDates(
        clear_days=np.concatenate([part.clear_days for part in parts]),
        degreased_days=np.hstack([part.degreased_days for part in parts]),
        alone_clear_days=np.hstack([part.alone_clear_days for part in parts]),
        left_share=np.hstack([part.left_share for part in parts]),
        gain_per_m=np.concatenate([part.gain_per_m for part in parts]),
    )


def _dates_of_form(fit: TubFit, drawn: FormDraws, plan: FilledPlan, rule: ClearRule) -> TubDates:
    course, here = drawn.course, np.flatnonzero(fit.timeline.present)
    ask = _Asked.of(fit, drawn, plan)
    gain = clear_gain_row(fit, course, rule)
    grease = [
        row for row, is_in in zip(skull_rows(course), fit.timeline.present, strict=True) if is_in
    ]
    clear = ask.days_below(gain * volume_share(fit), rule.gain_per_m)
    alone = [
        ask.days_below(only_of(course, gain, int(n)) * volume_share(fit, int(n)), rule.gain_per_m)
        for n in here
    ]
    return TubDates(
        clear_days=clear,
        degreased_days=np.stack(
            [ask.days_until_share(row, rule.grease_left_share) for row in grease]
        ),
        alone_clear_days=np.stack(alone) if len(alone) > 1 else clear[None],
        left_share=np.stack([ask.share_now(row) for row in grease]),
        gain_per_m=ask.now(gain) * volume_share(fit),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """The draws of one form under a plan, ready for several questions."""

    course: Course
    state: FloatArray
    times: FloatArray
    now_days: float
    routine: Routine
    cycle: Cycle
    error_now: FloatArray
    error_ahead: FloatArray

    @classmethod
    def of(cls, fit: TubFit, drawn: FormDraws, plan: FilledPlan) -> _Asked:
        """Return the draws of one form under a plan."""
        calendar, course = fit.timeline.calendar, drawn.course
        routine = routine_of(fit.timeline, course, plan)
        return cls(
            course=course,
            state=course.weights(fit.timeline.now)[0],
            times=np.append(calendar.event_days, calendar.now_days),
            now_days=calendar.now_days,
            routine=routine,
            cycle=cycle_of(course.modes, routine),
            error_now=left_error(fit, drawn),
            error_ahead=tail_error(fit, drawn),
        )

    def now(self, row: FloatArray) -> FloatArray:
        """Return a quantity now, the forms' own error let in."""
        value: FloatArray = value_of(row, self.state) * self.error_now
        return value

    def share_now(self, row: FloatArray) -> FloatArray:
        """Return the share of its grease that a skull holds now, the forms' own error let in."""
        return off_by(value_of(row, self.state), self.error_now)

    def days_below(self, row: FloatArray, limit: float) -> FloatArray:
        """Return when a quantity is below its limit, in days from the origin."""
        return self._days_below(row, limit / self.error_now, limit / self.error_ahead)

    def days_until_share(self, row: FloatArray, limit: float) -> FloatArray:
        """Return when a skull holds less than a share, in days from the origin."""
        share = np.full_like(self.error_now, limit)
        return self._days_below(
            row, off_by(share, 1 / self.error_now), off_by(share, 1 / self.error_ahead)
        )

    def _days_below(self, row: FloatArray, now: FloatArray, ahead: FloatArray) -> FloatArray:
        past = np.vstack([value_of(row, self.course.after), value_of(row, self.state)])
        since = days_since_below(self.times, past, now)
        until = days_until_below(
            self.course.modes, self.cycle, self.state, self.routine, row, ahead
        )
        return np.where(np.isfinite(since), since, self.now_days + until)


def usual_log_days(fit: TubFit, skull: int, rule: ClearRule) -> tuple[float, float]:
    """Return the mean and the spread of the log of a skull's usual time [days at 40 degrees C].

    The species table speaks of a tenth left; other shares come so much sooner or later as at the
    end of an exponential decline.
    """
    time = fit.done_times[skull]
    of_share = float(np.log(np.log(rule.grease_left_share) / np.log(DONE_SHARE)))
    return time.log_mean + of_share, time.log_std


def usual_share(fit: TubFit, skull: int, soaked: float, rule: ClearRule) -> float:
    """Return the share of skulls of its kind that are done by the rule after so long, 0 to 1."""
    log_mean, log_std = usual_log_days(fit, skull, rule)
    away = (np.log(max(soaked, LEAST_SOAKED_DAYS)) - log_mean) / log_std
    return float(special.ndtr(away))


def soaked_days(fit: TubFit) -> list[float]:
    """Return how long each skull soaked until now, in days of the reference bath.

    One that left counts as if it had stayed.
    """
    timeline, draws = fit.timeline, fit.fits[0].peak.draws
    course = run_course(timeline, draws)
    now = float(course.soaked[-1, 0] + timeline.now.exposure_days[0] @ course.speed[:, 0])
    before = timeline.soaked_before_days @ course.speed[:, 0]
    entered = [float(course.soaked[row, 0]) for row in timeline.calendar.enters.argmax(axis=0)]
    return [now - begun + float(days) for begun, days in zip(entered, before, strict=True)]


def clear_gain_row(fit: TubFit, course: Course, rule: ClearRule) -> FloatArray:
    """Return the row of what a fresh bath left alone gains in this tub [1/m]."""
    return gain_row(course.modes, rule.soak_days * course.speed[fit.timeline.usual])


def only_of(course: Course, row: FloatArray, skull: int) -> FloatArray:
    """Return the row of the same quantity with one skull's grease alone."""
    pools = course.draws.grease_per_m.shape[1]
    vectors = course.modes.vectors[skull * pools : (skull + 1) * pools]
    seen = np.einsum("cmd,md->cd", vectors, row)
    alone: FloatArray = np.einsum("cmd,cd->md", vectors, seen)
    return alone


def volume_share(fit: TubFit, skull: int | None = None) -> float:
    """Return the tub's litres over the standard litres of its skulls, or of one of them.

    The same grease makes less haze in more water: what a tub gains is counted as if it held
    `standard_l_per_kg` litres for each kg of skull. A tub of unknown volume is taken to.
    """
    masses = [
        species_mass_kg(one.species) if is_in else 0.0
        for one, is_in in zip(fit.skulls, fit.timeline.present, strict=True)
    ]
    counted = sum(masses) if skull is None else masses[skull]
    standard = spread("standard_l_per_kg").median
    litres = standard * sum(masses) if fit.volume_l is None else fit.volume_l
    return litres / (standard * counted) if counted else 1.0


def skull_rows(course: Course) -> list[FloatArray]:
    """Return for each skull the row of the share of its grease that it still holds."""
    grease = course.draws.grease_per_m
    pools = grease.shape[1]
    return [
        grease_row(course.modes, slice(n * pools, (n + 1) * pools)) / grease[n].sum(axis=0)
        for n in range(len(grease))
    ]
