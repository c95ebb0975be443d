from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from greasecheck.model.reasons import CAUSES, Reason, ReasonCode
from greasecheck.model.verdicts import StallVerdict
from greasecheck.predict.advice.stalled import (
    StallReport,
    _causes,
    _Cold,
    _log_sum,
    chilled,
    find_stall,
)
from greasecheck.predict.fit.tub_fit import TubFit, fit_tub
from greasecheck.predict.records import TemperatureRecord, TubHistory, WaterChange
from tests.unit.predict.tubs import day, fading_tub, reading

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


def test_a_bad_photo_that_no_cold_bath_explains_is_no_stall(fit: TubFit) -> None:
    assert ask(fit, with_last_reading_at(0.2), 6).verdict is StallVerdict.STEADY


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
