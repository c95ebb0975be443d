"""Whether a tub leaches slower than by its own past: a failed heater, a bone out of the water."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.model import Verdict
from greasecheck.model.reasons import Reason, ReasonCode
from greasecheck.model.verdicts import StallVerdict
from greasecheck.predict.advice.paces import LIKE_AGE
from greasecheck.predict.fit.likelihood import expected_of, log_likelihood
from greasecheck.predict.fit.noise import usual_noise, whiten_apart
from greasecheck.predict.fit.tub_fit import thinned_draws
from greasecheck.predict.fit.unlogged import with_changes
from greasecheck.predict.model.arrhenius import REFERENCE_C, rate_factor
from greasecheck.predict.model.history import COLDEST_C, build_timeline
from greasecheck.predict.model.warmth import logged_c
from greasecheck.predict.records import TemperatureRecord, TubHistory
from greasecheck.reference.advice import advice_value

if TYPE_CHECKING:
    from collections.abc import Iterable

    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.noise import Noise
    from greasecheck.predict.fit.tub_fit import TubFit
    from greasecheck.predict.model.draws import Draws
    from greasecheck.predict.model.timeline import Timeline
    from greasecheck.predict.records import HazeReading, WaterChange

DRAWS = 300  # that odds are averaged over, to 6 % of their spread; over half as many 8 %
NEAR_CHANGE = timedelta(days=2)
MOST_LOG_ODDS = 50.0  # enough for any decision, and no overflow
LEAST_SUPPORT = 3.0  # odds left without the most informative reading


@dataclass(frozen=True, slots=True, kw_only=True)
class StallReport:
    """Whether a tub leaches as expected.

    Attributes
    ----------
    verdict : StallVerdict
        `ODD_READING` when one reading alone makes the case.
    evidence, limit : float
        Odds summed over when it may have begun (Shiryaev-Roberts), and the limit that they pass
        no more often than once in so many readings while nothing is wrong.
    began_at : datetime.datetime or None
        The last reading before it most likely began; None while steady.
    rate_share : float or None
        Leaching since then over what was expected, under the best of the causes tried; over what
        it was before where it quickened.
    odd_at : datetime.datetime or None
        When the one odd reading was taken.
    reasons : tuple of Reason
        What it rests on, and what to look at.
    """

    verdict: StallVerdict
    evidence: float
    limit: float
    began_at: datetime | None
    rate_share: float | None
    odd_at: datetime | None
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cold:
    """A supposed stall: since when, and how much colder it is as if [degrees C]."""

    since: datetime
    drop_c: float


def find_stall(
    fit: TubFit,
    history: TubHistory,
    now: datetime | None = None,
    *,
    checked_at: datetime | None = None,
) -> StallReport:
    """Test whether leaching has slowed by more than the model allows.

    Parameters
    ----------
    fit : TubFit
        The tub as expected; a fit of some days ago serves too, while the recipes stay the same.
    history : TubHistory
        All that is known at `now`.
    now : datetime.datetime, optional
        Zone-aware; the time of the fit.
    checked_at : datetime.datetime, optional
        When somebody last found all well; a stall that began earlier is not looked for.

    Notes
    -----
    Each supposed stall (after one of the last readings, as if so many degrees colder) is the same
    model with another temperature. Its odds against none are p(readings | stall) /
    p(readings | none), each averaged over the posterior draws; their sum over the onsets is the
    Shiryaev-Roberts statistic R. While nothing is wrong R less the number of readings is a
    martingale, so that R passes a limit A no sooner than after A readings on average.
    A pool that runs empty is part of 'none', so that a tub nearly done does not look stalled.
    Readings of a bath older than those before it do not count: how it fills up, and what grows in
    it, was never seen there.

    References
    ----------
    S. W. Roberts, Technometrics 8, 411 (1966); M. Pollak, Ann. Stat. 13, 206 (1985), eq. 4
    (from memory).
    """
    now = now or fit.now
    completed = _without_older_baths(with_changes(history, fit.unlogged))
    supposed = _supposed(completed, now, checked_at)
    limit = advice_value("stall_readings_between_false_alarms")
    if not supposed:
        return _steady(0.0, limit, ReasonCode.FEW_READINGS)
    known = build_timeline(completed, fit.now)
    odds = np.array(_odds(fit, known, completed, now, supposed))
    drops = len({cold.drop_c for cold in supposed})
    evidence = float(odds.sum() / drops)
    if evidence < limit:
        return _steady(evidence, limit)
    best = supposed[int(np.argmax(odds))]
    return _alarm(fit, completed, now, best, _steady(evidence, limit))


def _without_older_baths(history: TubHistory) -> TubHistory:
    """Return the history without what was read in a bath older than those before it."""
    fills = sorted(change.at for change in history.changes)
    lasted = [until - since for since, until in pairwise(fills)]
    longest = [timedelta.max, *(LIKE_AGE * most for most in accumulate(lasted, max))]

    def is_like_before(reading: HazeReading) -> bool:
        bath = max(bisect_left(fills, reading.at) - 1, 0)
        return reading.at - fills[bath] <= longest[bath]

    return replace(history, readings=tuple(filter(is_like_before, history.readings)))


def _supposed(history: TubHistory, now: datetime, checked_at: datetime | None) -> list[_Cold]:
    window = int(advice_value("stall_window_readings"))
    times = sorted(
        reading.at
        for reading in history.readings
        if reading.at <= now and reading.verdict is not Verdict.REFUSED
    )
    onsets = [at for at in times[-window - 1 : -1] if checked_at is None or at >= checked_at]
    drops = (advice_value("stall_small_drop_c"), advice_value("stall_large_drop_c"))
    return [_Cold(since=at, drop_c=drop) for at in onsets for drop in drops]


def _odds(
    fit: TubFit, known: Timeline, history: TubHistory, now: datetime, supposed: Iterable[_Cold]
) -> list[float]:
    """Return the odds of each supposed stall against none, averaged over the draws.

    The draws already rest on the readings that were `known` to the fit, so these are divided out;
    `known` holds only those of them that count, or older baths would weigh the draws anew.
    """
    draws = _draws(fit)
    usual = build_timeline(history, now)
    peak = fit.fits[0].peak.draws
    expected = expected_of(usual, peak)
    noise = _noise(fit)
    whitening = whiten_apart(usual.observations, expected, noise)
    before = whiten_apart(known.observations, expected_of(known, peak), noise)
    then = [log_likelihood(known, some, before) for some in draws]

    def log_weights(story: TubHistory) -> FloatArray:
        timeline = usual if story is history else build_timeline(story, now)
        news = [log_likelihood(timeline, some, whitening) for some in draws]
        return np.concatenate(news) - np.concatenate(then)

    none = special.logsumexp(log_weights(history))
    gains = [_log_sum(log_weights(chilled(history, cold))) - none for cold in supposed]
    return [float(np.exp(min(gain, MOST_LOG_ODDS))) for gain in gains]


def _log_sum(log_weights: FloatArray) -> float:
    """Return the logarithm of a sum of importance weights to which no draw adds too much.

    Weights are truncated at the sum over the root of their number, as of what is left of them
    (Ionides, J. Comput. Graph. Stat. 17, 295 (2008), section 2, with the mean of all weights; from
    memory): one draw alone, far out, makes no case, however far.
    """
    falling = np.sort(log_weights)[::-1]
    root = np.sqrt(len(falling))
    cut = np.arange(int(np.ceil(root)))  # how many of the largest may be truncated
    rest = np.logaddexp.accumulate(falling[::-1])[::-1][: len(cut)]
    limits = rest - np.log(root - cut)  # w = (cut w + rest) / root
    most = float(limits[np.argmax(limits >= falling[: len(cut)])])
    return float(special.logsumexp(np.minimum(log_weights, most)))


def _noise(fit: TubFit) -> Noise:
    """Return the sizes of the scatter, the drift no larger than usual: a stall is such a drift."""
    learnt, usual = fit.whitening.noise, usual_noise()
    return replace(learnt, pace=max(learnt.pace, usual.pace), drift=min(learnt.drift, usual.drift))


def _draws(fit: TubFit) -> list[Draws]:
    return [drawn.course.draws for drawn in thinned_draws(fit, DRAWS)]


def chilled(history: TubHistory, cold: _Cold) -> TubHistory:
    """Return the history with its bath colder from a time on."""
    logged = logged_c(history, cold.since)
    last_c = REFERENCE_C if logged is None else logged
    first = TemperatureRecord(at=cold.since, temperature_c=_colder(last_c, cold.drop_c))
    return replace(
        history,
        changes=tuple(_chilled_change(change, cold) for change in history.changes),
        temperatures=(
            *(record for record in history.temperatures if record.at <= cold.since),
            first,
            *(
                replace(record, temperature_c=_colder(record.temperature_c, cold.drop_c))
                for record in history.temperatures
                if record.at > cold.since
            ),
        ),
    )


def _chilled_change(change: WaterChange, cold: _Cold) -> WaterChange:
    if change.at <= cold.since or change.temperature_c is None:
        return change
    return replace(change, temperature_c=_colder(change.temperature_c, cold.drop_c))


def _colder(temperature_c: float, drop_c: float) -> float:
    return max(temperature_c - drop_c, COLDEST_C)


def _steady(
    evidence: float, limit: float, code: ReasonCode = ReasonCode.AS_EXPECTED
) -> StallReport:
    return StallReport(
        verdict=StallVerdict.STEADY,
        evidence=evidence,
        limit=limit,
        began_at=None,
        rate_share=None,
        odd_at=None,
        reasons=(Reason(code=code),),
    )


def _alarm(
    fit: TubFit, history: TubHistory, now: datetime, best: _Cold, quiet: StallReport
) -> StallReport:
    """Return the alarm, or the odd reading that alone makes the case."""
    odd_at = _odd_reading(fit, history, now, best)
    if odd_at is not None:
        return replace(
            quiet,
            verdict=StallVerdict.ODD_READING,
            odd_at=odd_at,
            reasons=(Reason(code=ReasonCode.ONE_LOW_READING),),
        )
    share = _rate_share(fit, best)
    return replace(
        quiet,
        verdict=StallVerdict.STALLED,
        began_at=best.since,
        rate_share=share,
        reasons=(
            Reason(code=ReasonCode.SLOW, values=(share,)),
            *_causes(fit, history, best),
        ),
    )


def _odd_reading(fit: TubFit, history: TubHistory, now: datetime, best: _Cold) -> datetime | None:
    """Return the time of a reading without which little evidence is left."""
    known = build_timeline(history, fit.now)
    since = [reading.at for reading in history.readings if best.since < reading.at <= now]
    for at in sorted(since, reverse=True):
        rest = tuple(reading for reading in history.readings if reading.at != at)
        (odds,) = _odds(fit, known, replace(history, readings=rest), now, [best])
        if odds < LEAST_SUPPORT:
            return at
    return None


def _rate_share(fit: TubFit, cold: _Cold) -> float:
    usual_c = fit.timeline.usual_condition.temperature_c
    return rate_share(fit, _colder(usual_c, cold.drop_c), usual_c)


def rate_share(fit: TubFit, celsius: float, usual_c: float) -> float:
    """Return the rate of leaching at a temperature over that at another [degrees C]."""
    energies: FloatArray = np.concatenate([draws.activation_kj_per_mol for draws in _draws(fit)])
    energy = float(np.median(energies))
    return float(rate_factor(celsius, energy) / rate_factor(usual_c, energy))


def _causes(fit: TubFit, history: TubHistory, cold: _Cold) -> tuple[Reason, ...]:
    changed = any(cold.since <= change.at <= cold.since + NEAR_CHANGE for change in history.changes)
    named = (
        (fit.timeline.usual_condition.temperature_c > advice_value("room_c"), ReasonCode.HEATER),
        (changed, ReasonCode.SOAP),
        (True, ReasonCode.FLOATS),
    )
    return tuple(Reason(code=code) for holds, code in named if holds)
