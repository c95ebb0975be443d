from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy import special

from greasecheck.predict.fit.dates import (
    TubDates,
    dates_of,
    filled_plan,
    soaked_days,
    usual_log_days,
    usual_share,
)
from greasecheck.predict.fit.tub_fit import FormDraws, TubFit, fit_tub
from greasecheck.predict.outlook.doubts import with_doubt, with_stops
from greasecheck.predict.outlook.forecasting import project
from greasecheck.predict.records import ClearRule, Plan, SoakingSkull
from greasecheck.predict.yellowing.residual import residual_grease
from tests.unit.predict.tubs import day, fading_tub

RULE = ClearRule()


@pytest.fixture(scope="module")
def fit() -> TubFit:
    return fit_tub(fading_tub(30), day(30))


def both(fit: TubFit, plan: Plan | None = None) -> tuple[TubDates, TubDates]:
    filled = filled_plan(fit.timeline, plan or Plan())
    plain = dates_of(fit, filled, RULE)
    return plain, with_doubt(fit, plain, filled, RULE)


def test_a_fifth_of_the_draws_goes_by_the_usual_time_that_is_left(fit: TubFit) -> None:
    plain, doubted = both(fit)
    changed = plain.degreased_days != doubted.degreased_days
    assert np.mean(changed) == pytest.approx(0.2, abs=0.03)
    log_mean, log_std = usual_log_days(fit, 0, RULE)
    passed = special.ndtr((np.log(30.0) - log_mean) / log_std)
    middle = np.exp(log_mean + log_std * special.ndtri((1 + passed) / 2))
    assert doubted.degreased_days[changed].min() > 30
    assert np.median(doubted.degreased_days[changed]) == pytest.approx(middle, rel=0.1)


def test_warmer_water_brings_the_usual_time_sooner(fit: TubFit) -> None:
    _, usual = both(fit)
    _, warm = both(fit, Plan(temperature_c=50.0))
    changed = usual.degreased_days != both(fit)[0].degreased_days
    assert np.median(warm.degreased_days[changed]) < np.median(usual.degreased_days[changed])


def test_a_draw_that_is_done_stays_done() -> None:
    plain, doubted = both(fit_tub(fading_tub(120, half_life=12.0), day(120)))
    done = plain.degreased_days <= 120
    assert np.mean(done) > 0.5
    assert np.array_equal(plain.degreased_days[done], doubted.degreased_days[done])
    assert np.all(doubted.degreased_days[~done] > 120)


def test_another_share_comes_as_much_later_as_an_exponential_takes_to_it(fit: TubFit) -> None:
    tenth, log_std = usual_log_days(fit, 0, RULE)
    twentieth, same_std = usual_log_days(fit, 0, ClearRule(grease_left_share=0.05))
    assert np.exp(twentieth - tenth) == pytest.approx(np.log(0.05) / np.log(0.1))
    assert same_std == log_std


@cache
def stopped(species: str) -> TubFit:
    """Return a tub that gave off a quarter of its grease and then nothing more for 20 days."""
    tub = fading_tub(45, half_life=60.0, broken=(25, 45), share=0.05)
    skulls = tuple(replace(skull, species=species) for skull in tub.skulls)
    return fit_tub(replace(tub, skulls=skulls), day(45))


@pytest.mark.parametrize("species", ["deer", "mink"])
def test_an_end_at_once_is_believed_as_often_as_its_kind_is_done(species: str) -> None:
    fit = stopped(species)
    filled = filled_plan(fit.timeline, Plan())
    ended = dates_of(fit, filled, RULE)
    doubted = with_stops(fit, ended, filled, RULE)
    believed = usual_share(fit, 0, soaked_days(fit)[0], RULE)
    assert np.mean(ended.degreased_days <= 45) > 0.99
    assert np.mean(doubted.degreased_days <= 45) == pytest.approx(believed, abs=0.03)
    changed = doubted.degreased_days > 45
    assert np.all(doubted.left_share[changed] > RULE.grease_left_share)
    assert np.array_equal(ended.left_share[~changed], doubted.left_share[~changed])


def with_evenness(fit: TubFit, evenness: float) -> TubFit:
    def changed(drawn: FormDraws) -> FormDraws:
        draws = drawn.course.draws
        tempo = replace(draws.tempo, evenness=np.full_like(draws.tempo.evenness, evenness))
        return replace(drawn, course=replace(drawn.course, draws=replace(draws, tempo=tempo)))

    return replace(fit, form_draws=tuple(changed(drawn) for drawn in fit.form_draws))


@pytest.mark.parametrize(("evenness", "doubted"), [(0.32, 0.0), (0.35, 0.97)])
def test_a_release_is_doubted_that_ends_faster_than_a_solid_dissolves(
    evenness: float, doubted: float
) -> None:
    fit = with_evenness(stopped("deer"), evenness)  # a solid's is 1/3: Hixson & Crowell 1931
    filled = filled_plan(fit.timeline, Plan())
    ended = dates_of(stopped("deer"), filled, RULE)
    changed = with_stops(fit, ended, filled, RULE).degreased_days != ended.degreased_days
    assert np.mean(changed) == pytest.approx(doubted, abs=0.02)


def test_the_later_the_rest_comes_the_more_is_left() -> None:
    fit = stopped("deer")
    filled = filled_plan(fit.timeline, Plan())
    doubted = with_stops(fit, dates_of(fit, filled, RULE), filled, RULE)
    order = np.argsort(doubted.degreased_days[0])
    later = order[doubted.degreased_days[0, order] > 45]
    assert np.all(np.diff(doubted.left_share[0, later]) >= 0)
    assert doubted.left_share[0, later[-1]] > 0.6


def test_grease_that_thins_out_is_not_doubted() -> None:
    fit = fit_tub(fading_tub(60, half_life=12.0), day(60))
    filled = filled_plan(fit.timeline, Plan())
    ended = dates_of(fit, filled, RULE)
    assert np.mean(ended.degreased_days <= 60) > 0.5
    doubted = with_stops(fit, ended, filled, RULE)
    assert np.array_equal(ended.degreased_days, doubted.degreased_days)


@pytest.mark.parametrize("second", [0.0, 45.0])
def test_an_end_that_no_form_describes_is_doubted_with_two_skulls(second: float) -> None:
    tub = fading_tub(45, half_life=60.0, broken=(25, 45), share=0.05)
    other = SoakingSkull(name="other", species="deer", since=day(second))
    fit = fit_tub(replace(tub, skulls=(*tub.skulls, other)), day(45))
    filled = filled_plan(fit.timeline, Plan())
    ended = dates_of(fit, filled, RULE)
    doubted = with_stops(fit, ended, filled, RULE)
    believed = usual_share(fit, 0, soaked_days(fit)[0], RULE)
    assert np.mean(ended.degreased_days[0] <= 45) > 0.05
    assert np.mean(doubted.degreased_days[0] <= 45) <= believed


def test_what_a_stop_left_counts_for_the_risk_unless_it_is_proved() -> None:
    fit = stopped("deer")
    doubted, proved = (residual_grease(fit, proved=proved)["buck"] for proved in (False, True))
    assert doubted.value == project(fit).grease_left_share[1] > 0.2
    assert proved.value < 0.01
