from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from greasecheck.errors import ForecastError
from greasecheck.model import Recipe
from greasecheck.predict.outlook.forecasting import fit_tub, project
from greasecheck.predict.recipes.rate import tub_rate
from greasecheck.predict.tables import recipe_prior
from greasecheck.predict.yellowing.residual import residual_grease
from tests.synthetic.tub_simulator import START, Habits, SimulatedTub, simulate_tub
from tests.unit.predict.tubs import day, fading_tub

STEADY = Habits(heater_failure_probability=0.0, missed_log_probability=0.0)


def tubs_at_40() -> list[SimulatedTub]:
    """Return steady tubs at the reference temperature, where days until clear need no scaling."""
    tubs = [simulate_tub(np.random.default_rng(seed), habits=STEADY) for seed in range(12)]
    return [tub for tub in tubs if tub.history.changes[0].temperature_c == 40.0]


def test_rates_recover_the_true_days_until_clear() -> None:
    misses = []
    for tub in tubs_at_40():
        found = tub_rate(fit_tub(tub.history, START + timedelta(days=tub.clear_days)), "one")
        misses.append((found.log_rate + np.log(tub.clear_days)) / found.std)
        assert found.temperature_c == pytest.approx(40.0)
        assert found.recipe is Recipe.SOAP
    assert len(misses) >= 3
    assert np.abs(misses).max() < 4  # standard errors
    assert np.sqrt(np.mean(np.square(misses))) < 2


def test_a_tub_without_readings_tells_nothing() -> None:
    tub = tubs_at_40()[0]
    fit = fit_tub(replace(tub.history, readings=()), START + timedelta(days=20))
    with pytest.raises(ForecastError, match="too little"):
        tub_rate(fit, "tub 12")


def test_a_tub_of_two_recipes_is_credited_to_none() -> None:
    tub = tubs_at_40()[0]
    half = START + timedelta(days=tub.clear_days / 2)
    changes = tuple(
        replace(change, recipe=Recipe.AMMONIA) if change.at > half else change
        for change in tub.history.changes
    )
    fit = fit_tub(replace(tub.history, changes=changes), START + timedelta(days=tub.clear_days))
    with pytest.raises(ForecastError, match="several recipes"):
        tub_rate(fit, "tub 12")


def test_what_was_assumed_of_a_tub_is_taken_out_of_its_rate() -> None:
    """Rate and assumption together are the posterior: precisions add, means by precision.

    In soap at 40 degrees C only the species' time was assumed.
    """
    tub = tubs_at_40()[0]
    fit = fit_tub(tub.history, START + timedelta(days=tub.clear_days / 2))
    found, [time] = tub_rate(fit, "tub 12"), fit.done_times
    soap = recipe_prior(Recipe.SOAP)
    assert soap.rate_ratio == 1
    assumed_std = np.hypot(time.log_std, soap.rate_log_std)
    believed = np.concatenate(
        [
            np.log(one.course.speed[fit.timeline.usual]) - one.log_done_days[0]
            for one in fit.form_draws
        ]
    )
    both = found.log_rate / found.std**2 - time.log_mean / assumed_std**2
    assert both * believed.var() == pytest.approx(believed.mean(), rel=1e-6)
    assert abs(found.log_rate - believed.mean()) > 0.01


def test_a_tub_is_as_slow_as_its_slowest_species() -> None:
    tub = tubs_at_40()[0]
    [deer] = tub.history.skulls
    fox = replace(deer, name="fox", species="fox")
    for skulls in ((fox, replace(deer, species="bear")), (replace(deer, species="bear"), fox)):
        fit = fit_tub(replace(tub.history, skulls=skulls), START + timedelta(days=tub.clear_days))
        assert tub_rate(fit, "tub 12").species == "bear"


def test_a_tub_is_as_warm_as_it_was_on_average_over_its_days() -> None:
    """24 days at 40 degrees C and 6 at 30 are 38 on average, not 35."""
    history = fading_tub(30, every=24)
    first, last = history.changes
    cooler = replace(history, changes=(first, replace(last, temperature_c=30.0)))
    assert tub_rate(fit_tub(cooler, day(30)), "tub 12").temperature_c == pytest.approx(38.0)


def test_unknown_species_and_temperature_are_said() -> None:
    tub = tubs_at_40()[0]
    skulls = tuple(replace(skull, species="okapi") for skull in tub.history.skulls)
    fit = fit_tub(replace(tub.history, skulls=skulls), START + timedelta(days=tub.clear_days))
    found = tub_rate(fit, "tub 12", temperature_known=False)
    assert (found.species, found.temperature_c) == (None, None)


def test_residual_grease_falls_with_time() -> None:
    tub = max(tubs_at_40(), key=lambda tub: len(tub.history.readings))
    fits = [
        fit_tub(tub.history, START + timedelta(days=tub.clear_days * part)) for part in (0.4, 1.0)
    ]
    (skull,) = tub.history.skulls
    shares = [residual_grease(fit)[skull.name] for fit in fits]
    assert 1 > shares[0].value > shares[1].value > 0
    assert all(0 < share.std < 0.3 for share in shares)
    assert shares[0].value == project(fits[0]).grease_left_share[1]  # one figure everywhere
