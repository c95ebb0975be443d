"""Laws that every tub keeps, whatever its numbers."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta, timezone

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greasecheck.predict.model.kinetics import Spectrum, slowest_rate
from greasecheck.predict.model.leaching import (
    Network,
    bath_haze,
    decay,
    entry_weights,
    modes_of,
    to_amounts,
)
from greasecheck.predict.outlook.forecasting import forecast
from tests.unit.predict.soaks import fresh_soak_gain
from tests.unit.predict.tubs import day, fading_tub

rates = st.lists(st.floats(1e-4, 20.0), min_size=1, max_size=5)
spans = st.floats(0.0, 400.0)


def _network(rate: list[float], partition: float) -> Network:
    shares = np.linspace(1.0, 2.0, len(rate))
    return Network(
        rates_per_day=np.array(rate)[:, None],
        shares=(shares / shares.sum())[:, None],
        partition=np.array([partition]),
    )


@settings(deadline=None, max_examples=60)
@given(rate=rates, partition=st.floats(1e-3, 1e4), span=spans)
def test_no_grease_is_made_or_lost_between_changes(
    rate: list[float], partition: float, span: float
) -> None:
    network = _network(rate, partition)
    modes = modes_of(network)
    weights = entry_weights(modes, 500.0 * network.shares) * decay(modes, np.array([[span]]))[0]
    amounts = to_amounts(modes, weights)
    assert amounts.sum() == pytest.approx(500.0, rel=1e-9)
    assert np.all(amounts >= -1e-8)


@settings(deadline=None, max_examples=60)
@given(rate=rates, partition=st.floats(1e-3, 1e4), spans=st.lists(spans, min_size=2, max_size=6))
def test_haze_never_falls_while_the_water_stays(
    rate: list[float], partition: float, spans: list[float]
) -> None:
    network = _network(rate, partition)
    modes = modes_of(network)
    weights = entry_weights(modes, 500.0 * network.shares)
    haze = bath_haze(modes, weights * decay(modes, np.sort(spans)[:, None]))
    assert np.all(np.diff(haze, axis=0) >= -1e-8)


@settings(deadline=None, max_examples=60)
@given(rate=rates, partition=st.floats(1e-3, 1e4), soak=st.floats(0.01, 30.0))
def test_a_longer_fresh_soak_gains_more_and_never_more_than_there_is(
    rate: list[float], partition: float, soak: float
) -> None:
    network = _network(rate, partition)
    modes = modes_of(network)
    weights = entry_weights(modes, 500.0 * network.shares)
    short, long = (fresh_soak_gain(modes, weights, days)[0] for days in (soak, 2 * soak))
    assert 0 <= short <= long * (1 + 1e-9)
    assert long <= 500.0 * (1 + 1e-9)


@settings(deadline=None, max_examples=60)
@given(
    slow=st.floats(0.02, 0.98),
    ratio=st.floats(1.5, 60.0),
    days=st.floats(5.0, 900.0),
)
def test_asking_for_a_slower_bone_gives_one(slow: float, ratio: float, days: float) -> None:
    spectrum = Spectrum(ratios=np.array([[1.0], [ratio]]), weights=np.array([[slow], [1 - slow]]))
    found = slowest_rate(spectrum, np.array([days, 1.5 * days]))
    assert found[0] == pytest.approx(1.5 * found[1], rel=1e-9)


@settings(deadline=None, max_examples=8)
@given(seed=st.integers(0, 10**6), hours=st.integers(-12, 12))
def test_neither_the_order_of_entries_nor_the_time_zone_changes_a_date(
    seed: int, hours: int
) -> None:
    history, shuffle = fading_tub(9), np.random.default_rng(seed).permutation
    zone = timezone(timedelta(hours=hours))
    turned = replace(
        history,
        readings=tuple(
            replace(history.readings[i], at=history.readings[i].at.astimezone(zone))
            for i in shuffle(len(history.readings))
        ),
        changes=tuple(history.changes[i] for i in shuffle(len(history.changes))),
    )
    one, two = forecast(history, day(9)), forecast(turned, day(9).astimezone(zone))
    assert np.allclose(one.degreased.days, two.degreased.days, rtol=1e-9)


@settings(deadline=None, max_examples=8)
@given(seed=st.integers(0, 10**6))
def test_what_was_logged_after_now_changes_nothing(seed: int) -> None:
    now = float(np.random.default_rng(seed).uniform(4.0, 12.0))
    whole = fading_tub(15)
    known = replace(
        whole,
        readings=tuple(r for r in whole.readings if r.at <= day(now)),
        changes=tuple(c for c in whole.changes if c.at <= day(now)),
    )
    one, two = forecast(whole, day(now)), forecast(known, day(now))
    assert np.array_equal(one.degreased.days, two.degreased.days)
