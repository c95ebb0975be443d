"""Draws from a posterior by adaptive importance sampling, with smoothed weights."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from greasecheck.model import FloatArray

PROPOSAL_FREEDOM = 7.0  # tails wide enough to cover the target's; no source
WORST_PARETO_K = 0.7  # Vehtari et al. 2024, section 3
DRAWS_PER_ROUND = 150  # no source
# Worth so many independent draws, the 10 % quantile lies at 6 to 14 % (two standard errors, by the
# binomial law).
ENOUGH_DRAWS = 250.0
MOST_ROUNDS = 22  # with 11, two skulls read daily were left with less than 100 draws
DRAWS_PER_COORDINATE = 5  # that a covariance is refitted to; no source
LEAST_VARIANCE = 1e-8  # keeps that covariance positive


@dataclass(frozen=True, slots=True, kw_only=True)
class StudentT:
    """A multivariate Student t with `PROPOSAL_FREEDOM` degrees of freedom.

    Attributes
    ----------
    centre : ndarray, shape (p,)
        Centre.
    root : ndarray, shape (p, p)
        Lower Cholesky factor of the scale matrix.
    """

    centre: FloatArray
    root: FloatArray

    def draw(self, count: int, generator: np.random.Generator) -> FloatArray:
        """Return draws as columns, shape (p, count)."""
        normal = self.root @ generator.standard_normal((len(self.centre), count))
        stretch = np.sqrt(PROPOSAL_FREEDOM / generator.chisquare(PROPOSAL_FREEDOM, count))
        draws: FloatArray = self.centre[:, None] + normal * stretch
        return draws

    def log_density(self, points: FloatArray) -> FloatArray:
        """Return the log density at columns of `points`."""
        size, nu = len(self.centre), PROPOSAL_FREEDOM
        z = np.linalg.solve(self.root, points - self.centre[:, None])
        constant = (
            special.gammaln((nu + size) / 2)
            - special.gammaln(nu / 2)
            - 0.5 * size * np.log(nu * np.pi)
            - np.log(np.diag(self.root)).sum()
        )
        density: FloatArray = constant - 0.5 * (nu + size) * np.log1p((z**2).sum(axis=0) / nu)
        return density


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightedDraws:
    """Draws with weights.

    Attributes
    ----------
    points : ndarray, shape (p, draws)
        The draws.
    weights : ndarray, shape (draws,)
        Smoothed weights, sum 1.
    log_evidence : float
        Log of the integral of the target.
    pareto_k : float
        Shape of the tail of the raw weights.
    """

    points: FloatArray
    weights: FloatArray
    log_evidence: float
    pareto_k: float

    @property
    def effective_draws(self) -> float:
        """Return 1 / sum of squared weights."""
        return float(1 / (self.weights**2).sum())


def student_t_of(centre: FloatArray, covariance: FloatArray) -> StudentT:
    """Return the proposal of a centre and a scale matrix."""
    return StudentT(centre=centre, root=np.linalg.cholesky(covariance).astype(np.float64))


def adaptive_draws(
    log_target: Callable[[FloatArray], FloatArray],
    first: Sequence[StudentT],
    generator: np.random.Generator,
    enough_draws: float = ENOUGH_DRAWS,
) -> WeightedDraws:
    """Draw from a target, refitting the proposal to what earlier rounds found.

    Parameters
    ----------
    log_target : callable
        Log density of points given as columns.
    first : sequence of StudentT
        The first proposals, one round each.
    generator : numpy.random.Generator
        Source of chance.
    enough_draws : float
        How many independent draws they should be worth.

    Notes
    -----
    All rounds count, each draw weighed against the mixture of all proposals (deterministic
    mixture), so that no region that any proposal reached is lost. Rounds end when the draws are
    worth `enough_draws` independent ones, or after `MOST_ROUNDS`.

    References
    ----------
    J.-M. Cornuet et al., Adaptive multiple importance sampling, Scand. J. Stat. 39, 798 (2012).
    """
    proposals = list(first)
    drawn = [proposal.draw(DRAWS_PER_ROUND, generator) for proposal in proposals]
    points, log_targets = np.hstack(drawn), np.concatenate([log_target(one) for one in drawn])
    densities = _log_densities(proposals, points)
    while True:
        found = _weigh(points, log_targets - _log_mixture(densities))
        enough = found.effective_draws >= enough_draws and found.pareto_k < WORST_PARETO_K
        if enough or len(proposals) == MOST_ROUNDS:
            return found
        fitted = _refit(points, found.weights)
        fresh = fitted.draw(DRAWS_PER_ROUND, generator)
        densities = np.hstack([densities, _log_densities(proposals, fresh)])
        points = np.hstack([points, fresh])
        densities = np.vstack([densities, fitted.log_density(points)])
        log_targets = np.append(log_targets, log_target(fresh))
        proposals.append(fitted)


def _weigh(points: FloatArray, log_weights: FloatArray) -> WeightedDraws:
    smoothed, shape = smooth_log_weights(log_weights)
    total = float(_log_sum(smoothed))
    return WeightedDraws(
        points=points,
        weights=np.exp(smoothed - total),
        log_evidence=total - float(np.log(len(smoothed))),
        pareto_k=shape,
    )


def _log_densities(proposals: list[StudentT], points: FloatArray) -> FloatArray:
    return np.stack([proposal.log_density(points) for proposal in proposals])


def _log_mixture(densities: FloatArray) -> FloatArray:
    """Return the log density of equal rounds of all proposals, by those of each."""
    mixture: FloatArray = _log_sum(densities) - np.log(len(densities))
    return mixture


def _log_sum(logs: FloatArray) -> FloatArray:
    """Return the logs of sums over the first axis; scipy's takes four times as long."""
    top = logs.max(axis=0)
    total: FloatArray = top + np.log(np.exp(logs - top).sum(axis=0))
    return total


def _refit(points: FloatArray, weights: FloatArray) -> StudentT:
    """Return a proposal with the draws' mean and covariance; weights are flattened if few count.

    Where there are fewer draws than are wanted, all of them count alike; none weighs nothing, or
    flattening would never bring it back.
    """
    size, count = points.shape
    wanted = min(DRAWS_PER_COORDINATE * size, count - 1)
    flat = np.maximum(weights, np.finfo(float).tiny)
    while 1 / (flat**2).sum() < wanted:
        flat = np.sqrt(flat)
        flat = flat / flat.sum()
    centre = points @ flat
    apart = points - centre[:, None]
    covariance = (apart * flat) @ apart.T
    return student_t_of(centre, covariance + LEAST_VARIANCE * np.eye(size))


def smooth_log_weights(log_weights: FloatArray) -> tuple[FloatArray, float]:
    """Return Pareto-smoothed log weights and the tail's shape k.

    References
    ----------
    A. Vehtari, D. Simpson, A. Gelman, Y. Yao, J. Gabry, Pareto smoothed importance sampling,
    J. Mach. Learn. Res. 25(72), 2024, algorithm 1.
    """
    count = len(log_weights)
    tail = int(np.ceil(min(0.2 * count, 3 * np.sqrt(count))))
    order = np.argsort(log_weights)
    top = order[-tail:]
    largest = log_weights[order[-1]]
    cut = np.exp(log_weights[order[-tail - 1]] - largest)
    excess = np.exp(log_weights[top] - largest) - cut
    if excess[-1] <= 0:
        return log_weights, 0.0
    shape, scale = fit_generalised_pareto(excess)
    ranks = (np.arange(tail) + 0.5) / tail
    with np.errstate(over="ignore"):  # such a quantile lies above the largest weight, its limit
        quantiles = scale * np.expm1(-shape * np.log1p(-ranks)) / shape
    smoothed = log_weights.copy()
    smoothed[top] = np.minimum(np.log(cut + quantiles), 0.0) + largest
    return smoothed, float(shape)


def fit_generalised_pareto(excess: FloatArray) -> tuple[float, float]:
    """Return shape and scale of a generalised Pareto law of ascending positive `excess`.

    References
    ----------
    J. Zhang, M. A. Stephens, Technometrics 51, 316 (2009), with the weak prior on the shape of
    Vehtari et al. 2024, appendix C.
    """
    count = len(excess)
    grid = 30 + int(np.sqrt(count))
    quarter = max(excess[int(count / 4 + 0.5) - 1], np.finfo(float).tiny)
    inverse = 1 / excess[-1] + (1 - np.sqrt(grid / (np.arange(grid) + 0.5))) / (3 * quarter)
    shapes = np.log1p(-inverse[:, None] * excess).mean(axis=1)
    fit = count * (np.log(-inverse / shapes) - shapes - 1)
    weights = np.exp(fit - _log_sum(fit))
    best = float(inverse @ weights)
    shape = float(np.log1p(-best * excess).mean())
    scale = -shape / best
    return (count * shape + 10 * 0.5) / (count + 10), scale
