"""The pace of a tub judged by its whole log: alarms that nobody answered stand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from greasecheck.model import Recipe, Verdict
from greasecheck.model.reasons import Reason, ReasonCode
from greasecheck.model.verdicts import StallVerdict
from greasecheck.predict.advice.bone_trend import BoneCourse
from greasecheck.predict.advice.pace_break import find_falls, find_rises
from greasecheck.predict.advice.stalled import find_stall, rate_share
from greasecheck.predict.fit.tub_fit import fit_tub
from greasecheck.predict.forecast_records import LIKELY
from greasecheck.reference.advice import advice_value

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime

    from greasecheck.predict.advice.bone_trend import BoneTrend
    from greasecheck.predict.advice.pace_break import PaceBreak
    from greasecheck.predict.advice.stalled import StallReport
    from greasecheck.predict.fit.tub_fit import TubFit
    from greasecheck.predict.forecast_records import Forecast
    from greasecheck.predict.model.warmth import ColdWater
    from greasecheck.predict.records import FinishedTub, TubHistory

WITH_AMMONIA = frozenset({Recipe.AMMONIA, Recipe.SOAP_AMMONIA})
BEFORE_THE_FALL = 2  # readings of the window that lie before it, so that its start is seen
FALLS_TRIED = 2  # falls of the pace that are tested again; each costs a fit


@dataclass(frozen=True, slots=True, kw_only=True)
class TubPace:
    """The verdict on a tub's pace.

    Attributes
    ----------
    report : StallReport
        Whether it leaches as expected; an alarm stands until somebody answers it.
    once_broke : bool
        Whether the pace once fell or rose as no leaching does, answered or not.
    """

    report: StallReport
    once_broke: bool


def judge_pace(
    fit: TubFit,
    history: TubHistory,
    *,
    checked_at: datetime | None = None,
    finished: Sequence[FinishedTub] = (),
) -> TubPace:
    """Judge the pace of a tub by all of its log.

    A tub that went cold looks, weeks later, like one that ran empty. So where the pace once fell
    as no bone that runs empty lets it, the tub is tested again as it stood then; the alarm of
    that day stands until somebody enters a temperature, or finds all well.

    Parameters
    ----------
    fit, history, checked_at
        As for `find_stall`.
    finished : sequence of FinishedTub
        The user's own finished tubs, as the tub was fitted with.
    """
    cold = fit.timeline.calendar.steps.cold
    now = find_stall(fit, history, checked_at=checked_at)
    if cold is not None and _stands(cold.at, checked_at):
        return TubPace(report=_measured_cold(fit, now, cold), once_broke=True)
    raised, rises = _raised(fit, history, finished), find_rises(fit)
    unanswered = [rise for rise in rises if _stands(rise.since, checked_at)]
    felt = [one.at for one in history.temperatures if one.at <= fit.now]
    answered_at = max([*felt, *([checked_at] if checked_at else [])], default=None)
    report = now
    if now.verdict is StallVerdict.STEADY:
        if raised is not None and _stands(raised.began_at, answered_at):
            report = raised
        elif unanswered:
            report = _quickened(now, unanswered[-1])
    return TubPace(report=report, once_broke=raised is not None or bool(rises))


def _measured_cold(fit: TubFit, found: StallReport, cold: ColdWater) -> StallReport:
    """Return the alarm of water that somebody measured cold."""
    measured = Reason(code=ReasonCode.MEASURED_COLD, values=(cold.temperature_c, cold.filled_c))
    return replace(
        found,
        verdict=StallVerdict.STALLED,
        began_at=cold.at,
        rate_share=rate_share(fit, cold.temperature_c, cold.filled_c),
        reasons=(measured, Reason(code=ReasonCode.HEATER)),
    )


def _stands(began_at: datetime | None, answered_at: datetime | None) -> bool:
    return began_at is not None and (answered_at is None or answered_at < began_at)


def _raised(
    fit: TubFit, history: TubHistory, finished: Sequence[FinishedTub]
) -> StallReport | None:
    """Return the alarm of the day on which a fall of the pace should have been found."""
    for fall in find_falls(fit)[:FALLS_TRIED]:
        then = _reading_after(history, fall.since, fit.now)
        found = find_stall(fit_tub(history, then, finished=finished), history, then)
        if found.verdict is StallVerdict.STALLED:
            unanswered = Reason(code=ReasonCode.UNANSWERED)
            return replace(found, reasons=(*found.reasons, unanswered))
    return None


def _reading_after(history: TubHistory, since: datetime, now: datetime) -> datetime:
    """Return the time of the reading by which a fall should have been found."""
    later = sorted(
        reading.at
        for reading in history.readings
        if since < reading.at <= now and reading.verdict is not Verdict.REFUSED
    )
    within = max(int(advice_value("stall_window_readings")) - BEFORE_THE_FALL, 1)
    return later[:within][-1]


def _quickened(steady: StallReport, rise: PaceBreak) -> StallReport:
    return replace(
        steady,
        verdict=StallVerdict.QUICKENED,
        began_at=rise.since,
        rate_share=rise.share,
        reasons=(Reason(code=ReasonCode.QUICKENED, values=(rise.share,)),),
    )


def with_reasons(
    report: StallReport, found: Forecast, bones: Iterable[BoneTrend], *, warm: bool
) -> StallReport:
    """Return the report with what else explains the pace.

    Parameters
    ----------
    report : StallReport
        The verdict on the pace.
    found : Forecast
        Of the tub.
    bones : iterable of BoneTrend
        How its bones stand.
    warm : bool
        Whether its water was seen warm; else it may be quiet for being cold.
    """
    if report.verdict is StallVerdict.STEADY and report.reasons[0].code is ReasonCode.AS_EXPECTED:
        report = replace(report, reasons=(Reason(code=_steady_because(found, warm=warm)),))
    pales = any(bone.course is BoneCourse.PALING for bone in bones)
    quiet = report.verdict is StallVerdict.STALLED or found.probability_degreased_now >= LIKELY
    if found.plan.recipe in WITH_AMMONIA and pales and quiet:
        report = replace(report, reasons=(*report.reasons, Reason(code=ReasonCode.CLEAR_SOAP)))
    return report


def _steady_because(found: Forecast, *, warm: bool) -> ReasonCode:
    if found.probability_degreased_now >= LIKELY:
        if not warm:
            return ReasonCode.QUIET
        stopped = found.diagnostics.may_have_stopped
        return ReasonCode.ENDED_AT_ONCE if stopped else ReasonCode.NEARLY_DONE
    fits = found.diagnostics.converged and found.diagnostics.describes_data
    return ReasonCode.AS_EXPECTED if fits else ReasonCode.UNFIT
