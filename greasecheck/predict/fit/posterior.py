"""From a tub's history to weighted draws of each model form."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.predict.fit.likelihood import expected_of, log_likelihood, white_residuals
from greasecheck.predict.fit.noise import (
    Expected,
    Noise,
    Whitening,
    usual_noise,
    whiten,
    whiten_apart,
)
from greasecheck.predict.fit.optimise import minimise_squares
from greasecheck.predict.fit.parameters import Parameters
from greasecheck.predict.fit.ridge import ridge_proposals
from greasecheck.predict.fit.sampling import (
    ENOUGH_DRAWS,
    StudentT,
    WeightedDraws,
    adaptive_draws,
    student_t_of,
)
from greasecheck.predict.model.kinetics import Form

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.done_prior import DoneTime
    from greasecheck.predict.model.draws import Draws
    from greasecheck.predict.model.timeline import Timeline

SEED = 20261125  # the same readings always give the same dates
FIRST_TOLERANCE, TOLERANCE = 1e-2, 1e-4
# Log evidence by which a form may lie behind the best one and still be drawn: beyond it, it would
# weigh less than exp(-8 EVIDENCE_POWER), 1 in 55, beside an equal prior. Asked after the last climb
# alone, in which a form may still gain tens.
HOPELESS_LOG_EVIDENCE = 8.0
# A form is drawn in proportion to what it weighs beside the heaviest one, as it decides as much
# (Neyman's allocation), and so far at least: its weight is not known well before it is drawn.
LEAST_SHARE_DRAWN = 0.2
DONE_TIME_INDEX = 0  # the coordinate of the first skull's time until done
# With more skulls, a broad spectrum's pools would be too many for their worth; an even release
# changes the pace of the tub as one bone nears its end, which several do not do together.
MOST_SKULLS = MappingProxyType({Form.BROAD: 3, Form.EVEN: 1})
LOG_TWO_PI = float(np.log(2 * np.pi))
FORM_PRIORS = MappingProxyType({Form.TWO_POOLS: 0.36, Form.BROAD: 0.54, Form.EVEN: 0.1})
# None of the forms is true: evidence that counted each reading in full would settle on one of them
# though all are off (Miller & Dunson 2019, J. Am. Stat. Assoc. 114, 1113, who raise the likelihood
# to a power; from memory). This power and the weight of the even form were chosen together on
# simulated tubs that no stated figure comes from.
EVIDENCE_POWER = 0.5


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
    proposal : StudentT
        The Laplace approximation.
    """

    parameters: Parameters
    x: FloatArray
    converged: bool
    log_posterior: float
    proposal: StudentT

    @property
    def draws(self) -> Draws:
        """Return the mode as a single draw."""
        return self.parameters.draws(self.x[:, None])

    @property
    def log_evidence(self) -> float:
        """Return Laplace's approximation of the log evidence."""
        volume = float(np.log(np.diag(self.proposal.root)).sum())
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


def first_whitening(timeline: Timeline, parameters: Parameters) -> Whitening:
    """Return the readings' covariance as if every reading were the truth."""
    seen = timeline.observations
    fresh = parameters.draws(np.zeros((parameters.size, 1))).fresh_per_m[seen.moments.recipe, 0]
    rise = np.maximum(seen.haze_per_m - fresh, 0.0)
    everything = Expected(fresh=fresh, rise=rise, bloom=np.zeros_like(rise))
    return whiten_apart(seen, everything, usual_noise())


def learnt_whitening(timeline: Timeline, peak: Peak, near: Noise) -> Whitening:
    """Return the readings' covariance, its sizes learnt from what a peak leaves unexplained."""
    return whiten(timeline.observations, expected_of(timeline, peak.draws), near)


def find_peak(
    timeline: Timeline,
    parameters: Parameters,
    whitening: Whitening,
    starts: tuple[FloatArray, ...] = (),
    tolerance: float = TOLERANCE,
) -> Peak:
    """Climb to the most probable parameters.

    Parameters
    ----------
    timeline : Timeline
        The tub.
    parameters : Parameters
        What is unknown.
    whitening : Whitening
        The readings' covariance.
    starts : tuple of ndarray, optional
        Where to begin; the form's own starts without it.
    tolerance : float
        Of the climb, relative.
    """
    climbs = [
        _climb(timeline, parameters, whitening, start, tolerance)
        for start in starts or parameters.starts()
    ]
    return max(climbs, key=lambda peak: peak.log_posterior)


def _climb(
    timeline: Timeline,
    parameters: Parameters,
    whitening: Whitening,
    start: FloatArray,
    tolerance: float,
) -> Peak:
    minimum = minimise_squares(
        partial(_residuals, timeline, parameters, whitening), start, tolerance=tolerance
    )
    precision = minimum.jacobian.T @ minimum.jacobian
    covariance = np.linalg.inv(precision)
    return Peak(
        parameters=parameters,
        x=minimum.x,
        converged=minimum.converged,
        log_posterior=float(
            -0.5 * minimum.residuals @ minimum.residuals - 0.5 * len(start) * LOG_TWO_PI
        ),
        proposal=student_t_of(minimum.x, (covariance + covariance.T) / 2),
    )


def _residuals(
    timeline: Timeline, parameters: Parameters, whitening: Whitening, z: FloatArray
) -> FloatArray:
    return np.concatenate([z, white_residuals(timeline, parameters.draws(z), whitening)])


def log_posterior(
    timeline: Timeline, parameters: Parameters, whitening: Whitening, z: FloatArray
) -> FloatArray:
    """Return the log of prior times likelihood at coordinates `z`, shape (size, draws)."""
    score: FloatArray = log_likelihood(timeline, parameters.draws(z), whitening) - 0.5 * (
        (z**2).sum(axis=0) + len(z) * LOG_TWO_PI
    )
    return score


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """The posterior under each form left, weightiest first, and the readings' covariance."""

    fits: tuple[FormFit, ...]
    whitening: Whitening


def first_peak(timeline: Timeline, done_times: tuple[DoneTime, ...]) -> Peak:
    """Return the peak of two pools, before the sizes of the noise are learnt."""
    return _first_peak(timeline, _parameters(timeline, done_times, Form.TWO_POOLS), ())


def fit_forms(timeline: Timeline, near: Peak) -> Posterior:
    """Return the posterior under each form that the readings leave possible.

    One covariance serves all forms, so that their evidence compares: its sizes are learnt from
    the best form's residuals, twice.

    Parameters
    ----------
    timeline : Timeline
        The tub.
    near : Peak
        From `first_peak` of about the same readings: where to begin with two pools.
    """
    forms = [
        _parameters(timeline, near.parameters.done_times, form)
        for form in FORM_PRIORS
        if _fits(form, timeline)
    ]
    peaks = [
        _first_peak(timeline, form, (near.x,) if form.form is near.parameters.form else ())
        for form in forms
    ]
    noise = usual_noise()
    for tolerance in (FIRST_TOLERANCE, TOLERANCE):
        best = max(peaks, key=lambda peak: peak.log_evidence)
        whitening = learnt_whitening(timeline, best, noise)
        noise = whitening.noise
        peaks = [
            find_peak(timeline, peak.parameters, whitening, (peak.x,), tolerance) for peak in peaks
        ]
    best = max(peaks, key=lambda peak: peak.log_evidence)
    left = [peak for peak in peaks if peak.log_evidence > best.log_evidence - HOPELESS_LOG_EVIDENCE]
    return Posterior(fits=_weighed(timeline, left, whitening), whitening=whitening)


def _parameters(timeline: Timeline, done_times: tuple[DoneTime, ...], form: Form) -> Parameters:
    return Parameters(form=form, done_times=done_times, recipes=timeline.calendar.recipes)


def _first_peak(timeline: Timeline, form: Parameters, starts: tuple[FloatArray, ...]) -> Peak:
    return find_peak(timeline, form, first_whitening(timeline, form), starts, FIRST_TOLERANCE)


def _fits(form: Form, timeline: Timeline) -> bool:
    """Return whether a form can be that of a tub."""
    if form is Form.EVEN and timeline.soaked_before_days.any():
        return False
    skulls = int(timeline.present.size)
    return skulls <= MOST_SKULLS.get(form, skulls)


def _weighed(timeline: Timeline, peaks: list[Peak], whitening: Whitening) -> tuple[FormFit, ...]:
    about = _log_weights(peaks, [peak.log_evidence for peak in peaks])
    shares = np.exp(about - about.max())
    draws = [
        _draw(timeline, peak, whitening, share) for peak, share in zip(peaks, shares, strict=True)
    ]
    log_weights = _log_weights(peaks, [found.log_evidence for found in draws])
    fits = [
        FormFit(peak=peak, draws=found, weight=float(weight))
        for peak, found, weight in zip(peaks, draws, special.softmax(log_weights), strict=True)
    ]
    return tuple(sorted(fits, key=lambda fit: -fit.weight))


def _log_weights(peaks: list[Peak], log_evidence: list[float]) -> FloatArray:
    """Return the log of what each form weighs, except for a constant, shape (forms,)."""
    priors = np.log([FORM_PRIORS[peak.parameters.form] for peak in peaks])
    weights: FloatArray = priors + EVIDENCE_POWER * np.array(log_evidence)
    return weights


def _draw(timeline: Timeline, peak: Peak, whitening: Whitening, share: float) -> WeightedDraws:
    parameters = peak.parameters
    ridge = ridge_proposals(
        partial(_residuals, timeline, parameters, whitening), peak.proposal, DONE_TIME_INDEX
    )
    return adaptive_draws(
        partial(log_posterior, timeline, parameters, whitening),
        (peak.proposal, *ridge),
        np.random.default_rng(SEED),
        ENOUGH_DRAWS * max(share, LEAST_SHARE_DRAWN),
    )
