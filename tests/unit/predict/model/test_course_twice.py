"""The course of a tub against the differential equations, stepped with a matrix exponential."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.linalg import expm
from scipy.optimize import brentq

from greasecheck.errors import ForecastError
from greasecheck.model import Recipe, Verdict
from greasecheck.model.longest_soak import LATEST_DAYS
from greasecheck.predict.fit.done_prior import DoneTime, shared_covariance, skull_time
from greasecheck.predict.fit.parameters import Parameters
from greasecheck.predict.model.course import pace, run_course
from greasecheck.predict.model.draws import Bloom
from greasecheck.predict.model.history import build_timeline
from greasecheck.predict.model.kinetics import Form, broad_spectrum
from greasecheck.predict.model.leaching import (
    Network,
    decay,
    entry_weights,
    keep_bath_share,
    modes_of,
)
from greasecheck.predict.model.projection import (
    Routine,
    cycle_of,
    days_until_below,
    decline_of,
    grease_row,
    value_of,
)
from greasecheck.predict.model.timeline import USUAL_INTERVAL_DAYS
from greasecheck.predict.records import (
    SoakingSkull,
    TemperatureRecord,
    TopUp,
    TubHistory,
    WaterChange,
)
from greasecheck.predict.tables import recipe_prior, spread
from tests.unit.predict.tubs import day, reading

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.model.draws import Draws

HISTORY = TubHistory(
    skulls=(
        SoakingSkull(name="deer", species="deer", since=day(0)),
        SoakingSkull(name="fox", species="fox", since=day(4.5), until=day(9)),
    ),
    changes=(
        WaterChange(at=day(0), temperature_c=40.0),
        WaterChange(at=day(3), carry_over=0.1),
        WaterChange(at=day(7), recipe=Recipe.AMMONIA, temperature_c=30.0),
    ),
    temperatures=(TemperatureRecord(at=day(5), temperature_c=25.0),),
    readings=tuple(reading(at, 5.0) for at in (1.0, 2.9, 3.5, 5.5, 6.9, 8.0, 9.5, 12.0)),
)


def parameters_of(form: Form) -> tuple[Parameters, Draws]:
    recipes = (Recipe.SOAP, Recipe.AMMONIA)
    times = (skull_time("deer"), skull_time("fox"))
    parameters = Parameters(form=form, done_times=times, recipes=recipes)
    z = np.linspace(-1.2, 1.1, parameters.size)[:, None]
    return parameters, parameters.draws(z)


def counted_days(draws: Draws, soaked: float) -> float:
    """Return days at full pace: the pace awakes as 1 - exp(-days / lag) and goes by the order."""
    lag, even, done = (
        float(x[0]) for x in (draws.tempo.lag_days, draws.tempo.evenness, draws.tempo.done_days)
    )
    awake = soaked + lag * (np.exp(-soaked / lag) - 1)
    if not even or awake >= done:
        return float(awake)
    # dL/dt = -k L^(1 - even), a tenth left when done; of the first order that is log L / rate
    left = (1 - (1 - 0.1**even) * awake / done) ** (1 / even)
    return float(-np.log(left) / np.log(10) * done)


def stepped(draws: Draws) -> list[float]:
    """Return the haze at the readings by small steps of the equations themselves."""
    pools = draws.grease_per_m.shape[1]
    rates, shares = draws.network.rates_per_day[:, 0], draws.network.shares[:, 0]
    k = float(draws.network.partition[0])
    matrix = np.zeros((2 * pools + 1, 2 * pools + 1))
    for i, (rate, share) in enumerate(zip(rates, shares, strict=True)):
        matrix[i, i] = -rate
        matrix[i, -1] = rate * share / k
        matrix[-1] -= matrix[i]
    state, soaked = np.zeros(2 * pools + 1), 0.0
    filled, recipe, celsius = 0.0, 0, 40.0
    five, growth = (
        float(x[0]) for x in (draws.bloom.at_five_days_per_m, draws.bloom.growth_per_day)
    )
    seed = alive = five * np.exp(-5 * growth)
    actions: list[tuple[float, int, str]] = [
        (0.0, 0, "fill"), (0.0, 1, "deer"), (3.0, 0, "fill"), (4.5, 1, "fox"), (5.0, 2, "warmth"),
        (7.0, 0, "fill"), (9.0, 1, "out"),
        *((at, -1, "read") for at in (1.0, 2.9, 3.5, 5.5, 6.9, 8.0, 9.5, 12.0)),
    ]  # fmt: skip
    clock, found = 0.0, []
    for at, _, what in sorted(actions):
        energy = float(draws.activation_kj_per_mol[0]) * 1000 / 8.314462618
        speed = np.exp(energy * (1 / 313.15 - 1 / (celsius + 273.15)))
        speed *= float(draws.rate_ratio[recipe, 0])
        more = soaked + (at - clock) * speed
        state = expm(matrix * (counted_days(draws, more) - counted_days(draws, soaked))) @ state
        soaked, clock = more, at
        if what == "fill":
            kept = {0.0: 0.0, 3.0: 0.1, 7.0: float(draws.carry_over[0])}[at]
            state[-1] *= kept
            grown = alive * np.exp(growth * (at - filled))
            left = kept * grown / (1 + grown / 30)
            alive = seed + left / (1 - left / 30)
            filled, recipe, celsius = at, int(at == 7), {0.0: 40.0, 3.0: 40.0, 7.0: 30.0}[at]
        elif what == "warmth":
            celsius = 25.0
        elif what == "deer":
            state[:pools] += draws.grease_per_m[0, :, 0]
        elif what == "fox":
            state[pools:-1] += draws.grease_per_m[1, :, 0]
        elif what == "out":
            state[pools:-1] = 0.0
        else:
            grown = alive * np.exp(growth * (at - filled)) - seed
            bloom = grown / (1 + grown / 30)
            found.append(float(state[-1] + draws.fresh_per_m[recipe, 0] + bloom))
    return found


@pytest.mark.parametrize("form", Form)
def test_haze_is_that_of_the_equations(form: Form) -> None:
    parameters, draws = parameters_of(form)
    timeline = build_timeline(HISTORY, day(14))
    assert timeline.calendar.recipes == parameters.recipes
    course = run_course(timeline, draws)
    found = course.haze_per_m(timeline.observations.moments)[:, 0]
    assert found == pytest.approx(stepped(draws), rel=1e-6)


def test_pace_is_warmth_times_the_recipe() -> None:
    _, draws = parameters_of(Form.TWO_POOLS)
    calendar = build_timeline(HISTORY, day(14)).calendar
    speeds = pace(calendar, draws)[:, 0]
    energy = float(draws.activation_kj_per_mol[0]) * 1000 / 8.314462618
    for condition, speed in zip(calendar.steps.conditions, speeds, strict=True):
        warmth = np.exp(energy * (1 / 313.15 - 1 / (condition.temperature_c + 273.15)))
        row = (Recipe.SOAP, Recipe.AMMONIA).index(condition.recipe)
        assert speed == pytest.approx(warmth * draws.rate_ratio[row, 0])


def grown_per_m(
    history: TubHistory, at_five_days_per_m: float, growth_per_day: float
) -> FloatArray:
    """Return what has grown by each reading [1/m]."""
    bloom = Bloom(
        at_five_days_per_m=np.array([at_five_days_per_m]), growth_per_day=np.array([growth_per_day])
    )
    _, draws = parameters_of(Form.TWO_POOLS)
    timeline = build_timeline(history, history.readings[-1].at)
    course = run_course(timeline, replace(draws, bloom=bloom))
    grown: FloatArray = course.bloom_per_m(timeline.observations.moments)[:, 0]
    return grown


def test_what_grows_in_a_bath_ends_at_30_per_m() -> None:
    history = replace(
        HISTORY, changes=HISTORY.changes[:1], readings=(reading(5, 9), reading(90, 9))
    )
    early, late = grown_per_m(history, 0.2, 0.8)
    grown = 0.2 * (1 - np.exp(-4))
    assert early == pytest.approx(grown / (1 + grown / 30))
    assert late == pytest.approx(30.0)


@pytest.mark.parametrize(("at_five", "growth"), [(2.0, 0.8), (40.0, 0.3), (1e-3, 1.6)])
def test_leftover_water_carries_on_what_grew(at_five: float, growth: float) -> None:
    changes = (WaterChange(at=day(0)), WaterChange(at=day(6), carry_over=0.1))
    history = replace(HISTORY, changes=changes, readings=(reading(6, 9), reading(10, 9)))
    first, second = grown_per_m(history, at_five, growth)
    seed = at_five * np.exp(-5 * growth)
    end = seed * np.exp(6 * growth)
    left = 0.1 * end / (1 + end / 30)
    # the logistic law from what is left: B / (1 - B / 30) grows by the factor exp(growth x days)
    later = (seed + left / (1 - left / 30)) * np.exp(4 * growth) - seed
    assert first == pytest.approx((end - seed) / (1 + (end - seed) / 30))
    assert second == pytest.approx(later / (1 + later / 30))


def test_water_that_stays_grows_on_through_a_change_of_nothing() -> None:
    changes = (WaterChange(at=day(0)), WaterChange(at=day(6), carry_over=1.0))
    history = replace(HISTORY, changes=changes, readings=(reading(10, 9), reading(98, 9)))
    grown, top = grown_per_m(history, 2.0, 1.2)
    seed = 2.0 * np.exp(-6)
    unbroken = seed * np.exp(12.0)
    assert grown == pytest.approx(unbroken / (1 + unbroken / 30), rel=1e-3)
    assert top == pytest.approx(30.0)


@pytest.mark.parametrize(("at_five", "is_followed"), [(0.02, False), (0.5, True)])
def test_growth_is_followed_where_what_is_carried_on_shows(
    at_five: float, *, is_followed: bool
) -> None:
    kept = replace(HISTORY, readings=(reading(6.9, 9), reading(12, 9)))
    clean = replace(kept, changes=tuple(replace(one, carry_over=0.0) for one in kept.changes))
    more = grown_per_m(kept, at_five, 0.3) - grown_per_m(clean, at_five, 0.3)
    assert (more > 0).all() if is_followed else (more == 0).all()


def test_what_a_skull_gave_off_in_other_tubs_is_gone() -> None:
    _, draws = parameters_of(Form.TWO_POOLS)
    timeline = build_timeline(HISTORY, day(14))
    before = np.zeros_like(timeline.soaked_before_days)
    before[1, 0] = 8.0
    fox_row = int(np.flatnonzero(timeline.calendar.enters[:, 1])[0])
    plain, soaked = (
        run_course(replace(timeline, soaked_before_days=days), draws)
        for days in (np.zeros_like(before), before)
    )
    rates = draws.network.rates_per_day.reshape(2, -1, 1)[1]
    speed = plain.speed[0]
    lost = draws.grease_per_m[1] * (1 - np.exp(-rates * 8.0 * speed))
    rows = grease_row(plain.modes, slice(2, 4))
    apart = value_of(rows, plain.after[fox_row]) - value_of(rows, soaked.after[fox_row])
    assert apart == pytest.approx(lost.sum(axis=0))


def test_coordinates_become_parameters_as_the_tables_say() -> None:
    parameters, draws = parameters_of(Form.TWO_POOLS)
    z = np.linspace(-1.2, 1.1, parameters.size)
    assert parameters.size == 2 * 2 + 6 + 2 * 2 + 2

    def log_normal(name: str, at: float) -> float:
        prior = spread(name)
        return float(prior.median * np.exp(prior.log_std * at))

    def share(name: str, at: float) -> float:
        prior = spread(name)
        odds = prior.median / (1 - prior.median) * np.exp(prior.log_std * at)
        return float(odds / (1 + odds))

    times = parameters.done_times
    root = np.linalg.cholesky(shared_covariance(times))
    done = np.exp(np.array([one.log_mean for one in times]) + root @ z[:2])
    assert draws.done_days[:, 0] == pytest.approx(done)
    grease = [log_normal("grease_per_m", at) for at in z[2:4]]
    assert draws.grease_per_m.sum(axis=1)[:, 0] == pytest.approx(grease)
    assert draws.network.partition[0] == pytest.approx(log_normal("partition", z[4]))
    assert draws.carry_over[0] == pytest.approx(share("carry_over_share", z[5]))
    assert draws.activation_kj_per_mol[0] == pytest.approx(
        log_normal("activation_kj_per_mol", z[6])
    )
    lag = log_normal("lag_share", z[7])
    assert draws.tempo.evenness[0] == 0.0
    assert draws.tempo.lag_days[0] == pytest.approx(lag * done[0])
    bloom = draws.bloom
    assert bloom.at_five_days_per_m[0] == pytest.approx(
        log_normal("bloom_at_five_days_per_m", z[8])
    )
    assert bloom.growth_per_day[0] == pytest.approx(log_normal("bloom_growth_per_day", z[9]))
    for n, recipe in enumerate(parameters.recipes):
        prior = recipe_prior(recipe)
        fresh = prior.fresh_per_m * np.exp(prior.fresh_log_std * z[10 + n])
        ratio = prior.rate_ratio * np.exp(prior.rate_log_std * z[12 + n])
        assert draws.fresh_per_m[n, 0] == pytest.approx(fresh)
        assert draws.rate_ratio[n, 0] == pytest.approx(ratio)
    slow, fast = share("slow_share", z[14]), 1 + log_normal("fast_over_slow_less_one", z[15])
    lag_days = lag * done[0]  # of the tub, and so of all its skulls
    for skull in range(2):
        counted = done[skull] + lag_days * (np.exp(-done[skull] / lag_days) - 1)
        rate = brentq(
            lambda k, days=counted: (
                slow * np.exp(-k * days) + (1 - slow) * np.exp(-k * fast * days) - 0.1
            ),
            1e-6,
            10,
        )
        rates = draws.network.rates_per_day[2 * skull : 2 * skull + 2, 0]
        assert rates == pytest.approx([rate, rate * fast], rel=1e-6)
    whole = sum(grease)
    shares = [grease[0] * slow, grease[0] * (1 - slow), grease[1] * slow, grease[1] * (1 - slow)]
    assert draws.network.shares[:, 0] == pytest.approx(np.array(shares) / whole)


def test_coordinates_count_to_seven_deviations() -> None:
    parameters, _ = parameters_of(Form.TWO_POOLS)

    def partition(at: float) -> float:
        z = np.zeros((parameters.size, 1))
        z[4] = at
        return float(parameters.draws(z).network.partition[0])

    assert partition(7.5) == partition(7.0) > partition(6.9)
    first, second = Parameters(
        form=Form.TWO_POOLS, done_times=parameters.done_times, recipes=parameters.recipes
    ).starts()
    assert [first[14], second[14]] == [-1.5, 1.5]
    assert not np.delete(first, 14).any()
    broad = Parameters(form=Form.BROAD, done_times=parameters.done_times, recipes=())
    assert len(broad.starts()) == 1


def test_a_species_scatter_is_by_the_quartiles_of_the_table() -> None:
    fox, deer = skull_time("fox"), skull_time("deer")
    assert fox.log_mean == pytest.approx(np.log(30 * 60) / 2)
    assert fox.scatter_log_std == pytest.approx(np.log(2) / 2 / 0.67449, rel=1e-4)
    assert deer.scatter_log_std == 0.25  # 0.2133 by the table is less than tubs scatter
    one = DoneTime(log_mean=0.0, scatter_log_std=0.3, shared_log_std=0.4)
    other = DoneTime(log_mean=0.0, scatter_log_std=0.3, shared_log_std=0.2)
    assert shared_covariance([one, other]) == pytest.approx(np.array([[0.25, 0.02], [0.02, 0.13]]))


def test_an_edge_counts_to_a_spread_of_two_and_a_half() -> None:
    wide, wider, widest = (
        broad_spectrum(np.array([0.5]), np.array([edge])).ratios for edge in (2.4, 2.5, 4.0)
    )
    assert wider.tolist() == widest.tolist() != wide.tolist()


def single(rate: float, kept: float, partition: float) -> tuple[Network, FloatArray]:
    network = Network(
        rates_per_day=np.array([[rate]]),
        shares=np.array([[1.0]]),
        partition=np.array([partition]),
    )
    return network, np.array([kept])


@pytest.mark.parametrize(("first_pace", "pace_after"), [(1.0, 1.0), (2.0, 0.5), (0.3, 1.7)])
def test_the_day_counts_the_pace_before_and_after_the_next_change(
    first_pace: float, pace_after: float
) -> None:
    network, kept = single(0.05, 0.1, 0.8)
    modes = modes_of(network)
    weights = entry_weights(modes, np.array([[500.0]]))
    routine = Routine(
        first_days=2.0,
        interval_days=5.0,
        first_pace=np.array([first_pace]),
        pace=np.array([pace_after]),
        kept=kept,
    )
    cycle, row, limit = cycle_of(modes, routine), grease_row(modes, slice(0, 1)), np.array([40.0])
    found = float(days_until_below(modes, cycle, weights, routine, row, limit)[0])
    state = weights * decay(modes, np.array([[2.0 * first_pace]]))[0]
    fresh = keep_bath_share(modes, state, kept)
    decline = decline_of(cycle, fresh, row)
    changes = brentq(lambda m: float(decline.value(np.array([m]))[0]) - 40.0, 0, 500)
    assert found == pytest.approx(2.0 + 5.0 * changes, rel=1e-5)
    # whole changes about it, one by one
    for _ in range(int(changes)):
        soaked = fresh * decay(modes, np.array([[5.0 * pace_after]]))[0]
        fresh = keep_bath_share(modes, soaked, kept)
    assert value_of(row, fresh)[0] >= 40.0
    soaked = fresh * decay(modes, np.array([[5.0 * pace_after]]))[0]
    assert value_of(row, keep_bath_share(modes, soaked, kept))[0] < 40.0


@pytest.mark.parametrize(("years", "is_ever"), [(9.9, True), (10.1, False)])
def test_what_takes_longer_than_ten_years_never_comes(years: float, is_ever: bool) -> None:
    network, kept = single(0.002, 1e-9, 1e9)  # a bath that takes up all: exp(-k t)
    modes = modes_of(network)
    weights = entry_weights(modes, np.array([[100.0]]))
    routine = Routine(
        first_days=0.0,
        interval_days=2.0,
        first_pace=np.ones(1),
        pace=np.ones(1),
        kept=kept,
    )
    limit = 100 * np.exp(-0.002 * 365 * np.array([years]))
    found = days_until_below(
        modes, cycle_of(modes, routine), weights, routine, grease_row(modes, slice(0, 1)), limit
    )
    assert LATEST_DAYS == 3650
    assert np.isfinite(found[0]) == is_ever
    if is_ever:
        assert found[0] == pytest.approx(365 * years, rel=1e-3)


def test_doubtful_readings_have_three_times_the_error_and_volumes_count() -> None:
    readings = (
        replace(reading(1, 6.0), verdict=Verdict.DOUBTFUL),
        reading(2, 6.0),
        reading(5, 6.0),
    )
    history = replace(HISTORY, readings=readings, top_ups=(TopUp(at=day(6), share=0.3),))
    seen = build_timeline(history, day(6.5)).observations
    assert seen.std_per_m == pytest.approx([0.9, 0.3, 0.3 * 0.8])
    # from the filling on day 3 to the topping up on day 6 the water fell by 0.3
    assert seen.haze_per_m == pytest.approx([6.0, 6.0, 6.0 * (1 - 0.3 * 2 / 3)])
    before = build_timeline(history, day(5.5)).observations  # nobody knows of that yet
    assert before.haze_per_m == pytest.approx([6.0, 6.0, 6.0])


@pytest.mark.parametrize(
    ("celsius", "is_fine"), [(0.0, True), (100.0, True), (-0.1, False), (100.1, False)]
)
def test_a_bath_is_water(celsius: float, is_fine: bool) -> None:
    history = replace(
        HISTORY,
        changes=(WaterChange(at=day(0), temperature_c=celsius),),
        readings=(reading(1, 5.0),),
    )
    if is_fine:
        build_timeline(history, day(2))
        return
    with pytest.raises(ForecastError):
        build_timeline(history, day(2))


@pytest.mark.parametrize(("count", "is_fine"), [(1998, True), (1999, False)])
def test_a_soak_has_two_thousand_events_at_most(count: int, is_fine: bool) -> None:
    changes = tuple(WaterChange(at=day(n / 10)) for n in range(count))
    history = replace(HISTORY, changes=changes, temperatures=(), readings=())
    if is_fine:
        assert len(build_timeline(history, day(300)).calendar.event_days) == 2001
        return
    with pytest.raises(ForecastError, match="1999 water changes and 2 skulls"):
        build_timeline(history, day(300))


@pytest.mark.parametrize(("gap", "interval"), [(0.4, 0.5), (0.6, 0.6)])
def test_a_usual_interval_is_half_a_day_at_least(gap: float, interval: float) -> None:
    changes = tuple(WaterChange(at=day(n * gap)) for n in range(5))
    calendar = build_timeline(replace(HISTORY, changes=changes), day(14)).calendar
    assert calendar.usual_interval_days() == pytest.approx(interval)
    once = build_timeline(replace(HISTORY, changes=changes[:1]), day(14)).calendar
    assert once.usual_interval_days() == USUAL_INTERVAL_DAYS
    assert calendar.shortest_interval_days == pytest.approx(gap)
