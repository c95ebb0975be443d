"""From a fit to dates: plan, routine, volume, weights of the forms, worked by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, permutations
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy import stats

from greasecheck.model import Recipe
from greasecheck.predict.fit import posterior, unlogged
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
from greasecheck.predict.fit.done_prior import skull_time
from greasecheck.predict.fit.likelihood import expected_of
from greasecheck.predict.fit.noise import usual_noise
from greasecheck.predict.fit.posterior import first_peak, fit_forms, log_posterior
from greasecheck.predict.fit.tub_fit import TubFit, fit_tub, thinned_draws
from greasecheck.predict.fit.unlogged import find_unlogged, fit_before_falls, with_changes
from greasecheck.predict.forecast_records import UnloggedChange
from greasecheck.predict.model.history import build_timeline
from greasecheck.predict.model.kinetics import Form
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
from tests.unit.predict.tubs import day, fading_tub, reading

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.model.draws import Draws
    from greasecheck.predict.model.timeline import Timeline

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
    assert np.log(ratio).mean() == pytest.approx(np.log(prior.rate_ratio), abs=0.04)
    assert np.log(ratio).std() == pytest.approx(prior.rate_log_std, rel=0.1)


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


def test_evidence_and_weights_of_the_forms() -> None:
    timeline = build_timeline(fading_tub(12), day(12))
    times = (skull_time("deer"),)
    found = fit_forms(timeline, first_peak(timeline, times))
    assert sum(fit.weight for fit in found.fits) == pytest.approx(1)
    for fit in found.fits:
        peak = fit.peak
        z = peak.x[:, None]
        assert peak.log_posterior == pytest.approx(
            float(log_posterior(timeline, peak.parameters, found.whitening, z)[0])
        )
        covariance = peak.proposal.root @ peak.proposal.root.T
        laplace = peak.log_posterior + 0.5 * np.linalg.slogdet(2 * np.pi * covariance)[1]
        assert peak.log_evidence == pytest.approx(laplace)
        # the prior is standard normal, so that its part is known
        zero = np.zeros((peak.parameters.size, 2))
        zero[3, 1] = 1.5
        even = replace(found.whitening, root=0 * found.whitening.root)
        none, moved = log_posterior(timeline, peak.parameters, even, zero)
        assert none == pytest.approx(-0.5 * peak.parameters.size * np.log(2 * np.pi))
        assert none - moved == pytest.approx(1.5**2 / 2)
    for one, other in pairwise(found.fits):
        ratio = np.log(one.weight / other.weight)
        evidence = one.draws.log_evidence - other.draws.log_evidence
        priors = {Form.TWO_POOLS: 0.36, Form.BROAD: 0.54, Form.EVEN: 0.1}
        prior = np.log(priors[one.peak.parameters.form] / priors[other.peak.parameters.form])
        assert ratio == pytest.approx(0.5 * evidence + prior)


@pytest.mark.parametrize(
    ("skulls", "forms"),
    [(1, list(Form)), (2, [Form.TWO_POOLS, Form.BROAD]), (4, [Form.TWO_POOLS])],
)
def test_two_skulls_have_no_even_release_and_four_no_broad_spectrum(
    skulls: int, forms: list[Form], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(posterior, "HOPELESS_LOG_EVIDENCE", np.inf)
    several = tuple(
        SoakingSkull(name=f"fox {n}", species="fox", since=day(0)) for n in range(skulls)
    )
    timeline = build_timeline(replace(fading_tub(6), skulls=several), day(6))
    found = fit_forms(timeline, first_peak(timeline, (skull_time("fox"),) * skulls))
    assert sorted(fit.peak.parameters.form for fit in found.fits) == sorted(forms)


def test_equally_likely_draws_are_as_many_as_each_form_earns(fit: TubFit) -> None:
    counts = [len(drawn.tail) for drawn in fit.form_draws]
    weights = [one.weight for one in fit.fits][: len(counts)]
    assert counts == [round(2000 * weight) for weight in weights]
    for drawn in fit.form_draws:
        assert drawn.course.draws.done_days == pytest.approx(np.exp(drawn.log_done_days))
    thinned = thinned_draws(fit, 200)
    assert sum(len(drawn.tail) for drawn in thinned) == pytest.approx(200, abs=20)


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_a_found_change_lies_half_way_and_keeps_the_recipe(order: tuple[int, ...]) -> None:
    changes = (
        WaterChange(at=day(0)),
        WaterChange(at=day(4), recipe=Recipe.AMMONIA),
        WaterChange(at=day(7), recipe=Recipe.WATER),
    )
    history = replace(fading_tub(9), changes=tuple(changes[place] for place in order))
    found = UnloggedChange(
        after=day(5), before=day(6), before_per_m=9.0, fall_per_m=6.0, fall_share=0.67
    )
    added = with_changes(history, [found]).changes[-1]
    assert (added.at, added.recipe) == (day(5.5), Recipe.AMMONIA)


@pytest.mark.parametrize(
    ("gain", "place", "is_taken"), [(1.9, 5, False), (2.1, 5, True), (9.0, 2, False)]
)
def test_a_fall_is_a_change_at_log_odds_of_two_by_what_was_read_after_it(
    gain: float, place: int, is_taken: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    history = replace(
        fading_tub(9, every=9),
        readings=tuple(reading(n + 0.5, 9 if n < 4 else 2) for n in range(8)),
    )

    def densities(tried: Timeline, _: Draws) -> FloatArray:
        gains = np.zeros((2, len(history.readings)))
        gains[:, place] = gain if tried.calendar.changed.sum() > len(history.changes) else 0.0
        return gains

    monkeypatch.setattr(unlogged, "_log_densities", densities)
    first = fit_before_falls(history, day(9), (skull_time("deer"),))
    found = find_unlogged(history, day(9), first)
    assert (len(found) == 1) is is_taken
    few = replace(history, readings=history.readings[2:5])
    assert find_unlogged(few, day(9), first) == ()


def test_densities_are_a_student_t_s_of_the_usual_noise() -> None:
    timeline = build_timeline(fading_tub(6), day(6))
    draws = first_peak(timeline, (skull_time("deer"),)).draws
    seen = timeline.observations
    expected = expected_of(timeline, draws)
    z, std = unlogged._standardised(seen, expected)
    noise = usual_noise()
    share = np.hypot(np.hypot(noise.scatter, noise.pace), noise.drift) * expected.haze
    own = seen.std_per_m**2 + 0.1**2 + share**2 + (noise.fresh * expected.fresh) ** 2
    assert std == pytest.approx(np.sqrt(own))
    assert z == pytest.approx((seen.haze_per_m - expected.haze) / std)
    density = stats.t(4, loc=expected.haze, scale=std).logpdf(seen.haze_per_m)
    found, without_bloom = unlogged._log_densities(timeline, draws)
    assert found == pytest.approx(density)
    assert not np.allclose(without_bloom, found)


def test_a_reading_too_low_without_a_fall_is_asked_about_within_one_bath() -> None:
    """Rising readings of one bath, all far below what is expected from the second on."""
    history = fading_tub(9)
    low = tuple(
        replace(one, attenuation_per_m=one.attenuation_per_m / (1 if n < 4 else 6))
        for n, one in enumerate(history.readings)
    )
    draws = first_peak(build_timeline(history, day(9)), (skull_time("deer"),)).draws
    lowered = replace(history, readings=low)
    timeline = build_timeline(lowered, day(9))
    found = unlogged._too_low(lowered, timeline, draws, ())
    assert [(one.after, one.before) for one in found] == [(day(3.9), day(4.9))]
    (one,) = found
    before, after = low[3].attenuation_per_m, low[4].attenuation_per_m
    assert (one.before_per_m, one.fall_per_m) == pytest.approx((before, before - after))
    assert one.fall_share == pytest.approx(1 - after / before)
    assert unlogged._too_low(lowered, timeline, draws, found) == ()
    between = replace(
        history,
        readings=tuple(
            replace(one, attenuation_per_m=one.attenuation_per_m / (1 if n < 3 else 6))
            for n, one in enumerate(history.readings)
        ),
    )
    # low from the first reading of a bath on: the logged change stands between
    assert unlogged._too_low(between, build_timeline(between, day(9)), draws, ()) == ()


def test_the_bath_is_as_warm_as_logged_last(fit: TubFit) -> None:
    assert fit.bath_c == 33.0
    later = TemperatureRecord(at=day(21), temperature_c=20.0)
    history = replace(tub(), temperatures=(*tub().temperatures, later))
    assert fit_tub(history, NOW).bath_c == 33.0
    assert fit_tub(replace(tub(), temperatures=()), NOW).bath_c == 40.0
    cool = WaterChange(at=day(0), temperature_c=None)
    assert fit_tub(replace(tub(), changes=(cool,), temperatures=()), NOW).bath_c is None
