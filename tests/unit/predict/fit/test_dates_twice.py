"""From a fit to dates: plan, routine, volume, worked by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from greasecheck.model import Recipe
from greasecheck.predict.fit.dates import (
    clear_gain_row,
    dates_of,
    filled_plan,
    left_error,
    off_by,
    only_of,
    planned_ratio,
    routine_of,
    skull_rows,
    soaked_days,
    tail_error,
    volume_share,
)
from greasecheck.predict.fit.tub_fit import TubFit, fit_tub, thinned_draws
from greasecheck.predict.model.course import run_course
from greasecheck.predict.model.history import build_timeline
from greasecheck.predict.model.projection import value_of
from greasecheck.predict.records import (
    ClearRule,
    FilledPlan,
    Plan,
    SoakingSkull,
    TemperatureRecord,
    TubHistory,
    WaterChange,
)
from greasecheck.predict.tables import recipe_prior, species_mass_kg
from tests.unit.predict.soaks import fresh_soak_gain
from tests.unit.predict.tubs import day, fading_tub

NOW = day(20)
DEER_AND_FOX = (
    SoakingSkull(name="deer", species="deer", since=day(0)),
    SoakingSkull(name="fox", species="fox", since=day(0)),
)


def tub() -> TubHistory:
    return replace(
        fading_tub(18),
        skulls=DEER_AND_FOX,
        temperatures=(TemperatureRecord(at=day(16), temperature_c=33.0),),
        volume_l=30.0,
    )


@pytest.fixture(scope="module", name="fit")
def fixture_fit() -> TubFit:
    return fit_tub(tub(), NOW)


def test_what_a_plan_leaves_open_is_as_usual(fit: TubFit) -> None:
    assert filled_plan(fit.timeline, Plan()) == FilledPlan(
        change_interval_days=3.0, temperature_c=40.0, recipe=Recipe.SOAP
    )
    given = Plan(change_interval_days=5.0, temperature_c=0.0, recipe=Recipe.WATER)
    assert filled_plan(fit.timeline, given) == FilledPlan(
        change_interval_days=5.0, temperature_c=0.0, recipe=Recipe.WATER
    )


def test_water_that_was_last_found_cold_is_planned_to_stay_so() -> None:
    """Later fillings stay as cold as the bath before; one that was found warm again ends it."""
    cold = TemperatureRecord(at=day(10.5), temperature_c=17.0)
    history = replace(tub(), temperatures=(cold,))
    assert filled_plan(build_timeline(history, NOW), Plan()).temperature_c == 17.0
    warm = replace(history, temperatures=(cold, TemperatureRecord(at=day(13), temperature_c=40.0)))
    assert filled_plan(build_timeline(warm, NOW), Plan()).temperature_c == 40.0


def test_a_routine_has_the_plan_s_heat_at_once_and_its_recipe_from_the_next_change(
    fit: TubFit,
) -> None:
    course = fit.form_draws[0].course
    draws, timeline = course.draws, fit.timeline
    plan = FilledPlan(change_interval_days=7.0, temperature_c=30.0, recipe=Recipe.AMMONIA)
    routine = routine_of(timeline, course, plan)
    assert routine.first_days == pytest.approx(15 + 7 - 20)
    assert routine_of(timeline, course, replace(plan, change_interval_days=3.0)).first_days == 0
    warmth = np.exp(draws.activation_kj_per_mol * 1000 / 8.314462618 * (1 / 313.15 - 1 / 303.15))
    # leaching comes to its pace as 1 - exp(-days / lag), over the days that are still to come
    now = course.soaked[-1] + timeline.now.exposure_days[0] @ course.speed
    ahead = np.maximum(draws.done_days.max(axis=0) - now, 10.0)
    lag = draws.tempo.lag_days
    awake = 1 + lag * (np.exp(-(now + ahead) / lag) - np.exp(-now / lag)) / ahead
    assert routine.first_pace == pytest.approx(warmth * awake * draws.rate_ratio[0])
    prior = recipe_prior(Recipe.AMMONIA)
    ratio = planned_ratio(timeline, course, plan)
    assert routine.pace == pytest.approx(warmth * awake * ratio)
    assert np.log(ratio).mean() == pytest.approx(np.log(prior.rate_ratio))
    assert np.log(ratio).std() == pytest.approx(prior.rate_log_std, rel=0.01)


def test_the_rate_of_a_recipe_never_used_is_independent_of_the_error_of_the_tail(
    fit: TubFit,
) -> None:
    plan = replace(filled_plan(fit.timeline, Plan()), recipe=Recipe.ACETONE)
    drawn = fit.form_draws[0]
    ratio = planned_ratio(fit.timeline, drawn.course, plan)
    apart = 4 / np.sqrt(len(ratio))  # four standard errors of a correlation of none
    assert abs(np.corrcoef(np.log(ratio), drawn.tail)[0, 1]) < apart
    peak = run_course(fit.timeline, fit.fits[0].peak.draws)
    median = recipe_prior(Recipe.ACETONE).rate_ratio
    assert planned_ratio(fit.timeline, peak, plan) == pytest.approx([median])


@pytest.mark.parametrize(("logged", "is_logged"), [(3, False), (4, True)])
def test_half_of_the_carry_overs_logged_tell_the_usual_one(
    fit: TubFit, logged: int, is_logged: bool
) -> None:
    course, timeline = fit.form_draws[0].course, fit.timeline
    shares = np.where(np.arange(6) < logged, [0.1, 0.2, 0.3, 0.4, 0.5, 0.6], np.nan)
    carry_over = timeline.calendar.carry_over.copy()
    carry_over[timeline.calendar.changed] = shares
    marked = replace(timeline, calendar=replace(timeline.calendar, carry_over=carry_over))
    kept = routine_of(marked, course, filled_plan(timeline, Plan())).kept
    expected = np.full_like(kept, 0.25) if is_logged else course.draws.carry_over
    assert kept == pytest.approx(expected)


def test_haze_counts_in_the_standard_volume_of_its_skulls(fit: TubFit) -> None:
    deer, fox = species_mass_kg("deer"), species_mass_kg("fox")
    assert volume_share(fit) == pytest.approx(30 / (25 * (deer + fox)))
    assert volume_share(fit, 1) == pytest.approx(30 / (25 * fox))
    unknown = replace(fit, volume_l=None)
    assert volume_share(unknown) == 1
    assert volume_share(unknown, 1) == pytest.approx((deer + fox) / fox)
    gone = replace(fit, timeline=replace(fit.timeline, present=np.array([True, False])))
    assert volume_share(gone) == pytest.approx(30 / (25 * deer))


def test_a_skull_soaked_as_long_as_in_all_its_tubs_together(fit: TubFit) -> None:
    here = soaked_days(fit)
    assert here[0] == here[1]
    elsewhere = np.zeros_like(fit.timeline.soaked_before_days)
    elsewhere[1, fit.timeline.usual] = 10.0  # days in soap at 40 degrees C
    moved = replace(fit, timeline=replace(fit.timeline, soaked_before_days=elsewhere))
    assert soaked_days(moved) == pytest.approx([here[0], here[1] + 10.0])


@pytest.mark.parametrize("rank", [0.3, 0.7])
def test_done_by_now_is_what_has_less_left_than_the_rule_says(fit: TubFit, rank: float) -> None:
    plan, rule = filled_plan(fit.timeline, Plan()), ClearRule()
    left = dates_of(fit, plan, rule).left_share
    limit = float(np.quantile(left, rank))
    found = dates_of(fit, plan, replace(rule, grease_left_share=limit))
    done = found.degreased_days <= fit.timeline.calendar.now_days
    assert np.array_equal(done, left < limit)


def test_the_tail_is_the_forms_own_error_and_what_nothing_shows(fit: TubFit) -> None:
    drift = replace(fit.whitening.noise, drift=0.3)
    moved = replace(fit, whitening=replace(fit.whitening, noise=drift))
    drawn = replace(fit.form_draws[0], tail=np.array([-1.0, 0.0, 1.0]))
    now, ahead = np.hypot(0.3, 0.2), np.hypot(0.3, 0.4)
    assert np.log(left_error(moved, drawn)) == pytest.approx([-now, 0, now])
    # later by the whole tail, sooner only by what is left now
    assert np.log(tail_error(moved, drawn)) == pytest.approx([-now, 0, ahead])


def test_a_share_is_off_by_a_factor_of_its_smaller_part() -> None:
    share, by = np.array([0.02, 0.1, 0.4, 0.7, 0.99]), np.full(5, 1.2)
    off = off_by(share, by)
    assert off == pytest.approx([0.024, 0.12, 0.48, 1 - 0.3 / 1.2, 1 - 0.01 / 1.2])
    assert off_by(off, 1 / by) == pytest.approx(share)
    assert off_by(1 - share, 1 / by) == pytest.approx(1 - off)
    assert off_by(np.array([0.0, 1.0]), np.array([100.0, 0.01])).tolist() == [0.0, 1.0]


def test_a_skull_put_in_now_holds_all_of_its_grease() -> None:
    tub = fading_tub(40, half_life=12.0)
    new = SoakingSkull(name="new", species="deer", since=day(40))
    fit = fit_tub(replace(tub, skulls=(*tub.skulls, new)), day(40))
    wrong = replace(fit.whitening, noise=replace(fit.whitening.noise, drift=2.0))
    dates = dates_of(replace(fit, whitening=wrong), filled_plan(fit.timeline, Plan()), ClearRule())
    assert dates.left_share[1] == pytest.approx(1.0)
    assert (dates.degreased_days[1] > 40).all()


def test_rows_give_what_a_fresh_bath_gains_and_what_each_skull_holds(fit: TubFit) -> None:
    course, rule = fit.form_draws[0].course, ClearRule()
    state = course.weights(fit.timeline.now)[0]
    soak = 14.0 * course.speed[fit.timeline.usual]
    gain = clear_gain_row(fit, course, rule)
    assert value_of(gain, state) == pytest.approx(fresh_soak_gain(course.modes, state, soak))
    alone = [value_of(only_of(course, gain, n), state) for n in range(2)]
    assert sum(alone) == pytest.approx(value_of(gain, state))
    error = left_error(fit, fit.form_draws[0])
    plan = filled_plan(fit.timeline, Plan())
    dates = dates_of(fit, plan, rule, form_draws=fit.form_draws[:1])
    assert dates.gain_per_m == pytest.approx(value_of(gain, state) * error * volume_share(fit))
    for row, share in zip(skull_rows(course), dates.left_share, strict=True):
        assert share == pytest.approx(off_by(value_of(row, state), error))
    low = dates.left_share[0] < 0.1
    assert (dates.degreased_days[0][low] <= 20).all()
    assert (dates.degreased_days[0][~low] >= 20).all()
    clear = dates.gain_per_m < 3
    assert (dates.clear_days[clear] <= 20).all()
    assert (dates.clear_days[~clear] >= 20).all()


def test_equally_likely_draws_are_as_many_as_each_form_earns(fit: TubFit) -> None:
    counts = [len(drawn.tail) for drawn in fit.form_draws]
    weights = [one.weight for one in fit.fits][: len(counts)]
    assert counts == [round(2000 * weight) for weight in weights]
    for drawn in fit.form_draws:
        assert drawn.course.draws.done_days == pytest.approx(np.exp(drawn.log_done_days))
    thinned = thinned_draws(fit, 200)
    assert sum(len(drawn.tail) for drawn in thinned) == pytest.approx(200, abs=20)


def test_the_bath_is_as_warm_as_logged_last(fit: TubFit) -> None:
    assert fit.bath_c == 33.0
    later = TemperatureRecord(at=day(21), temperature_c=20.0)
    history = replace(tub(), temperatures=(*tub().temperatures, later))
    assert fit_tub(history, NOW).bath_c == 33.0
    assert fit_tub(replace(tub(), temperatures=()), NOW).bath_c == 40.0
    cool = WaterChange(at=day(0), temperature_c=None)
    assert fit_tub(replace(tub(), changes=(cool,), temperatures=()), NOW).bath_c is None
