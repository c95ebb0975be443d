from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greasecheck.errors import ForecastError
from greasecheck.model import Recipe
from greasecheck.model.reasons import Reason, ReasonCode
from greasecheck.model.verdicts import ChangeVerdict
from greasecheck.predict.advice.change_interval import (
    AS_CHEAP,
    INTERVALS_DAYS,
    ChangeAdvice,
    ChangeCost,
    advise_change,
    usual_cost,
    verdict_on,
)
from greasecheck.predict.fit.dates import dates_of, filled_plan
from greasecheck.predict.fit.tub_fit import TubFit, fit_tub
from greasecheck.predict.records import ClearRule, Plan
from greasecheck.reference.advice import advice_value
from greasecheck.words.reasons import reasons_words
from tests.unit.predict.tubs import day, fading_tub


@pytest.fixture(scope="module")
def fit() -> TubFit:
    return fit_tub(fading_tub(20), day(20))


@pytest.fixture(scope="module")
def advice(fit: TubFit) -> ChangeAdvice:
    return advise_change(fit)


def cost(change: float, day: float = 3.0) -> ChangeCost:
    return ChangeCost(soap=0.0, heat=0.0, work=change, day=day)


def test_heat_is_that_of_the_water() -> None:
    # 20 L warmed by 28 K: 20 x 28 x 4.187 kJ = 0.651 kWh, at 0.30 each
    assert usual_cost(Recipe.SOAP, 40.0).heat == pytest.approx(0.651 * 0.30, abs=5e-4)
    assert usual_cost(Recipe.SOAP, 5.0).heat == 0.0


def test_a_change_costs_soap_heat_and_work_at_the_prices_of_the_table() -> None:
    """0.2 L of soap at 4, heat as above, and ten minutes at 12 an hour; a day costs 3."""
    cost = usual_cost(Recipe.SOAP, 40.0, volume_l=20.0)
    assert (cost.soap, cost.heat, cost.work) == pytest.approx((0.8, 0.195, 2.0), abs=5e-4)
    assert (cost.change, cost.day) == pytest.approx((2.995, 3.0), abs=5e-4)


@pytest.mark.parametrize("recipe", list(Recipe))
def test_only_soapy_baths_need_soap(recipe: Recipe) -> None:
    soapy = {Recipe.SOAP, Recipe.SOAP_AMMONIA, Recipe.OWN}  # an own recipe may hold some
    assert (usual_cost(recipe, 40.0).soap > 0) is (recipe in soapy)


def test_soap_goes_with_the_volume() -> None:
    assert usual_cost(Recipe.SOAP, 40.0, volume_l=40.0).soap == pytest.approx(
        2 * usual_cost(Recipe.SOAP, 40.0, volume_l=20.0).soap
    )


def test_a_larger_tub_costs_more_to_change(fit: TubFit, advice: ChangeAdvice) -> None:
    of_60_l = advise_change(replace(fit, volume_l=60.0)).cost
    assert of_60_l == usual_cost(Recipe.SOAP, 40.0, volume_l=60.0)
    assert of_60_l.change > advice.cost.change


@pytest.fixture(scope="module")
def fit_of_two() -> TubFit:
    """Return a tub in which a fox and a deer soak."""
    usual = fading_tub(20)
    [deer] = usual.skulls
    fox = replace(deer, name="fox", species="fox")
    return fit_tub(replace(usual, skulls=(fox, deer)), day(20))


def test_an_interval_lasts_until_the_last_skull_is_done(fit_of_two: TubFit) -> None:
    fit = fit_of_two
    never = ClearRule(grease_left_share=1e-3)  # so that half of what may be left is more
    asked = advise_change(fit, rule=never, sure=0.9)
    for option in asked.options[::4]:
        plan = filled_plan(fit.timeline, Plan(change_interval_days=option.interval_days))
        for days in dates_of(fit, plan, never).degreased_days:
            left = np.quantile(days - fit.timeline.calendar.now_days, 0.9)
            assert option.days is None or option.days > 0.9 * left  # by fewer draws


def test_the_best_interval_is_the_shortest_that_costs_as_good_as_least(
    advice: ChangeAdvice,
) -> None:
    priced = {o.interval_days: o.cost for o in advice.options if o.cost is not None}
    most = AS_CHEAP * min(priced.values())
    assert priced[advice.best_interval_days] <= most
    assert all(cost > most for days, cost in priced.items() if days < advice.best_interval_days)
    for option in advice.options:
        assert option.days is not None
        assert option.changes is not None
        paid = option.days * advice.cost.day + option.changes * advice.cost.change
        assert option.cost == pytest.approx(paid)
        assert option.changes == pytest.approx(option.days / option.interval_days)


def test_rarer_changes_never_clear_a_tub_sooner(advice: ChangeAdvice) -> None:
    days = [option.days for option in advice.options if option.days is not None]
    assert days == sorted(days)


def test_dearer_changes_make_longer_intervals(fit: TubFit) -> None:
    best = [advise_change(fit, cost=cost(price)).best_interval_days for price in (0.0, 3.0, 60.0)]
    assert best == sorted(best)
    assert best[0] == 1.0
    assert best[-1] > best[1]


def test_changing_twice_as_often_saves_days(advice: ChangeAdvice) -> None:
    saved = advice.twice_as_often
    assert saved.interval_days == advice.usual_interval_days / 2 == 1.5
    assert 0 <= saved.low_days <= saved.median_days <= saved.high_days
    assert saved.median_days > 0


def test_an_old_bath_slows_leaching_and_is_to_be_changed(fit: TubFit) -> None:
    soon = advise_change(fit, cost=cost(0.0))
    assert soon.bath_age_days == pytest.approx(2.0)
    assert 0 < soon.leach_share < 1
    assert soon.verdict is ChangeVerdict.CHANGE
    assert soon.due_at == day(20)
    assert soon.reasons[1] == Reason(code=ReasonCode.CHEAPEST, values=(1.0, 0.0, 3.0))


@pytest.mark.parametrize(
    ("hours", "verdict"),
    [
        (-1, ChangeVerdict.CHANGE),
        (12, ChangeVerdict.CHANGE),
        (12.1, ChangeVerdict.WAIT),
        (24, ChangeVerdict.WAIT),
    ],
)
def test_a_change_is_made_today_when_it_is_due_within_half_a_day(
    hours: float, verdict: ChangeVerdict
) -> None:
    assert verdict_on(day(20) + timedelta(hours=hours), day(20)) is verdict


def test_skulls_stay_until_they_are_as_surely_degreased_as_the_table_says(
    fit: TubFit, advice: ChangeAdvice
) -> None:
    assert advice == advise_change(fit, sure=advice_value("degreased_probability"))
    assert advice != advise_change(fit, sure=0.5)


def test_where_little_is_left_the_goal_is_half_of_it(fit_of_two: TubFit) -> None:
    """A goal that is reached already is none: half of what the fatter skull may hold is to go."""
    fit = fit_of_two
    left = dates_of(fit, filled_plan(fit.timeline, Plan()), ClearRule()).left_share.max(axis=0)
    most = float(np.quantile(left, 0.9))
    reached, halved = (
        advise_change(fit, rule=ClearRule(grease_left_share=share), sure=0.9)
        for share in (min(1.2 * most, 0.99), most / 2)
    )
    for one, other in zip(reached.options, halved.options, strict=True):
        assert one.days == pytest.approx(other.days, rel=0.1)  # by fewer draws


def test_a_young_bath_may_wait(fit: TubFit) -> None:
    later = advise_change(fit, cost=cost(60.0))
    assert later.verdict is ChangeVerdict.WAIT
    assert later.due_at == day(18 + later.best_interval_days)


def test_a_degreased_tub_needs_no_change(fit: TubFit) -> None:
    easy = advise_change(fit, rule=ClearRule(grease_left_share=0.99), sure=0.5)
    assert easy.verdict is ChangeVerdict.ENOUGH
    assert easy.reasons == (Reason(code=ReasonCode.LITTLE_GREASE),)


def steps_apart(one: ChangeAdvice, other: ChangeAdvice) -> int:
    places = [INTERVALS_DAYS.index(each.best_interval_days) for each in (one, other)]
    return abs(places[0] - places[1])


@settings(max_examples=15, derandomize=True, deadline=None)
@given(odds=st.floats(0.02, 0.98))
def test_the_interval_hardly_changes_as_it_grows_surer_that_all_is_degreased(
    fit: TubFit, odds: float
) -> None:
    # the same tub, asked for a share of grease left that it surely holds less than by these odds
    usual = filled_plan(fit.timeline, Plan())
    left = dates_of(fit, usual, ClearRule()).left_share.max(axis=0)
    surer, less_sure = (
        advise_change(fit, rule=ClearRule(grease_left_share=float(np.quantile(left, chance))))
        for chance in (odds, 0.9 * odds)
    )
    assert steps_apart(surer, less_sure) <= 1


def test_without_news_the_advice_of_one_day_holds_on_the_next() -> None:
    tub = fading_tub(60, half_life=8.0)
    days = [advise_change(fit_tub(tub, day(60 + n))) for n in range(0, 14, 3)]
    assert all(steps_apart(one, other) <= 1 for one, other in pairwise(days))
    verdicts = [one.verdict for one in days]
    due = verdicts.index(ChangeVerdict.CHANGE)
    assert verdicts == [ChangeVerdict.WAIT] * due + [ChangeVerdict.CHANGE] * (len(days) - due)


def test_a_tub_that_is_never_degreased_has_no_priced_interval(fit: TubFit) -> None:
    hopeless = advise_change(fit, rule=ClearRule(grease_left_share=1e-250))
    assert all(option.cost is None for option in hopeless.options)
    assert hopeless.best_interval_days == 1.0


@pytest.mark.parametrize(
    "bad", [cost(-1.0), cost(1.0, day=0.0), cost(np.inf), cost(np.nan), cost(1.0, day=np.inf)]
)
def test_impossible_costs_are_refused(fit: TubFit, bad: ChangeCost) -> None:
    with pytest.raises(ForecastError, match="less than nothing"):
        advise_change(fit, cost=bad)


def test_reasons_name_saturation_price_and_saving(advice: ChangeAdvice) -> None:
    first, second, third = reasons_words(advice.reasons)
    assert "of the rate in fresh water" in first
    assert "cheapest if a change costs 3.00 and a day of soaking 3.00" in second
    assert third.startswith("a change every 1.5 days instead of every 3 days would save")


def test_acetone_keeps_the_usual_interval_since_its_haze_says_nothing() -> None:
    tub = fading_tub(20)
    changes = tuple(replace(one, recipe=Recipe.ACETONE) for one in tub.changes)
    advice = advise_change(fit_tub(replace(tub, changes=changes), day(20)))
    assert advice.best_interval_days == advice.usual_interval_days == 3.0
    [reason] = reasons_words(advice.reasons)
    assert "no haze" in reason
    assert "every 3 days" in reason
