"""When will a tub run clear: the entry points."""

from __future__ import annotations

import multiprocessing
import os
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import ForecastError
from greasecheck.model.longest_soak import LATEST_DAYS
from greasecheck.predict.fit.dates import TubDates, dates_of, filled_plan, volume_share
from greasecheck.predict.fit.tub_fit import TubFit, fit_tub
from greasecheck.predict.forecast_records import ClearDates, Forecast, FormWeight
from greasecheck.predict.model.history import check_temperature
from greasecheck.predict.one_thread import on_one_thread
from greasecheck.predict.outlook.curve import haze_curve
from greasecheck.predict.outlook.diagnostics import diagnose, notes_on
from greasecheck.predict.outlook.doubts import with_doubt, with_stops
from greasecheck.predict.outlook.per_skull import skull_forecasts, three_quantiles
from greasecheck.predict.records import ClearRule, Plan

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.model import FloatArray
    from greasecheck.predict.records import FilledPlan, FinishedTub, TubHistory

__all__ = ["fit_tub", "forecast", "forecast_tubs", "project"]

CURVE_PROBABILITY = 0.9
CURVE_MARGIN_DAYS = 14.0
FALLBACK_AHEAD_DAYS = 90.0
LEAST_LEFT_SHARE = 1e-6  # keeps a logarithm finite, far below any rule
TUBS_WORTH_A_PROCESS = 4  # starting a process costs about as much as so many forecasts


def forecast(
    history: TubHistory,
    now: datetime,
    *,
    plan: Plan | None = None,
    rule: ClearRule | None = None,
    finished: Sequence[FinishedTub] = (),
) -> Forecast:
    """Forecast when a tub runs clear and when its skulls are degreased.

    Parameters
    ----------
    history : TubHistory
        Skulls, water changes, readings and temperatures of one tub.
    now : datetime.datetime
        Zone-aware; what was logged later is not looked at.
    plan : Plan, optional
        How the tub will be run from now on; as usual where left open.
    rule : ClearRule, optional
        What counts as clear and as degreased; the usual rule without it.
    finished : sequence of FinishedTub
        The user's own finished tubs, which bend the species table.

    Returns
    -------
    Forecast
        Dates with probabilities, and how far to trust them.

    Raises
    ------
    ForecastError
        For a tub without a skull or filling, or with impossible entries.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> from greasecheck.predict.records import SoakingSkull, TubHistory, WaterChange
    >>> start = datetime(2026, 1, 5, tzinfo=UTC)
    >>> tub = TubHistory(
    ...     skulls=(SoakingSkull(name="buck", species="deer", since=start),),
    ...     changes=(WaterChange(at=start, temperature_c=40.0),),
    ... )
    >>> [str(note.code) for note in forecast(tub, start).notes]
    ['no_readings']
    """
    return project(fit_tub(history, now, finished=finished), plan=plan, rule=rule)


@on_one_thread
def project(
    fit: TubFit,
    *,
    plan: Plan | None = None,
    rule: ClearRule | None = None,
    proved: bool | None = None,
) -> Forecast:
    """Forecast from a fit that is already made, to ask what another plan would bring.

    Parameters
    ----------
    fit : TubFit
        From `fit_tub`.
    plan, rule
        As for `forecast`.
    proved : bool, optional
        Given by a caller that asks for the proof as well, as the advice does: whether it holds.
        Where the haze ended at once (see `find_stops`), the dates then believe that the grease ran
        out, and so does what is left once the proof holds. Without it both doubt the end.

    Raises
    ------
    ForecastError
        For an impossible plan or rule.
    """
    rule = checked_rule(rule)
    _check(plan or Plan())
    if not fit.timeline.present.any():
        raise ForecastError(
            "no skull is in the tub any more", hint="ask for a day on which one soaked in it"
        )
    filled = filled_plan(fit.timeline, plan or Plan())
    found, stop_share = _with_doubts(fit, filled, rule, proved)
    origin, now_days = fit.timeline.calendar.origin, fit.timeline.calendar.now_days
    last = found.degreased_days.max(axis=0)
    dates = ClearDates(origin=origin, days=np.sort(found.clear_days))
    degreased = ClearDates(origin=origin, days=np.sort(last))
    answer = Forecast(
        made_at=fit.now,
        rule=rule,
        plan=filled,
        dates=dates,
        degreased=degreased,
        probability_clear_now=dates.probability_by(fit.now),
        probability_degreased_now=degreased.probability_by(fit.now),
        gain_now_per_m=three_quantiles(found.gain_per_m),
        litres_over_standard=volume_share(fit),
        grease_left_share=three_quantiles(found.left_share.max(axis=0)),
        left_when_clear_share=three_quantiles(_left_when_clear(found, now_days, rule)),
        curve=haze_curve(fit, filled, rule, _days_ahead(degreased, now_days)),
        forms=tuple(
            FormWeight(form=part.peak.parameters.form.value, weight=part.weight)
            for part in fit.fits
        ),
        skulls=skull_forecasts(fit, found),
        unlogged_changes=fit.unlogged,
        diagnostics=diagnose(fit, stop_share=stop_share),
    )
    return replace(answer, notes=notes_on(answer, fit, asks_proof=proved is not None))


def _with_doubts(
    fit: TubFit, plan: FilledPlan, rule: ClearRule, proved: bool | None
) -> tuple[TubDates, float]:
    """Return the dates with the doubts that `proved` leaves, and the probability of a stop."""
    by_haze = with_doubt(fit, dates_of(fit, plan, rule), plan, rule)
    doubted = with_stops(fit, by_haze, plan, rule)
    stopped = (doubted.degreased_days != by_haze.degreased_days).any(axis=0)
    dates = doubted if proved is None else by_haze
    left = by_haze if proved else doubted
    return replace(dates, left_share=left.left_share), float(np.mean(stopped))


def _left_when_clear(found: TubDates, now_days: float, rule: ClearRule) -> FloatArray:
    """Return the share left when each draw runs clear: an exponential through now and done."""
    left = np.maximum(found.left_share.max(axis=0), LEAST_LEFT_SHARE)
    done = found.degreased_days.max(axis=0)
    wait = np.maximum(np.minimum(found.clear_days, LATEST_DAYS) - now_days, 0.0)
    span = np.maximum(np.minimum(done, LATEST_DAYS) - now_days, 1.0)
    fall = np.minimum(np.log(rule.grease_left_share / left), 0.0)
    share: FloatArray = left * np.exp(fall * wait / span)
    return share


def checked_rule(rule: ClearRule | None) -> ClearRule:
    """Return a rule that makes sense, the usual one without any.

    Raises
    ------
    ForecastError
        For an impossible rule.
    """
    rule = rule or ClearRule()
    if not (0 < rule.soak_days <= LATEST_DAYS and 0 < rule.gain_per_m < np.inf):
        raise ForecastError(
            "the rule for clear water needs a soak and a gain above 0",
            hint="the usual rule is a bath left for 14 days that gains less than 3 per metre",
        )
    if not 0 < rule.grease_left_share < 1:
        raise ForecastError(
            "the share of grease left lies outside 0 to 1",
            hint="the usual rule calls a skull degreased with less than 0.1 of its grease left",
        )
    return rule


def _check(plan: Plan) -> None:
    check_temperature(plan.temperature_c)
    interval_days = plan.change_interval_days
    if interval_days is not None and not 0 < interval_days <= LATEST_DAYS:
        raise ForecastError(
            f"the change interval is not above 0 and up to {LATEST_DAYS:g} days",
            hint="give it in days",
        )


def _days_ahead(dates: ClearDates, now_days: float) -> float:
    late = float(np.quantile(dates.days, CURVE_PROBABILITY, method="inverted_cdf"))
    ahead = late - now_days if np.isfinite(late) else FALLBACK_AHEAD_DAYS
    return max(ahead, 0.0) + CURVE_MARGIN_DAYS


def forecast_tubs(
    histories: Sequence[TubHistory],
    now: datetime,
    *,
    plan: Plan | None = None,
    rule: ClearRule | None = None,
    finished: Sequence[FinishedTub] = (),
    workers: int | None = None,
) -> tuple[Forecast, ...]:
    """Forecast several tubs, on all cores.

    Parameters
    ----------
    histories : sequence of TubHistory
        One per tub.
    now, plan, rule, finished
        As for `forecast`.
    workers : int, optional
        Processes; by default as many as cores, and one for a few tubs.

    Raises
    ------
    ForecastError
        The first that any tub raises.
    """
    ask = partial(forecast, now=now, plan=plan, rule=rule, finished=tuple(finished))
    if workers is None:
        workers = min(os.cpu_count() or 1, len(histories) // TUBS_WORTH_A_PROCESS)
    if workers < 2:
        return tuple(ask(history) for history in histories)
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, mp_context=context) as pool:
        return tuple(pool.map(ask, histories))
