from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from greasecheck.model import Bound, Verdict
from greasecheck.predict.fit.done_prior import skull_time
from greasecheck.predict.fit.unlogged import (
    candidates,
    find_unlogged,
    fit_before_falls,
    with_changes,
)
from greasecheck.predict.forecast_records import UnloggedChange
from greasecheck.predict.outlook.forecasting import forecast
from greasecheck.predict.records import SameWater, TubHistory
from greasecheck.words.notes import notes_words
from tests.synthetic.judging_tubs.kinds import JudgingKind
from tests.synthetic.judging_tubs.log import invent_judging_tub
from tests.synthetic.tubs.kinds import Kind
from tests.synthetic.tubs.log import START as TUBS_START
from tests.synthetic.tubs.log import InventedTub, invent_tub
from tests.unit.predict.tubs import day, fading_tub, reading

DEER = (skull_time("deer"),)


def changes_in(history: TubHistory, until: int) -> tuple[UnloggedChange, ...]:
    first = fit_before_falls(history, day(until), DEER)
    return find_unlogged(history, day(until), first)


def test_a_change_that_nobody_logged_is_found_between_its_readings() -> None:
    history = fading_tub(30)
    gone = replace(history, changes=tuple(c for c in history.changes if c.at != day(12)))
    found = changes_in(gone, 30)
    assert [(change.after, change.before) for change in found] == [(day(11.9), day(12.9))]
    assert found[0].fall_per_m > 0
    put_in = with_changes(gone, found)
    assert len(put_in.changes) == len(history.changes)


def test_a_fall_of_which_somebody_says_that_the_water_stayed_is_no_change() -> None:
    history = fading_tub(30)
    gone = replace(history, changes=tuple(c for c in history.changes if c.at != day(12)))
    denied = replace(gone, same_water=(SameWater(after=day(11.9), before=day(12.9)),))
    assert changes_in(denied, 30) == ()
    elsewhere = replace(gone, same_water=(SameWater(after=day(20), before=day(21)),))
    assert len(changes_in(elsewhere, 30)) == 1


def test_its_forecast_comes_out_as_if_it_had_been_logged() -> None:
    history = fading_tub(30)
    gone = replace(history, changes=tuple(c for c in history.changes if c.at != day(12)))
    logged, unlogged = forecast(history, day(30)), forecast(gone, day(30))
    assert len(unlogged.unlogged_changes) == 1
    assert any("nobody logged" in note for note in notes_words(unlogged.notes))
    ends = [np.quantile(found.degreased.days, (0.1, 0.5, 0.9)) for found in (logged, unlogged)]
    assert np.all(np.abs(ends[0] - ends[1]) < 0.25 * (ends[0][2] - ends[0][0]))


@pytest.mark.parametrize("day_of_fault", [10, 13])
@pytest.mark.parametrize("factor", [0.4, 2.5])
def test_one_bad_reading_is_no_change(day_of_fault: int, factor: float) -> None:
    history = fading_tub(30)
    bad = tuple(
        replace(r, attenuation_per_m=r.attenuation_per_m * factor) if i == day_of_fault else r
        for i, r in enumerate(history.readings)
    )
    assert changes_in(replace(history, readings=bad), 30) == ()


@pytest.mark.parametrize(
    ("tub", "days"),
    [
        (invent_tub(502, Kind.UNLOGGED), (15.0, 21.0, 48.0)),
        (invent_judging_tub(513, JudgingKind.FORGETFUL), (5.0,)),  # the first days are bounds
    ],
)
def test_a_change_is_judged_by_the_readings_of_its_own_bath(
    tub: InventedTub, days: tuple[float, ...]
) -> None:
    # Later baths speak against it: the parameters were fitted to them without the change.
    (skull,) = tub.history.skulls
    now = TUBS_START + timedelta(days=60)
    first = fit_before_falls(tub.history, now, (skull_time(skull.species),))
    found = find_unlogged(tub.history, now, first)
    times = [TUBS_START + timedelta(days=one) for one in days]
    assert all(any(one.after <= at <= one.before for one in found) for at in times)


def left_alone(days: int, seed: int) -> TubHistory:
    """Return a quiet tub whose water was last changed on day 60, its readings off by 8 %."""
    quiet = fading_tub(63, half_life=8.0)
    ages_days = 3.9 + np.arange(days)
    haze = 1.5 + 3.0 * (1 - np.exp(-ages_days / 6))
    haze *= 1 + 0.08 * np.random.default_rng(seed).standard_normal(days)
    after = tuple(
        reading(60 + float(age), float(one)) for age, one in zip(ages_days, haze, strict=True)
    )
    return replace(quiet, readings=quiet.readings + after)


@pytest.mark.parametrize("seed", range(4))
def test_quiet_water_that_was_left_for_two_months_was_not_changed(seed: int) -> None:
    assert changes_in(left_alone(57, seed), 121) == ()


def test_a_change_of_water_that_was_left_for_a_month_is_found() -> None:
    history = fading_tub(36, half_life=30.0)
    changes = tuple(one for one in history.changes if one.at <= day(18))
    kept = tuple(one for one in history.readings if one.at <= day(21))
    rising = [14.0 + 3.0 * n**0.5 for n in range(10)]
    falling = [6.0 + 4.0 * n**0.5 for n in range(5)]
    after = tuple(reading(21.9 + n, haze) for n, haze in enumerate(rising + falling))
    left = replace(history, changes=changes, readings=kept + after)
    assert [one.after for one in changes_in(left, 36)] == [day(30.9)]


def test_a_reading_that_was_refused_shows_no_fall() -> None:
    history = TubHistory(
        skulls=fading_tub(3).skulls,
        changes=fading_tub(3).changes[:1],
        readings=(reading(1, 20.0), reading(2, 5.0), reading(3, 21.0)),
    )
    assert [fall.before for fall in candidates(history, day(9))] == [day(2)]
    refused = replace(history.readings[1], verdict=Verdict.REFUSED)
    spoilt = replace(history, readings=(history.readings[0], refused, history.readings[2]))
    assert candidates(spoilt, day(9)) == ()


def test_a_full_log_needs_no_search() -> None:
    assert candidates(fading_tub(30), day(30)) == ()
    assert changes_in(fading_tub(30), 30) == ()


def test_bounds_that_do_not_prove_a_fall_are_no_candidates() -> None:
    history = replace(
        fading_tub(4, every=4),
        readings=(
            replace(reading(0.5, 70.0), bound=Bound.ABOVE),
            replace(reading(1.5, 50.0), bound=Bound.ABOVE),
            replace(reading(2.5, 30.0), bound=Bound.BELOW),
            reading(3.5, 5.0),
        ),
    )
    falls = candidates(history, day(4))
    assert [fall.after for fall in falls] == [day(1.5)]
