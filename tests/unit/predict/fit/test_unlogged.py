"""Water changes that the readings show but nobody logged."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from itertools import permutations
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy import stats

from greasecheck.model import Bound, Recipe, Verdict
from greasecheck.predict.fit import unlogged
from greasecheck.predict.fit.done_prior import skull_time
from greasecheck.predict.fit.likelihood import expected_of
from greasecheck.predict.fit.noise import usual_noise
from greasecheck.predict.fit.posterior import first_peak
from greasecheck.predict.fit.unlogged import (
    candidates,
    find_unlogged,
    fit_before_falls,
    with_changes,
)
from greasecheck.predict.forecast_records import UnloggedChange
from greasecheck.predict.model.history import build_timeline
from greasecheck.predict.outlook.forecasting import forecast
from greasecheck.predict.records import SameWater, TubHistory, WaterChange
from greasecheck.words.notes import notes_words
from tests.synthetic.judging_tubs.kinds import JudgingKind
from tests.synthetic.judging_tubs.log import invent_judging_tub
from tests.synthetic.tubs.kinds import Kind
from tests.synthetic.tubs.log import START as TUBS_START
from tests.synthetic.tubs.log import InventedTub, invent_tub
from tests.unit.predict.tubs import day, fading_tub, reading

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.model import FloatArray
    from greasecheck.predict.model.draws import Draws
    from greasecheck.predict.model.timeline import Timeline

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


def read_on(*hazes: float) -> TubHistory:
    """Return a tub filled once and read each noon of the days after."""
    return replace(
        fading_tub(3, every=3),
        readings=tuple(reading(n + 0.5, haze) for n, haze in enumerate(hazes)),
    )


def test_the_largest_share_is_the_first_candidate_and_what_comes_later_is_none() -> None:
    history = read_on(20.0, 15.0, 30.0, 6.0, 60.0, 30.0)
    assert [fall.after for fall in candidates(history, day(9))] == [day(2.5), day(4.5), day(0.5)]
    assert [fall.after for fall in candidates(history, day(5))] == [day(2.5), day(0.5)]


@pytest.mark.parametrize(("verdict", "falls"), [(Verdict.GOOD, 1), (Verdict.DOUBTFUL, 0)])
def test_a_doubtful_reading_must_fall_farther(verdict: Verdict, falls: int) -> None:
    """A fall of 6 with errors of 2 each is one by 2.1 of both, but by 0.9 of 2 and 6 together."""
    lower = replace(reading(1.5, 14.0, std=2.0), verdict=verdict)
    history = replace(read_on(), readings=(reading(0.5, 20.0, std=2.0), lower))
    assert len(candidates(history, day(3))) == falls


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


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_a_found_change_lies_half_way_and_keeps_the_recipe(order: tuple[int, ...]) -> None:
    changes = (
        WaterChange(at=day(0)),
        WaterChange(at=day(4), recipe=Recipe.AMMONIA),
        WaterChange(at=day(7), recipe=Recipe.WATER),
    )
    history = replace(fading_tub(9), changes=tuple(changes[place] for place in order))
    found = UnloggedChange(
        after=day(5), before=day(6), before_per_m=9.0, fall_per_m=6.0, fall_share=0.67
    )
    added = with_changes(history, [found]).changes[-1]
    assert (added.at, added.recipe) == (day(5.5), Recipe.AMMONIA)


@pytest.mark.parametrize(
    ("gain", "place", "is_taken"),
    [(1.9, 5, False), (2.1, 5, True), (9.0, 3, False), (2.1, 4, True)],
)
def test_a_fall_is_a_change_at_log_odds_of_two_by_what_was_read_after_it(
    gain: float, place: int, is_taken: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    history = replace(
        fading_tub(9, every=9),
        readings=tuple(reading(n + 0.5, 9 if n < 4 else 2) for n in range(8)),
    )

    def densities(tried: Timeline, _: Draws) -> FloatArray:
        gains = np.zeros((2, len(history.readings)))
        gains[:, place] = gain if tried.calendar.changed.sum() > len(history.changes) else 0.0
        return gains

    monkeypatch.setattr(unlogged, "_log_densities", densities)
    first = fit_before_falls(history, day(9), (skull_time("deer"),))
    found = find_unlogged(history, day(9), first)
    assert (len(found) == 1) is is_taken
    few = replace(history, readings=history.readings[2:5])
    assert find_unlogged(few, day(9), first) == ()


@pytest.mark.parametrize(("middle", "larger"), [(6.0, day(3.5)), (3.0, day(1.5))])
def test_of_two_falls_in_one_bath_each_must_tell_by_itself(
    middle: float, larger: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One change makes the readings likelier by 9, a second one by so much more."""
    hazes = (9.0, 9.0, middle, middle, 2.0, 2.0)
    history = replace(read_on(*hazes), changes=(WaterChange(at=day(0)),))
    first = fit_before_falls(history, day(6), DEER)

    def with_second(more: float) -> list[UnloggedChange]:
        def densities(tried: Timeline, _: Draws) -> FloatArray:
            gain = (0.0, 9.0, 9.0 + more)[tried.calendar.changed.sum() - 1]
            return np.tile(gain * (np.arange(6) == 4), (2, 1))

        monkeypatch.setattr(unlogged, "_log_densities", densities)
        return list(find_unlogged(history, day(6), first))

    assert [one.after for one in with_second(1.9)] == [larger], "the larger share goes first"
    assert [one.after for one in with_second(2.1)] == [day(1.5), day(3.5)]


@pytest.mark.parametrize(("gain", "is_taken"), [(2.9, False), (3.1, True)])
@pytest.mark.parametrize("place", [0, 5])
def test_without_a_fall_all_readings_count_and_log_odds_of_three_are_needed(
    gain: float, place: int, monkeypatch: pytest.MonkeyPatch, *, is_taken: bool
) -> None:
    history = read_on(4.0, 5.0, 6.0, 7.0, 8.0, 9.0)
    low = UnloggedChange(
        after=day(2.5), before=day(3.5), before_per_m=6.0, fall_per_m=-1.0, fall_share=-1 / 6
    )

    def densities(tried: Timeline, _: Draws) -> FloatArray:
        is_tried = tried.calendar.changed.sum() > len(history.changes)
        return np.tile(gain * is_tried * (np.arange(6) == place), (2, 1))

    first = fit_before_falls(history, day(6), DEER)
    monkeypatch.setattr(unlogged, "_too_low", lambda *_: (low,))
    monkeypatch.setattr(unlogged, "_log_densities", densities)
    assert find_unlogged(history, day(6), first) == ((low,) if is_taken else ())


def test_densities_are_a_student_t_s_of_the_usual_noise() -> None:
    timeline = build_timeline(fading_tub(6), day(6))
    draws = first_peak(timeline, (skull_time("deer"),)).draws
    seen = timeline.observations
    expected = expected_of(timeline, draws)
    z, std = unlogged._standardised(seen, expected)
    noise = usual_noise()
    share = np.hypot(np.hypot(noise.scatter, noise.pace), noise.drift) * expected.haze
    own = seen.std_per_m**2 + 0.1**2 + share**2 + (noise.fresh * expected.fresh) ** 2
    assert std == pytest.approx(np.sqrt(own))
    assert z == pytest.approx((seen.haze_per_m - expected.haze) / std)
    density = stats.t(4, loc=expected.haze, scale=std).logpdf(seen.haze_per_m)
    found, without_bloom = unlogged._log_densities(timeline, draws)
    assert found == pytest.approx(density)
    assert not np.allclose(without_bloom, found)


def test_a_reading_too_low_without_a_fall_is_asked_about_within_one_bath() -> None:
    """Rising readings of one bath, all far below what is expected from the second on."""
    history = fading_tub(9)
    low = tuple(
        replace(one, attenuation_per_m=one.attenuation_per_m / (1 if n < 4 else 6))
        for n, one in enumerate(history.readings)
    )
    draws = first_peak(build_timeline(history, day(9)), (skull_time("deer"),)).draws
    lowered = replace(history, readings=low)
    timeline = build_timeline(lowered, day(9))
    found = unlogged._too_low(lowered, timeline, draws, ())
    assert [(one.after, one.before) for one in found] == [(day(3.9), day(4.9))]
    (one,) = found
    before, after = low[3].attenuation_per_m, low[4].attenuation_per_m
    assert (one.before_per_m, one.fall_per_m) == pytest.approx((before, before - after))
    assert one.fall_share == pytest.approx(1 - after / before)
    assert unlogged._too_low(lowered, timeline, draws, found) == ()
    for begin, end, is_denied in ((4.5, 4.6, True), (3.0, 4.0, True), (4.9, 6.0, False)):
        span = SameWater(after=day(begin), before=day(end))
        denied = replace(lowered, same_water=(span,))
        assert (unlogged._too_low(denied, timeline, draws, ()) == ()) is is_denied
    between = replace(
        history,
        readings=tuple(
            replace(one, attenuation_per_m=one.attenuation_per_m / (1 if n < 3 else 6))
            for n, one in enumerate(history.readings)
        ),
    )
    # low from the first reading of a bath on: the logged change stands between
    assert unlogged._too_low(between, build_timeline(between, day(9)), draws, ()) == ()
