"""The haze curve against the dates, the plan and the water changes it is drawn for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from greasecheck.model import Recipe
from greasecheck.predict.fit.dates import dates_of, filled_plan
from greasecheck.predict.fit.tub_fit import TubFit, fit_tub
from greasecheck.predict.forecast_records import HazeCurve
from greasecheck.predict.outlook.curve import haze_curve
from greasecheck.predict.records import ClearRule, Plan, SoakingSkull
from tests.unit.predict.tubs import START, day, fading_tub

RULE = ClearRule()
NOW_DAYS = 29.0  # the last change is of day 27, and they come every three days: the next is due


@pytest.fixture(scope="module")
def fit() -> TubFit:
    return fit_tub(fading_tub(30), day(NOW_DAYS))


def curve_of(fit: TubFit, plan: Plan | None = None, ahead: float = 60.0) -> HazeCurve:
    return haze_curve(fit, filled_plan(fit.timeline, plan or Plan()), RULE, ahead)


def ahead_of(curve: HazeCurve) -> list[int]:
    """Return where the days ahead stand, from now on."""
    return [i for i, at in enumerate(curve.times) if at >= day(NOW_DAYS)]


def test_the_band_of_the_share_left_crosses_the_limit_at_the_dates_it_stands_beside(
    fit: TubFit,
) -> None:
    """What nine in ten courses are below by a day is the day of nine in ten."""
    curve, plan = curve_of(fit, ahead=400.0), filled_plan(fit.timeline, Plan())
    (degreased,) = dates_of(fit, plan, RULE).degreased_days
    here = ahead_of(curve)
    days = [(curve.times[i] - START).total_seconds() / 86400 for i in here]
    for share, line in (
        (0.1, curve.left_low_share),
        (0.5, curve.left_median_share),
        (0.9, curve.left_high_share),
    ):
        crossing = np.interp(-RULE.grease_left_share, -line[here], days)
        before, after = np.quantile(degreased, (share - 0.04, share + 0.04))  # of 200 draws
        assert before - 1 <= crossing <= after + 1


def test_haze_falls_at_each_planned_change_and_rises_between(fit: TubFit) -> None:
    curve = curve_of(fit, ahead=12.0)
    haze = curve.median_per_m[ahead_of(curve)]
    falls = np.flatnonzero(np.diff(haze) < 0)
    assert falls.tolist() == [1, 4, 7, 10]  # of the days after now: 1 to 2, 4 to 5, ...


def test_a_change_takes_the_grease_in_the_water_with_it(fit: TubFit) -> None:
    """Left of a bath are some percent: a day later it is nearly as clear as after any change."""
    curve = curve_of(fit, ahead=12.0)
    haze = curve.median_per_m[ahead_of(curve)]
    past = [i for i, at in enumerate(curve.times) if at == day(28)]
    assert haze[2] == pytest.approx(curve.median_per_m[past[0]], rel=0.15)


def test_another_recipe_changes_nothing_before_the_water_is_changed(fit: TubFit) -> None:
    soap, acetone = curve_of(fit), curve_of(fit, Plan(recipe=Recipe.ACETONE))
    here = ahead_of(soap)
    first, later = here[:2], here[2:]
    np.testing.assert_allclose(acetone.median_per_m[first], soap.median_per_m[first])
    np.testing.assert_allclose(acetone.left_median_share[first], soap.left_median_share[first])
    assert (acetone.left_median_share[later[1:]] < soap.left_median_share[later[1:]]).all()
    assert acetone.median_per_m[later[0]] > soap.median_per_m[later[0]]  # it draws more at first


def test_a_tub_holds_as_much_as_the_greasiest_of_its_skulls() -> None:
    history = fading_tub(30)
    pair = tuple(
        SoakingSkull(name=species, species=species, since=START) for species in ("mink", "bear")
    )
    fit = fit_tub(replace(history, skulls=pair), day(NOW_DAYS))
    plan, curve = filled_plan(fit.timeline, Plan()), curve_of(fit, ahead=2.0)
    mink, bear = (float(np.median(one)) for one in dates_of(fit, plan, RULE).left_share)
    now = curve.times.index(day(NOW_DAYS))
    assert mink < 0.6 * bear
    assert curve.left_median_share[now] == pytest.approx(bear, rel=0.15)


def test_the_gain_is_as_unsure_as_the_forms_are(fit: TubFit) -> None:
    """Less may be gained by the error of what is left now, more by that of what is to come."""
    curve, plan = curve_of(fit, ahead=2.0), filled_plan(fit.timeline, Plan())
    now = curve.times.index(day(NOW_DAYS))
    early, _, late = np.quantile(dates_of(fit, plan, RULE).gain_per_m, (0.1, 0.5, 0.9))
    assert curve.gain_low_per_m[now] == pytest.approx(early, rel=0.15)
    assert curve.gain_high_per_m[now] >= 0.9 * late
