"""From a tub's history to weighted draws of each model form."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.forms import Form
from greasecheck.predict.likelihood import (
    TAIL_FREEDOM,
    log_likelihood,
    reading_std,
    run_course,
    signed_root_deviance,
)
from greasecheck.predict.optimise import Minimum, minimise_squares
from greasecheck.predict.parameters import Parameters
from greasecheck.predict.sampling import Bell, WeightedDraws, adaptive_draws

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.model import FloatArray
    from greasecheck.predict.clear_prior import ClearTime
    from greasecheck.predict.timeline import Timeline

SEED = 20261125  # the same readings always give the same dates
REWEIGHTINGS = 2
SCATTER_INDEX = 5
LOG_TWO_PI = float(np.log(2 * np.pi))
FORM_PRIORS = {
    Form.ONE_POOL: 0.1,
    Form.TWO_POOLS: 0.5,
    Form.SHEET: 0.2,
    Form.SPHERE: 0.2,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """The most probable parameters of one form.

    Attributes
    ----------
    parameters : Parameters
        What the coordinates mean.
    minimum : Minimum
        Where the posterior is highest.
    std_per_m : ndarray, shape (readings, 1)
        Standard deviations of the readings there [1/m].
    """

    parameters: Parameters
    minimum: Minimum
    std_per_m: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class FormFit:
    """The posterior under one form."""

    peak: Peak
    draws: WeightedDraws
    log_weight: float


def find_peak(timeline: Timeline, parameters: Parameters) -> Peak:
    """Climb to the most probable parameters, reweighting readings as the scatter is learnt."""
    x = np.zeros(parameters.size)
    std = _std_at(timeline, parameters, x, observed=True)
    for _ in range(REWEIGHTINGS):
        minimum = minimise_squares(
            lambda z, std=std: _residuals(timeline, parameters, z, std),
            x,
            typical=1.0,
            tolerance=1e-5,
        )
        x = minimum.x
        x[SCATTER_INDEX] = _scatter_coordinate(timeline, parameters, x)
        std = _std_at(timeline, parameters, x)
    return Peak(parameters=parameters, minimum=minimum, std_per_m=std)


def _residuals(
    timeline: Timeline, parameters: Parameters, z: FloatArray, std: FloatArray
) -> FloatArray:
    draws = parameters.draws(z)
    misfit = signed_root_deviance(timeline, run_course(timeline, draws).haze_per_m, std)
    return np.concatenate([z, parameters.outside(draws)[None], misfit])


def _std_at(
    timeline: Timeline, parameters: Parameters, x: FloatArray, *, observed: bool = False
) -> FloatArray:
    draws = parameters.draws(x[:, None])
    haze = (
        np.maximum(timeline.observations.haze_per_m, 0.0)[:, None]
        if observed
        else run_course(timeline, draws).haze_per_m
    )
    return reading_std(timeline, haze, draws.scatter_share)


def _scatter_coordinate(timeline: Timeline, parameters: Parameters, x: FloatArray) -> float:
    """Return the most probable coordinate of the scatter, all else held fixed."""
    grid = np.linspace(-3.0, 4.0, 29)
    points = np.repeat(x[:, None], len(grid), axis=1)
    points[SCATTER_INDEX] = grid
    score = _log_posterior(timeline, parameters, points)
    return float(grid[np.argmax(score)])


def _log_posterior(timeline: Timeline, parameters: Parameters, z: FloatArray) -> FloatArray:
    draws = parameters.draws(z)
    haze = run_course(timeline, draws).haze_per_m
    prior = -0.5 * ((z**2).sum(axis=0) + parameters.outside(draws) ** 2 + len(z) * LOG_TWO_PI)
    score: FloatArray = prior + log_likelihood(timeline, draws, haze)
    return score


def fit_form(timeline: Timeline, parameters: Parameters, log_prior: float) -> FormFit:
    """Return the posterior under one form."""
    peak = find_peak(timeline, parameters)
    draws = adaptive_draws(
        lambda z: _log_posterior(timeline, parameters, z),
        _laplace(peak),
        np.random.default_rng(SEED),
    )
    return FormFit(peak=peak, draws=draws, log_weight=log_prior + draws.log_evidence)


def _laplace(peak: Peak) -> Bell:
    """Return the first proposal: the peak with its curvature, the scatter's added."""
    jacobian = peak.minimum.jacobian
    precision = jacobian.T @ jacobian
    readings = len(jacobian) - len(precision) - 1
    precision[SCATTER_INDEX, SCATTER_INDEX] += readings * 0.25 * TAIL_FREEDOM / (TAIL_FREEDOM + 3)
    covariance = np.linalg.inv(precision)
    return Bell(centre=peak.minimum.x, root=np.linalg.cholesky((covariance + covariance.T) / 2))


def fit_forms(timeline: Timeline, clear_time: ClearTime) -> tuple[FormFit, ...]:
    """Return the posterior under each form."""
    return tuple(
        fit_form(
            timeline,
            Parameters(form=form, clear_time=clear_time, recipes=timeline.recipes),
            float(np.log(prior)),
        )
        for form, prior in FORM_PRIORS.items()
    )
