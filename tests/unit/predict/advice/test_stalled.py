from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy import special, stats

from greasecheck.model import Verdict
from greasecheck.model.reasons import CAUSES, Reason, ReasonCode
from greasecheck.model.verdicts import StallVerdict
from greasecheck.predict.advice import stalled
from greasecheck.predict.advice.stalled import (
    StallReport,
    _causes,
    _Cold,
    _draws,
    _log_sum,
    _noise,
    _odd_reading,
    _odds,
    _supposed,
    chilled,
    find_stall,
)
from greasecheck.predict.fit.likelihood import expected_of
from greasecheck.predict.fit.noise import PARTS, Noise, apart_std, usual_noise
from greasecheck.predict.fit.tub_fit import TubFit, fit_tub
from greasecheck.predict.fit.unlogged import with_changes
from greasecheck.predict.model.course import run_course
from greasecheck.predict.model.history import build_timeline
from greasecheck.predict.records import TemperatureRecord, TubHistory, WaterChange
from tests.unit.predict.tubs import day, fading_tub, reading

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.model.timeline import Timeline

FAILED = 20


@pytest.fixture(scope="module")
def fit() -> TubFit:
    return fit_tub(fading_tub(FAILED), day(FAILED))


def slowed(days: int, share: float) -> TubHistory:
    """Return a tub whose haze rises only by a share of its rise from day 20 on."""
    usual = fading_tub(FAILED + days)
    readings = list(usual.readings[:FAILED])
    for number in range(FAILED, FAILED + days):
        rise = sum(10.0 * 0.5 ** (d / 20) for d in range(max(number - number % 3, FAILED), number))
        before = sum(10.0 * 0.5 ** (d / 20) for d in range(number - number % 3, FAILED))
        readings.append(reading(number + 0.9, 1.5 + before + share * (rise + 5.0)))
    return replace(usual, readings=tuple(readings))


def ask(fit: TubFit, history: TubHistory, days: float) -> StallReport:
    return find_stall(fit, history, day(FAILED + days))


def test_a_tub_that_goes_on_as_before_is_steady(fit: TubFit) -> None:
    report = ask(fit, fading_tub(FAILED + 6), 6)
    assert report.verdict is StallVerdict.STEADY
    assert report.evidence < report.limit
    assert (report.began_at, report.rate_share, report.odd_at) == (None, None, None)


def test_a_tub_that_leaches_at_a_third_is_found_with_its_onset(fit: TubFit) -> None:
    report = ask(fit, slowed(6, 0.3), 6)
    assert report.verdict is StallVerdict.STALLED
    assert report.began_at is not None
    assert abs(report.began_at - day(FAILED)) < timedelta(days=3)
    # tried: 10 and 20 degrees colder, which at 40 degrees C and 45 kJ/mol slow to 0.57 and 0.31
    assert report.rate_share == pytest.approx(0.31, abs=0.03)
    slow, *causes = report.reasons
    assert slow == Reason(code=ReasonCode.SLOW, values=(report.rate_share or 0.0,))
    assert [one.code for one in causes] == list(CAUSES)


@pytest.mark.parametrize("rise", [0.0, 0.05])
def test_a_bath_left_longer_than_any_before_is_no_stall(rise: float) -> None:
    usual = fading_tub(36, half_life=10.0)  # its last bath of three days goes in on day 33
    haze = usual.readings[-1].attenuation_per_m
    after = tuple(reading(36.9 + n, haze * (1 + rise * n)) for n in range(12))
    left = replace(usual, readings=usual.readings + after)
    report = find_stall(fit_tub(left, day(48)), left)
    assert report.verdict is StallVerdict.STEADY
    assert report.evidence < 0.2 * report.limit


def with_last_reading_at(share: float, before: float = 1.0) -> TubHistory:
    usual = fading_tub(FAILED + 6)
    *rest, last_but_one, last = usual.readings
    lower = replace(last_but_one, attenuation_per_m=last_but_one.attenuation_per_m * before)
    low = replace(last, attenuation_per_m=last.attenuation_per_m * share)
    return replace(usual, readings=(*rest, lower, low))


def test_a_case_that_hangs_on_one_low_reading_is_asked_for_again(fit: TubFit) -> None:
    history = with_last_reading_at(0.55, before=0.85)
    report = ask(fit, history, 6)
    assert report.verdict is StallVerdict.ODD_READING
    assert report.odd_at == history.readings[-1].at
    assert report.reasons == (Reason(code=ReasonCode.ONE_LOW_READING),)


@pytest.mark.parametrize(("left", "is_odd"), [(2.9, True), (3.1, False)])
@pytest.mark.parametrize("number", [FAILED, FAILED + 2, FAILED + 5])
def test_a_reading_after_the_onset_without_which_odds_fall_below_three_is_odd(
    fit: TubFit, number: int, left: float, monkeypatch: pytest.MonkeyPatch, *, is_odd: bool
) -> None:
    history, cold = fading_tub(FAILED + 7), _Cold(since=day(FAILED + 0.9), drop_c=20.0)
    odd = history.readings[number]

    monkeypatch.setattr(
        stalled, "_odds", lambda *given: [9.0 if odd in given[2].readings else left]
    )
    found = _odd_reading(fit, history, day(FAILED + 6), cold)
    assert found == (odd.at if is_odd and number > FAILED else None)


def test_a_change_that_the_fit_found_counts_as_if_it_had_been_logged() -> None:
    tub = slowed(3, 0.3)
    gone = replace(tub, changes=tuple(one for one in tub.changes if one.at != day(12)))
    fit = fit_tub(gone, day(FAILED))
    assert fit.unlogged
    found = find_stall(fit, gone, day(FAILED + 3))
    entered = with_changes(gone, fit.unlogged)
    assert found == find_stall(replace(fit, unlogged=()), entered, day(FAILED + 3))
    assert found != find_stall(replace(fit, unlogged=()), gone, day(FAILED + 3))


def test_a_bad_photo_that_no_cold_bath_explains_is_no_stall(fit: TubFit) -> None:
    assert ask(fit, with_last_reading_at(0.2), 6).verdict is StallVerdict.STEADY


def test_odds_are_those_of_the_readings_that_the_fit_did_not_know(fit: TubFit) -> None:
    """Draws rest on the readings until the fit; each counts by the later ones alone.

    Readings follow Student's t of four degrees about what a draw expects, with the scatter that
    the most probable draw gives them.
    """
    history, now = slowed(6, 0.3), day(FAILED + 6)
    usual, noise = build_timeline(history, now), _noise(fit)
    seen = usual.observations
    news = seen.moments.days > FAILED
    std = apart_std(seen, expected_of(usual, fit.fits[0].peak.draws), noise)[news, None]

    def log_weights(timeline: Timeline) -> FloatArray:
        moments = timeline.observations.moments
        hazes = [run_course(timeline, draws).haze_per_m(moments) for draws in _draws(fit)]
        expected = np.hstack(hazes)
        log_densities = stats.t(4).logpdf((seen.haze_per_m[:, None] - expected)[news] / std)
        return np.asarray(log_densities.sum(axis=0))

    known = build_timeline(history, fit.now)
    supposed = [_Cold(since=day(FAILED - 0.1), drop_c=drop) for drop in (10.0, 20.0)]
    none = special.logsumexp(log_weights(usual))
    for cold, odds in zip(supposed, _odds(fit, known, history, now, supposed), strict=True):
        cooled = log_weights(build_timeline(chilled(history, cold), now))
        assert np.log(odds) == pytest.approx(_log_sum(cooled) - none, abs=1e-6)


def test_evidence_sums_odds_over_onsets_and_averages_them_over_the_causes_tried(
    fit: TubFit,
) -> None:
    history, now = slowed(3, 0.6), day(FAILED + 3)
    known = build_timeline(history, fit.now)
    odds = [
        np.mean(_odds(fit, known, history, now, [_Cold(since=since, drop_c=c) for c in (10, 20)]))
        for since in (one.at for one in history.readings[-11:-1])
    ]
    assert find_stall(fit, history, now).evidence == pytest.approx(sum(odds))


def test_a_stall_may_begin_at_each_of_ten_readings_but_the_last() -> None:
    readings = list(fading_tub(14).readings)
    readings[9] = replace(readings[9], verdict=Verdict.REFUSED)
    history = replace(fading_tub(14), readings=tuple(readings))
    supposed = _supposed(history, day(13), None)  # the last reading comes at 13.9
    onsets = [day(n + 0.9) for n in range(1, 12) if n != 9]
    assert [one.since for one in supposed] == [at for at in onsets for _ in range(2)]
    assert {one.drop_c for one in supposed} == {10.0, 20.0}
    later = _supposed(history, day(13), day(8.9))
    assert [one.since for one in later[::2]] == [at for at in onsets if at >= day(8.9)]


def test_scatter_of_baths_is_no_less_than_usual_and_drift_no_more(fit: TubFit) -> None:
    """A stall would pass for drift, and a tub of few baths for one that hardly scatters."""
    usual = usual_noise()
    for size in (0.1, 10.0):
        learnt = Noise(**{part: size * getattr(usual, part) for part in PARTS})
        found = _noise(replace(fit, whitening=replace(fit.whitening, noise=learnt)))
        assert (found.scatter, found.fresh) == (learnt.scatter, learnt.fresh)
        assert found.pace == max(learnt.pace, usual.pace)
        assert found.drift == min(learnt.drift, usual.drift)


def test_what_was_checked_is_not_reported_again(fit: TubFit) -> None:
    history = slowed(6, 0.3)
    seen = find_stall(fit, history, day(FAILED + 6), checked_at=day(FAILED + 5.5))
    assert seen.verdict is StallVerdict.STEADY
    unread = find_stall(fit, history, day(FAILED + 6), checked_at=day(FAILED + 6))
    assert (unread.evidence, unread.reasons) == (0.0, (Reason(code=ReasonCode.FEW_READINGS),))


def test_a_tub_that_runs_empty_is_not_stalled() -> None:
    history = fading_tub(60, half_life=8.0)
    report = find_stall(fit_tub(history, day(60)), history)
    assert report.verdict is StallVerdict.STEADY


def test_causes_fit_the_bath() -> None:
    cold = _Cold(since=day(FAILED), drop_c=20.0)
    heated, unheated = fading_tub(FAILED + 6), at_room(fading_tub(FAILED + 6))
    causes = [_causes(fit_tub(tub, day(1)), tub, cold) for tub in (heated, unheated)]
    codes = [[one.code for one in found] for found in causes]
    assert codes == [
        [ReasonCode.HEATER, ReasonCode.SOAP, ReasonCode.FLOATS],
        [ReasonCode.SOAP, ReasonCode.FLOATS],
    ]


@pytest.mark.parametrize(("hours", "is_named"), [(-1, False), (0, True), (48, True), (49, False)])
def test_soap_is_a_cause_where_the_water_was_changed_within_two_days_of_the_onset(
    fit: TubFit, hours: float, *, is_named: bool
) -> None:
    cold = _Cold(since=day(10), drop_c=10.0)
    changes = (WaterChange(at=day(10) + timedelta(hours=hours)),)
    causes = _causes(fit, replace(fading_tub(1), changes=changes), cold)
    assert (ReasonCode.SOAP in [one.code for one in causes]) is is_named


def at_room(tub: TubHistory) -> TubHistory:
    return replace(
        tub, changes=tuple(replace(change, temperature_c=20.0) for change in tub.changes)
    )


def test_a_supposed_stall_cools_all_that_follows() -> None:
    history = TubHistory(
        skulls=fading_tub(1).skulls,
        changes=(
            WaterChange(at=day(0), temperature_c=40.0),
            WaterChange(at=day(6), temperature_c=15.0),
            WaterChange(at=day(9)),
        ),
        temperatures=(
            TemperatureRecord(at=day(2), temperature_c=45.0),
            TemperatureRecord(at=day(4), temperature_c=30.0),
        ),
    )
    cold = chilled(history, _Cold(since=day(3), drop_c=20.0))
    assert [change.temperature_c for change in cold.changes] == [40.0, 0.0, None]
    assert [(record.at, record.temperature_c) for record in cold.temperatures] == [
        (day(2), 45.0),
        (day(3), 25.0),
        (day(4), 10.0),
    ]
    unknown = replace(history, changes=(WaterChange(at=day(0)),), temperatures=())
    assert chilled(unknown, _Cold(since=day(3), drop_c=10.0)).temperatures[0].temperature_c == 30.0


def test_no_draw_alone_makes_a_case() -> None:
    alike = np.full(400, 2.0)
    assert _log_sum(alike) == pytest.approx(2 + np.log(400))
    for far in (5.0, 30.0, 300.0):  # of 420, a twentieth
        assert _log_sum(np.append(np.zeros(399), far)) == pytest.approx(np.log(399 + 21))
    two = np.append(np.zeros(398), [50.0, 40.0])
    assert _log_sum(two) == pytest.approx(np.log(398 + 2 * 398 / 18))
    assert _log_sum(np.append(np.zeros(399), 3.0)) == pytest.approx(np.log(399 + np.exp(3.0)))
