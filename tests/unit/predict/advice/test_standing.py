from __future__ import annotations

from dataclasses import replace

import pytest

from greasecheck.model import Recipe
from greasecheck.model.reasons import Reason, ReasonCode
from greasecheck.model.verdicts import DoneVerdict, StallVerdict
from greasecheck.predict.advice import standing
from greasecheck.predict.advice.bone_trend import BoneCourse, BoneTrend
from greasecheck.predict.advice.decisions import advise
from greasecheck.predict.advice.pace_break import PaceBreak
from greasecheck.predict.advice.stalled import StallReport
from greasecheck.predict.advice.standing import judge_pace, with_reasons
from greasecheck.predict.fit.tub_fit import TubFit, fit_tub
from greasecheck.predict.forecast_records import Forecast
from greasecheck.predict.outlook.forecasting import forecast
from greasecheck.predict.records import TemperatureRecord
from tests.unit.predict.tubs import day, fading_tub

DAYS = 75
COLD = fading_tub(DAYS, broken=(20, DAYS), share=0.12)


@pytest.fixture(scope="module")
def cold() -> TubFit:
    return fit_tub(COLD, day(DAYS))


def test_an_alarm_nobody_answered_stands_weeks_later(cold: TubFit) -> None:
    pace = judge_pace(cold, COLD)
    assert pace.report.verdict is StallVerdict.STALLED
    assert pace.once_broke
    assert pace.report.began_at is not None
    assert day(15) < pace.report.began_at < day(24)
    assert pace.report.reasons[-1].code is ReasonCode.UNANSWERED


def test_a_temperature_or_all_well_answers_it_and_leaves_the_proof_to_give(cold: TubFit) -> None:
    felt = replace(COLD, temperatures=(TemperatureRecord(at=day(50), temperature_c=40.0),))
    for pace in (judge_pace(cold, felt), judge_pace(cold, COLD, checked_at=day(50))):
        assert pace.report.verdict is StallVerdict.STEADY
        assert pace.once_broke
    early = replace(COLD, temperatures=(TemperatureRecord(at=day(10), temperature_c=40.0),))
    assert judge_pace(cold, early).report.verdict is StallVerdict.STALLED


def test_a_pace_that_rises_asks_for_another_skull() -> None:
    history = fading_tub(60, broken=(0, 30), share=0.12)
    fit = fit_tub(history, day(60))
    pace = judge_pace(fit, history)
    assert pace.report.verdict is StallVerdict.QUICKENED
    assert pace.report.reasons[0].code is ReasonCode.QUICKENED
    seen = judge_pace(fit, history, checked_at=day(50))
    assert (seen.report.verdict, seen.once_broke) == (StallVerdict.STEADY, True)


def test_of_several_rises_the_newest_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    rises = (PaceBreak(since=day(30), share=2.0), PaceBreak(since=day(50), share=3.0))
    monkeypatch.setattr(standing, "find_rises", lambda _: rises)
    history = fading_tub(60)
    report = judge_pace(fit_tub(history, day(60)), history).report
    assert (report.verdict, report.began_at) == (StallVerdict.QUICKENED, day(50))
    assert report.reasons == (Reason(code=ReasonCode.QUICKENED, values=(3.0,)),)


def test_a_cold_tub_is_not_done_though_its_water_says_so() -> None:
    advice = advise(COLD, day(DAYS))
    assert advice.stall.verdict is StallVerdict.STALLED
    (skull,) = advice.skulls
    assert skull.verdict in {DoneVerdict.GREASE_LEFT, DoneVerdict.LOOK_AT_TUB}
    assert (skull.withheld, skull.degreased_at) == (ReasonCode.SLOW, None)
    assert (advice.withheld, advice.degreased, advice.runs_clear) == (ReasonCode.SLOW, None, None)


def steady(code: ReasonCode = ReasonCode.AS_EXPECTED) -> StallReport:
    return StallReport(
        verdict=StallVerdict.STEADY,
        evidence=1.0,
        limit=30.0,
        began_at=None,
        rate_share=None,
        odd_at=None,
        reasons=(Reason(code=code),),
    )


@pytest.fixture(scope="module")
def found() -> Forecast:
    return forecast(fading_tub(30), day(30))


def reasons(report: StallReport, found: Forecast, *bones: BoneTrend, warm: bool) -> list[str]:
    return [one.code.value for one in with_reasons(report, found, bones, warm=warm).reasons]


def test_quiet_water_is_nearly_done_only_where_it_was_warm(found: Forecast) -> None:
    likely = replace(found, probability_degreased_now=0.8)
    assert reasons(steady(), likely, warm=True) == ["nearly_done"]
    assert reasons(steady(), likely, warm=False) == ["quiet"]
    assert reasons(steady(ReasonCode.FEW_READINGS), likely, warm=True) == ["few_readings"]


def test_water_that_fell_quiet_at_once_may_have_stopped(found: Forecast) -> None:
    trust = replace(found.diagnostics, stop_share=0.5)
    ended = replace(found, probability_degreased_now=0.8, diagnostics=trust)
    assert reasons(steady(), ended, warm=True) == ["ended_at_once"]
    assert reasons(steady(), ended, warm=False) == ["quiet"]


def test_readings_that_no_leaching_describes_are_not_as_expected(found: Forecast) -> None:
    sound = replace(found.diagnostics, converged=True, describes_data=True)
    for trust, code in (
        (sound, "as_expected"),
        (replace(sound, converged=False), "unfit"),
        (replace(sound, describes_data=False), "unfit"),
    ):
        unlike = replace(found, diagnostics=trust, probability_degreased_now=0.1)
        assert reasons(steady(), unlike, warm=True) == [code]


def trend(course: BoneCourse) -> BoneTrend:
    return BoneTrend(
        course=course,
        looks=5,
        slope_per_week=None,
        slope_low_per_week=None,
        slope_high_per_week=None,
        yellow_patch_share=None,
        yellow_patch_share_high=None,
        yellow_share_std=None,
        has_cleared=False,
    )


def test_ammonia_may_draw_grease_without_haze(found: Forecast) -> None:
    stalled = replace(steady(ReasonCode.SLOW), verdict=StallVerdict.STALLED)
    paling, settled = trend(BoneCourse.PALING), trend(BoneCourse.SETTLED)
    with_ammonia = replace(found, plan=replace(found.plan, recipe=Recipe.AMMONIA))
    assert reasons(stalled, with_ammonia, paling, warm=True) == ["slow", "clear_soap"]
    assert reasons(stalled, with_ammonia, settled, warm=True) == ["slow"]
    assert reasons(stalled, found, paling, warm=True) == ["slow"]
    at_work = replace(with_ammonia, probability_degreased_now=0.1)  # its haze shows the grease
    assert "clear_soap" not in reasons(steady(), at_work, paling, warm=True)
    quiet = replace(with_ammonia, probability_degreased_now=0.95)
    assert "clear_soap" in reasons(steady(), quiet, paling, warm=True)


def test_water_measured_cold_stands_until_it_is_measured_warm_or_found_well() -> None:
    measured = (TemperatureRecord(at=day(40), temperature_c=12.0),)
    history = replace(COLD, temperatures=measured)
    fit = fit_tub(history, day(DAYS))
    report = judge_pace(fit, history).report
    assert report.verdict is StallVerdict.STALLED
    assert report.began_at == day(40)
    assert report.reasons[0] == Reason(code=ReasonCode.MEASURED_COLD, values=(12.0, 40.0))
    assert report.rate_share is not None
    assert 0.05 < report.rate_share < 0.5
    assert judge_pace(fit, history, checked_at=day(50)).report.reasons != report.reasons
    warm = replace(
        COLD, temperatures=(*measured, TemperatureRecord(at=day(60), temperature_c=39.0))
    )
    assert fit_tub(warm, day(DAYS)).timeline.calendar.steps.cold is None


def test_a_tub_measured_cold_is_forecast_as_cold_and_never_done() -> None:
    history = replace(COLD, temperatures=(TemperatureRecord(at=day(22), temperature_c=12.0),))
    told, untold = (forecast(one, day(DAYS)) for one in (history, COLD))
    assert told.plan.temperature_c == 12.0
    assert untold.plan.temperature_c == 40.0
    assert told.probability_degreased_now < 0.5 * untold.probability_degreased_now
    advice = advise(history, day(DAYS))
    assert advice.skulls[0].verdict is not DoneVerdict.DONE
