from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

import greasecheck.predict
from greasecheck.errors import ForecastError
from greasecheck.model import Recipe
from greasecheck.model.notes import NoteCode
from greasecheck.predict.fit.tub_fit import TubFit
from greasecheck.predict.forecast_records import Forecast
from greasecheck.predict.outlook.forecasting import fit_tub, forecast, forecast_tubs, project
from greasecheck.predict.records import (
    ClearRule,
    FinishedTub,
    Plan,
    SoakingSkull,
    TemperatureRecord,
    TubHistory,
    WaterChange,
)
from greasecheck.words.notes import notes_words
from tests.unit.predict.tubs import START, day, fading_tub


@pytest.fixture(scope="module")
def fit() -> TubFit:
    return fit_tub(fading_tub(30), day(30))


@pytest.fixture(scope="module")
def found(fit: TubFit) -> Forecast:
    return project(fit)


def _median_days(forecast: Forecast) -> float:
    return float(np.median(forecast.degreased.days))


def test_package_offers_the_entry_points_without_loading_them() -> None:
    assert greasecheck.predict.forecast is forecast
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = greasecheck.predict.nothing


def test_dates_are_ordered_and_agree_with_their_probabilities(found: Forecast) -> None:
    dates = found.degreased
    early, middle, late = (dates.quantile(p) for p in (0.1, 0.5, 0.9))
    assert early is not None
    assert middle is not None
    assert late is not None
    assert day(30) < early < middle < late
    assert dates.probability_by(late) == pytest.approx(0.9, abs=0.01)
    interval = dates.interval(0.8)
    assert (interval.earliest, interval.latest) == (early, late)
    assert found.probability_degreased_now < 0.05
    assert found.probability_clear_now < 0.05


def test_forms_and_diagnostics_are_sound(found: Forecast) -> None:
    assert sum(form.weight for form in found.forms) == pytest.approx(1.0)
    assert found.forms[0].weight == max(form.weight for form in found.forms)
    trust = found.diagnostics
    assert trust.converged
    assert trust.describes_data
    assert trust.readings_used == 30
    assert 0 < trust.data_share < 1
    assert found.notes == ()


def test_curve_covers_the_past_and_the_plan(found: Forecast) -> None:
    curve = found.curve
    assert curve.times[0] > START
    assert curve.times[-1] >= found.degreased.quantile(0.9)  # type: ignore[operator]
    assert list(curve.times) == sorted(curve.times)
    assert np.all(curve.low_per_m <= curve.median_per_m)
    assert np.all(curve.median_per_m <= curve.high_per_m)
    assert curve.left_median_share[-1] < found.rule.grease_left_share
    assert np.all(np.diff(curve.left_median_share) < 1e-6)
    seen = [i for i, at in enumerate(curve.times) if at == day(29)]
    assert seen
    last = fading_tub(30).readings[-1]
    assert curve.median_per_m[seen[0] + 1] == pytest.approx(last.attenuation_per_m, rel=0.2)


def test_the_same_history_gives_the_same_dates(found: Forecast) -> None:
    again = forecast(fading_tub(30), day(30))
    assert np.array_equal(again.degreased.days, found.degreased.days)


def test_what_if_heat_and_changes_help_and_cold_and_neglect_do_not(
    fit: TubFit, found: Forecast
) -> None:
    usual = _median_days(found)
    assert _median_days(project(fit, plan=Plan(temperature_c=50.0))) < usual
    assert _median_days(project(fit, plan=Plan(temperature_c=20.0))) > usual
    assert _median_days(project(fit, plan=Plan(change_interval_days=1.0))) < usual
    assert _median_days(project(fit, plan=Plan(change_interval_days=14.0))) > usual
    assert found.plan.change_interval_days == 3.0
    assert found.plan.temperature_c == 40.0


def test_what_if_another_recipe_brings_its_own_rate_and_haze(fit: TubFit, found: Forecast) -> None:
    acetone = project(fit, plan=Plan(recipe=Recipe.ACETONE))
    assert _median_days(acetone) < _median_days(found)
    assert acetone.curve.median_per_m[-1] < found.curve.median_per_m[-1]


def test_a_stricter_rule_takes_longer(fit: TubFit, found: Forecast) -> None:
    strict = project(fit, rule=ClearRule(gain_per_m=1.0, grease_left_share=0.05))
    assert _median_days(strict) > _median_days(found)
    assert np.median(strict.dates.days) > np.median(found.dates.days)


def test_a_long_degreased_tub_is_so_since_a_past_date() -> None:
    done = forecast(fading_tub(120), day(120))
    assert done.probability_degreased_now > 0.9
    late = done.degreased.quantile(0.9)
    assert late is not None
    assert late < day(120)


def test_haze_that_ends_at_once_is_doubted_and_says_so() -> None:
    fit = fit_tub(fading_tub(45, half_life=60.0, broken=(25, 45), share=0.05), day(45))
    found, asked, proved = project(fit), project(fit, proved=False), project(fit, proved=True)
    for backed in (asked, proved):
        assert backed.probability_degreased_now > 0.9
        assert NoteCode.STOPPED not in {note.code for note in backed.notes}
    assert asked.grease_left_share == found.grease_left_share
    assert proved.grease_left_share[1] < 0.01
    assert found.probability_degreased_now < 0.1
    assert found.grease_left_share[1] > 0.25
    assert found.degreased.quantile(0.5) > day(45)  # type: ignore[operator]
    assert NoteCode.STOPPED in {note.code for note in found.notes}


def test_without_readings_the_table_speaks_and_says_so(
    capfd: pytest.CaptureFixture[str],
) -> None:
    bare = replace(fading_tub(1), readings=())
    found = forecast(bare, START)
    assert _median_days(found) == pytest.approx(104, rel=0.15)
    assert notes_words(found.notes) == (
        "No readings yet: the dates are the species table's alone, which is our guess.",
    )
    slower = forecast(bare, START, finished=[FinishedTub(species="deer", days=200.0)] * 8)
    assert _median_days(slower) > 1.3 * _median_days(found)
    assert capfd.readouterr() == ("", "")  # LAPACK itself would complain of an empty matrix


def test_water_that_is_never_really_changed_never_clears_and_says_so() -> None:
    start = fading_tub(1)
    kept = tuple(WaterChange(at=day(d), temperature_c=5.0, carry_over=1.0) for d in range(0, 30, 3))
    history = replace(start, changes=kept, readings=())
    found = forecast(history, day(30), plan=Plan(change_interval_days=1000.0, temperature_c=0.0))
    assert any("never degreased" in note for note in notes_words(found.notes))
    assert found.degreased.quantile(0.99) is None


def test_two_alike_cannot_be_told_apart_but_mink_and_bear_can() -> None:
    history = fading_tub(30)
    doe = SoakingSkull(name="doe", species="deer", since=START)
    alike = forecast(replace(history, skulls=(*history.skulls, doe)), day(30))
    assert [skull.identified for skull in alike.skulls] == [False, False]
    assert sum(skull.slowest_probability for skull in alike.skulls) == pytest.approx(1.0)
    assert "cannot tell these apart: buck, doe" in notes_words(alike.notes)[-1]
    mixed = replace(
        history,
        skulls=(
            SoakingSkull(name="mink", species="mink", since=START),
            SoakingSkull(name="bear", species="bear", since=START),
        ),
    )
    whole = forecast(mixed, day(30))
    mink, bear = whole.skulls
    for one in (mink, bear):  # a tub is done with the last of its skulls
        assert (np.sort(one.degreased.days) <= whole.degreased.days).all()
    assert bear.slowest_probability > 0.9
    assert mink.identified
    assert bear.identified
    assert np.median(mink.degreased.days) < np.median(bear.degreased.days)


def test_a_skull_that_goes_in_later_is_not_clear_before_it_went_in() -> None:
    history = fading_tub(30)
    late = SoakingSkull(name="late", species="mink", since=day(20))
    found = forecast(replace(history, skulls=(*history.skulls, late)), day(30))
    assert found.skulls[1].degreased.days[0] >= 20.0


@pytest.mark.parametrize(
    ("plan", "rule"),
    [
        (Plan(change_interval_days=0.0), ClearRule()),
        (Plan(change_interval_days=-3.0), ClearRule()),
        (Plan(change_interval_days=math.inf), ClearRule()),
        (Plan(), ClearRule(soak_days=math.inf)),
        (Plan(), ClearRule(gain_per_m=math.inf)),
        (Plan(temperature_c=400.0), ClearRule()),
        (Plan(), ClearRule(gain_per_m=0.0)),
        (Plan(), ClearRule(soak_days=float("nan"))),
        (Plan(), ClearRule(grease_left_share=1.0)),
    ],
)
def test_impossible_questions_are_refused(fit: TubFit, plan: Plan, rule: ClearRule) -> None:
    with pytest.raises(ForecastError):
        project(fit, plan=plan, rule=rule)


def test_several_tubs_in_several_processes_give_what_one_gives() -> None:
    histories = (fading_tub(12), fading_tub(15, half_life=30.0))
    together = forecast_tubs(histories, day(15), workers=2)
    alone = forecast_tubs(histories, day(15))
    for one, two in zip(together, alone, strict=True):
        assert np.allclose(one.degreased.days, two.degreased.days)


def test_a_faulty_tub_in_another_process_raises_here() -> None:
    empty = TubHistory(skulls=(), changes=())
    with pytest.raises(ForecastError, match="no skull"):
        forecast_tubs((fading_tub(6), empty), day(6), workers=2)


def test_changes_that_are_logged_as_half_ones_are_expected_to_stay_half_ones() -> None:
    def median(carry_over: float | None) -> float:
        bare = replace(fading_tub(12), readings=())
        changes = tuple(replace(change, carry_over=carry_over) for change in bare.changes)
        return _median_days(forecast(replace(bare, changes=changes), day(12)))

    assert median(0.0) < median(None) < median(0.6)


@pytest.mark.parametrize("seconds", [4.0, 60.0, 3000.0])
def test_changes_logged_moments_apart_are_one_change_and_said(seconds: float) -> None:
    twice = TubHistory(
        skulls=(SoakingSkull(name="buck", species="deer", since=START),),
        changes=(WaterChange(at=START), WaterChange(at=day(seconds / 86400))),
    )
    found = forecast(twice, day(5))
    assert found.plan.change_interval_days == 0.5
    assert len(found.curve.times) < 700
    assert any("less than an hour apart" in note for note in notes_words(found.notes))


def test_more_changes_than_any_tub_has_are_refused() -> None:
    busy = TubHistory(
        skulls=(SoakingSkull(name="buck", species="deer", since=START),),
        changes=tuple(WaterChange(at=day(number / 1440)) for number in range(2001)),
    )
    with pytest.raises(ForecastError, match="2001 water changes"):
        forecast(busy, day(5))


def test_what_was_entered_for_a_later_day_changes_no_forecast() -> None:
    whole, now = fading_tub(30), day(20)
    known = replace(
        whole,
        changes=tuple(one for one in whole.changes if one.at <= now),
        readings=tuple(one for one in whole.readings if one.at <= now),
    )
    later = replace(whole, temperatures=(TemperatureRecord(at=day(22), temperature_c=10.0),))
    assert np.array_equal(forecast(later, now).degreased.days, forecast(known, now).degreased.days)
