"""From a tub's history to weighted draws of each model form."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.predict.fit.likelihood import (
    TAIL_FREEDOM,
    log_likelihood,
    reading_std,
    signed_root_deviance,
)
from greasecheck.predict.fit.optimise import minimise_squares
from greasecheck.predict.fit.parameters import Parameters
from greasecheck.predict.fit.ridge import ridge_bells
from greasecheck.predict.fit.sampling import Bell, WeightedDraws, adaptive_draws, bell_of
from greasecheck.predict.model.course import run_course
from greasecheck.predict.model.kinetics import Form
from greasecheck.predict.tables import spread

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.clear_prior import ClearTime
    from greasecheck.predict.model.draws import Draws
    from greasecheck.predict.model.timeline import Timeline

SEED = 20261125  # the same readings always give the same dates
TOLERANCES = (1e-2, 1e-4)  # of the first climb, and of that with better standard deviations
CLEAR_TIME_INDEX, SCATTER_INDEX = 0, 5
SCATTER_GRID = np.linspace(-3.0, 4.0, 29)
HOPELESS_LOG_EVIDENCE = 12.0
LOG_TWO_PI = float(np.log(2 * np.pi))
FORM_PRIORS = MappingProxyType(
    {Form.ONE_POOL: 0.1, Form.TWO_POOLS: 0.5, Form.SHEET: 0.2, Form.SPHERE: 0.2}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """The most probable parameters of one form.

    Attributes
    ----------
    parameters : Parameters
        What the coordinates mean.
    x : ndarray, shape (size,)
        Where the posterior is highest.
    converged : bool
        Whether the optimiser settled.
    log_posterior : float
        Log density there.
    std_per_m : ndarray, shape (readings, 1)
        Standard deviations of the readings there [1/m].
    bell : Bell
        The Laplace approximation.
    """

    parameters: Parameters
    x: FloatArray
    converged: bool
    log_posterior: float
    std_per_m: FloatArray
    bell: Bell

    @property
    def log_evidence(self) -> float:
        """Return Laplace's approximation of the log evidence."""
        volume = float(np.log(np.diag(self.bell.root)).sum())
        return self.log_posterior + volume + 0.5 * len(self.x) * LOG_TWO_PI


@dataclass(frozen=True, slots=True, kw_only=True)
class FormFit:
    """The posterior under one form.

    Attributes
    ----------
    peak : Peak
        Its mode.
    draws : WeightedDraws
        Draws of the coordinates.
    weight : float
        Posterior probability of the form, 0 to 1.
    """

    peak: Peak
    draws: WeightedDraws
    weight: float


def find_peak(timeline: Timeline, parameters: Parameters, near: Peak | None = None) -> Peak:
    """Climb to the most probable parameters.

    Parameters
    ----------
    timeline : Timeline
        The tub.
    parameters : Parameters
        What is unknown.
    near : Peak, optional
        Where to begin, for a tub almost like that peak's: one short climb.
    """
    if near is not None:
        return _climb(timeline, parameters, near.x, reweightings=1)
    climbs = [
        _climb(timeline, parameters, start, reweightings=len(TOLERANCES))
        for start in parameters.starts()
    ]
    climbs.sort(key=lambda peak: -peak.log_posterior)
    return climbs[0]


def _climb(
    timeline: Timeline, parameters: Parameters, start: FloatArray, *, reweightings: int
) -> Peak:
    """Climb from one start, reweighting readings as the scatter is learnt."""
    x, std = start, _first_std(timeline, parameters.draws(start[:, None]))
    for tolerance in TOLERANCES[-reweightings:]:
        minimum = minimise_squares(
            partial(_residuals, timeline, parameters, std), x, tolerance=tolerance
        )
        x = _with_scatter(timeline, parameters, minimum.x)
        draws = parameters.draws(x[:, None])
        std = reading_std(timeline, draws, _expected(timeline, draws))
    return Peak(
        parameters=parameters,
        x=x,
        converged=minimum.converged,
        log_posterior=float(log_posterior(timeline, parameters, x[:, None])[0]),
        std_per_m=std,
        bell=_laplace(x, minimum.jacobian),
    )


def _residuals(
    timeline: Timeline, parameters: Parameters, std: FloatArray, z: FloatArray
) -> FloatArray:
    draws = parameters.draws(z)
    misfit = signed_root_deviance(timeline, _expected(timeline, draws), std)
    return np.concatenate([z, parameters.outside(draws)[None], misfit])


def _expected(timeline: Timeline, draws: Draws) -> FloatArray:
    return run_course(timeline, draws).haze_per_m(timeline.observations.moments)


def _first_std(timeline: Timeline, draws: Draws) -> FloatArray:
    """Return standard deviations as if every reading were the truth."""
    read = np.maximum(timeline.observations.haze_per_m, 0.0)[:, None]
    return reading_std(timeline, draws, read)


def _with_scatter(timeline: Timeline, parameters: Parameters, x: FloatArray) -> FloatArray:
    """Return `x` with the most probable scatter, all else held fixed."""
    points = np.repeat(x[:, None], len(SCATTER_GRID), axis=1)
    points[SCATTER_INDEX] = SCATTER_GRID
    best: FloatArray = points[:, np.argmax(log_posterior(timeline, parameters, points))]
    return best


def log_posterior(timeline: Timeline, parameters: Parameters, z: FloatArray) -> FloatArray:
    """Return the log of prior times likelihood at coordinates `z`, shape (size, draws)."""
    draws = parameters.draws(z)
    distance = (z**2).sum(axis=0) + parameters.outside(draws) ** 2
    score: FloatArray = log_likelihood(timeline, draws) - 0.5 * (distance + len(z) * LOG_TWO_PI)
    return score


def _laplace(x: FloatArray, jacobian: FloatArray) -> Bell:
    """Return the curvature at the peak, with what the readings' number says of the scatter."""
    precision = jacobian.T @ jacobian
    readings = len(jacobian) - len(x) - 1
    # expected information on log scale of a t law, times the squared scale of the coordinate
    information = 2 * TAIL_FREEDOM / (TAIL_FREEDOM + 3) * spread("scatter_share").log_std ** 2
    precision[SCATTER_INDEX, SCATTER_INDEX] += readings * information
    covariance = np.linalg.inv(precision)
    return bell_of(x, (covariance + covariance.T) / 2)


def fit_forms(timeline: Timeline, clear_time: ClearTime) -> tuple[FormFit, ...]:
    """Return the posterior under each form that the readings leave possible, weightiest first."""
    peaks = [
        find_peak(
            timeline,
            Parameters(form=form, clear_time=clear_time, recipes=timeline.calendar.recipes),
        )
        for form in FORM_PRIORS
    ]
    best = max(peak.log_evidence for peak in peaks)
    left = [peak for peak in peaks if peak.log_evidence > best - HOPELESS_LOG_EVIDENCE]
    draws = [_draw(timeline, peak) for peak in left]
    log_weights = np.array(
        [
            np.log(FORM_PRIORS[peak.parameters.form]) + found.log_evidence
            for peak, found in zip(left, draws, strict=True)
        ]
    )
    weights = special.softmax(log_weights)
    fits = [
        FormFit(peak=peak, draws=found, weight=float(weight))
        for peak, found, weight in zip(left, draws, weights, strict=True)
    ]
    return tuple(sorted(fits, key=lambda fit: -fit.weight))


def _draw(timeline: Timeline, peak: Peak) -> WeightedDraws:
    parameters = peak.parameters
    ridge = ridge_bells(
        partial(_residuals, timeline, parameters, peak.std_per_m), peak.bell, CLEAR_TIME_INDEX
    )
    return adaptive_draws(
        partial(log_posterior, timeline, parameters),
        (peak.bell, *ridge),
        np.random.default_rng(SEED),
    )
