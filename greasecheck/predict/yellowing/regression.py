"""Bayesian logistic regression of yellowing later on the signs of a skull."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import optimize, special

from greasecheck.errors import ForecastError
from greasecheck.predict.fit.sampling import adaptive_draws, student_t_of
from greasecheck.predict.yellowing.prior import follow_up_rule, sign_priors, standardise
from greasecheck.predict.yellowing.records import Outcome

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from greasecheck.model import FloatArray
    from greasecheck.predict.fit.sampling import WeightedDraws
    from greasecheck.predict.yellowing.prior import SignArrays
    from greasecheck.predict.yellowing.records import FinishedSkull, Look

SEED = 20261125  # the same follow-ups always give the same risk
HERMITE_NODES = 9
LEAST_PROBABILITY = 1e-12
# Probability before any follow-up that no sign matters. No source; doubled, skulls with and without
# signs would be judged apart by a sixth less until some ten follow-ups speak.
WORTHLESS = 0.15
LOG_TWO_PI = float(np.log(2 * np.pi))


@dataclass(frozen=True, slots=True, kw_only=True)
class YellowingModel:
    """What is believed of the effects of the signs.

    Attributes
    ----------
    effects : ndarray, shape (1 + signs, draws)
        Log odds of the usual skull, then of one spread above each sign's centre.
    weights : ndarray, shape (draws,)
        Weights of the draws, sum 1.
    outcomes : int
        Skulls that were looked at later.
    yellowed : int
        How many of them had yellowed.
    without_outcome : int
        Skulls that nobody looked at; they teach nothing.
    pareto_k : float
        Shape of the largest weights; above 0.7 they are unreliable (Vehtari et al. 2024).
    worthless : float
        Probability that no sign matters, 0 to 1.
    """

    effects: FloatArray
    weights: FloatArray
    outcomes: int
    yellowed: int
    without_outcome: int
    pareto_k: float
    worthless: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """Outcomes as arrays of shape (skulls,): whether yellow, and shares shown by the looks."""

    yellow: FloatArray
    shown_white: FloatArray
    shown_yellow: FloatArray


def outcome_of(looks: Sequence[Look]) -> Outcome | None:
    """Return the looks at a skull in short; None without a look.

    Raises
    ------
    ForecastError
        For a look not after the whitening.

    Examples
    --------
    >>> from greasecheck.predict.yellowing.records import Look
    >>> outcome_of([Look(days=35, yellowed=False), Look(days=80, yellowed=False, yi_rise=9.0)])
    Outcome(white_until_days=35, yellow_by_days=80)
    """
    if not looks:
        return None
    if any(not look.days > 0 for look in looks):
        raise ForecastError(
            "a follow-up is not after the whitening", hint="correct the time of one of the two"
        )
    yellow = [look.days for look in looks if has_yellowed(look)]
    first = min(yellow, default=None)
    white = [
        look.days
        for look in looks
        if not has_yellowed(look) and (first is None or look.days < first)
    ]
    return Outcome(white_until_days=max(white, default=0.0), yellow_by_days=first)


def has_yellowed(look: Look) -> bool:
    """Return whether a look found the skull yellowed: by measurement if there is one."""
    if look.yi_rise is None:
        return look.yellowed
    return look.yi_rise > follow_up_rule().yellowness_rise


def learn_yellowing(skulls: Sequence[FinishedSkull]) -> YellowingModel:
    """Learn from the follow-ups of finished skulls; without any, the prior stands.

    Parameters
    ----------
    skulls : sequence of FinishedSkull
        Whitened skulls; those without a look teach nothing and do no harm.

    Raises
    ------
    ForecastError
        For a look not after the whitening.

    Notes
    -----
    A skull yellows with probability p, logistic in its signs; if so, it shows it by day t with
    probability F(t). Seen white at t1 and yellow at t2 the likelihood is p (F(t2) - F(t1)); seen
    white only, 1 - p F(t1): a cure model of current status data (Maller & Zhou, Survival Analysis
    with Long-Term Survivors, 1996; from memory). Uncertain signs are averaged over. Draws by
    adaptive importance sampling about the mode: of the model with all signs, and of one in which
    none matters, weighed by their evidence.
    """
    outcomes = [(skull.signs, outcome_of(skull.looks)) for skull in skulls]
    judged = [(signs, outcome) for signs, outcome in outcomes if outcome is not None]
    arrays = standardise(tuple(signs for signs, _ in judged))
    seen = _seen([outcome for _, outcome in judged])
    signs, none = (
        _posterior(size, lambda z: _log_likelihood(arrays, seen, _effects(z)))
        for size in (len(sign_priors().effect_means), 1)
    )
    odds = special.logit(WORTHLESS) + none.log_evidence - signs.log_evidence
    worthless = float(special.expit(odds))
    return YellowingModel(
        effects=np.hstack([_effects(signs.points), _effects(none.points)]),
        weights=np.append((1 - worthless) * signs.weights, worthless * none.weights),
        outcomes=len(judged),
        yellowed=int(seen.yellow.sum()),
        without_outcome=len(skulls) - len(judged),
        pareto_k=max(signs.pareto_k, none.pareto_k),
        worthless=worthless,
    )


def _effects(z: FloatArray) -> FloatArray:
    """Turn standard normal coordinates, shape (size, draws), into effects, (1 + signs, draws).

    Signs without a coordinate have no effect.
    """
    priors, size = sign_priors(), len(z)
    effects = np.zeros((len(priors.effect_means), z.shape[1]))
    effects[:size] = priors.effect_means[:size, None] + priors.effect_stds[:size, None] * z
    return effects


def _posterior(size: int, log_likelihood: Callable[[FloatArray], FloatArray]) -> WeightedDraws:
    """Draw coordinates that are standard normal before the outcomes speak."""

    def log_target(z: FloatArray) -> FloatArray:
        target: FloatArray = log_likelihood(z) - 0.5 * ((z**2).sum(axis=0) + size * LOG_TWO_PI)
        return target

    start = np.zeros(size)
    peak = optimize.minimize(lambda z: -log_target(z[:, None])[0], start, method="BFGS")
    proposals = (student_t_of(start, np.eye(size)), student_t_of(peak.x, peak.hess_inv))
    return adaptive_draws(log_target, proposals, np.random.default_rng(SEED))


def _seen(outcomes: Sequence[Outcome]) -> _Seen:
    rule = follow_up_rule()
    white = np.array([outcome.white_until_days for outcome in outcomes])
    yellow = np.array([outcome.yellow_by_days or np.inf for outcome in outcomes])
    return _Seen(
        yellow=np.isfinite(yellow).astype(float),
        shown_white=rule.shown_by(white),
        shown_yellow=rule.shown_by(yellow),
    )


def _log_likelihood(arrays: SignArrays, seen: _Seen, effects: FloatArray) -> FloatArray:
    """Return the log likelihood of the outcomes, shape (draws,)."""
    risk = mean_risk(arrays, effects)
    shown = (seen.shown_yellow - seen.shown_white)[:, None]
    chance = np.where(seen.yellow[:, None] == 1, risk * shown, 1 - risk * seen.shown_white[:, None])
    log_chance: FloatArray = np.log(np.maximum(chance, LEAST_PROBABILITY)).sum(axis=0)
    return log_chance


def log_odds(arrays: SignArrays, effects: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return mean and standard deviation of the log odds, each of shape (skulls, draws)."""
    mean: FloatArray = effects[0] + arrays.means @ effects[1:]
    std: FloatArray = np.sqrt(arrays.variances @ effects[1:] ** 2)
    return mean, std


def mean_risk(arrays: SignArrays, effects: FloatArray) -> FloatArray:
    """Return the risk under each draw, uncertain signs averaged over, shape (skulls, draws)."""
    mean, std = log_odds(arrays, effects)
    nodes, weights = np.polynomial.hermite_e.hermegauss(HERMITE_NODES)
    terms = [
        weight * special.expit(mean + node * std)
        for node, weight in zip(nodes, weights / weights.sum(), strict=True)
    ]
    risk: FloatArray = np.sum(terms, axis=0)
    return risk
