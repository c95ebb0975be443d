"""How quickly a fitted tub leached, by its readings alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import ForecastError
from greasecheck.predict.model.arrhenius import rate_factor
from greasecheck.predict.recipes.records import TubRate
from greasecheck.predict.tables import UNKNOWN_SPECIES, recipe_prior, species_range, spread

if TYPE_CHECKING:
    from greasecheck.model import Recipe
    from greasecheck.predict.fit.tub_fit import TubFit

ONE_RECIPE_SHARE = 0.8
MOST_STD_SHARE = 0.97  # of the spread before the readings


@dataclass(frozen=True, slots=True, kw_only=True)
class _Belief:
    """A normal law by its mean and standard deviation."""

    mean: float
    std: float


def tub_rate(fit: TubFit, name: str, *, temperature_known: bool = True) -> TubRate:
    """Return the leach rate of a fitted tub, for comparing recipes.

    Parameters
    ----------
    fit : TubFit
        From `greasecheck.predict.outlook.forecasting.fit_tub`, without finished tubs.
    name : str
        What to call it.
    temperature_known : bool
        Whether its temperature was logged and not assumed.

    Raises
    ------
    ForecastError
        When the tub had several recipes, or its readings hardly narrow its rate.

    Notes
    -----
    The rate is one over the days until done at the tub's usual warmth and recipe. What the fit
    assumed of it (species, recipe, warmth) is divided out of the posterior again, so that the
    comparison does not count it twice: with precisions p = 1 / std^2, the readings' part has
    p = p_posterior - p_prior and mean (p m)_posterior - (p m)_prior, over p.
    """
    recipe = _one_recipe(fit, name)
    prior, found = _assumed(fit, recipe), _found(fit)
    if found.std > MOST_STD_SHARE * prior.std:
        raise ForecastError(
            f"{name}: its readings say too little of its leach rate so far",
            hint="go on reading it; it is compared once its dates have narrowed",
        )
    precision = 1 / found.std**2 - 1 / prior.std**2
    mean = (found.mean / found.std**2 - prior.mean / prior.std**2) / precision
    slowest = fit.skulls[_slowest(fit)].species
    return TubRate(
        name=name,
        log_rate=float(mean),
        std=float(1 / np.sqrt(precision)),
        recipe=recipe,
        species=None if species_range(slowest).species == UNKNOWN_SPECIES else slowest,
        temperature_c=_mean_temperature_c(fit) if temperature_known else None,
    )


def _slowest(fit: TubFit) -> int:
    """Return which skull is of the slowest species."""
    usual = [species_range(skull.species).high_days for skull in fit.skulls]
    return usual.index(max(usual))


def _one_recipe(fit: TubFit, name: str) -> Recipe:
    held, conditions = fit.timeline.held_days, fit.timeline.calendar.steps.conditions
    usual = fit.timeline.usual_condition.recipe
    share = sum(
        days for days, condition in zip(held, conditions, strict=True) if condition.recipe is usual
    )
    if share < ONE_RECIPE_SHARE * held.sum():
        raise ForecastError(
            f"{name}: it had several recipes, so that none can be credited with its rate",
            hint="keep a tub to one recipe from start to end to compare recipes",
        )
    return usual


def _mean_temperature_c(fit: TubFit) -> float:
    conditions = fit.timeline.calendar.steps.conditions
    return float(np.average([c.temperature_c for c in conditions], weights=fit.timeline.held_days))


def _assumed(fit: TubFit, recipe: Recipe) -> _Belief:
    """Return what was assumed of the tub's log rate before it was read."""
    ratio, activation = recipe_prior(recipe), spread("activation_kj_per_mol")
    usual = fit.timeline.usual_condition
    done_time = fit.done_times[_slowest(fit)]
    warmth = float(np.log(rate_factor(usual.temperature_c, 1.0))) * activation.median
    return _Belief(
        mean=float(np.log(ratio.rate_ratio)) + warmth - done_time.log_mean,
        std=float(
            np.linalg.norm([done_time.log_std, ratio.rate_log_std, warmth * activation.log_std])
        ),
    )


def _found(fit: TubFit) -> _Belief:
    """Return the posterior of the tub's log rate."""
    usual, slowest = fit.timeline.usual, _slowest(fit)
    log_rate = np.concatenate(
        [
            np.log(drawn.course.speed[usual]) - drawn.log_done_days[slowest]
            for drawn in fit.form_draws
        ]
    )
    return _Belief(mean=float(log_rate.mean()), std=float(log_rate.std()))
