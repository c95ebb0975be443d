"""Proposals, Pareto smoothing and rounds of draws, against scipy and derived a second time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy import stats

from greasecheck.predict.fit import sampling
from greasecheck.predict.fit.optimise import minimise_squares
from greasecheck.predict.fit.ridge import ridge_proposals
from greasecheck.predict.fit.sampling import (
    adaptive_draws,
    fit_generalised_pareto,
    smooth_log_weights,
    student_t_of,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from greasecheck.model import FloatArray

CENTRE = np.array([1.0, -2.0, 0.5])
COVARIANCE = np.array([[1.0, 0.3, 0.1], [0.3, 0.5, -0.2], [0.1, -0.2, 2.0]])


def test_the_density_is_that_of_a_student_t_of_seven_degrees() -> None:
    points = np.random.default_rng(1).normal(0, 3, (3, 20))
    theirs = stats.multivariate_t(CENTRE, COVARIANCE, df=7).logpdf(points.T)
    assert student_t_of(CENTRE, COVARIANCE).log_density(points) == pytest.approx(theirs)


def test_draws_follow_that_density() -> None:
    draws = student_t_of(CENTRE, COVARIANCE).draw(200_000, np.random.default_rng(2))
    assert draws.mean(axis=1) == pytest.approx(CENTRE, abs=0.02)
    assert np.cov(draws) == pytest.approx(COVARIANCE * 7 / 5, abs=0.04)
    far = ((np.linalg.solve(np.linalg.cholesky(COVARIANCE), draws - CENTRE[:, None])) ** 2).sum(0)
    # a third of that square follows F of 3 and 7 degrees
    assert np.mean(far / 3 < stats.f(3, 7).ppf(0.99)) == pytest.approx(0.99, abs=0.001)


def pareto(excess: FloatArray) -> tuple[float, float]:
    """Zhang & Stephens 2009, section 3, value by value, with ten draws' worth of 0.5."""
    n = len(excess)
    m = 30 + int(n**0.5)
    quarter = excess[int(n / 4 + 0.5) - 1]
    thetas = [
        1 / excess[-1] + (1 - (m / (j - 0.5)) ** 0.5) / (3 * quarter) for j in range(1, m + 1)
    ]

    def profile(theta: float) -> float:
        k = -np.mean(np.log(1 - theta * excess))
        return float(n * (np.log(theta / k) + k - 1))

    lengths = np.array([profile(theta) for theta in thetas])
    weights = np.array([1 / np.exp(lengths - one).sum() for one in lengths])
    theta = float(np.dot(weights, thetas))
    k = -float(np.mean(np.log(1 - theta * excess)))
    return (n * -k + 5) / (n + 10), k / theta


@pytest.mark.parametrize("shape", [-0.2, 0.3, 0.9])
@pytest.mark.parametrize("count", [20, 75])
def test_a_tail_s_shape_and_scale_are_those_of_the_paper(shape: float, count: int) -> None:
    law = stats.genpareto(shape, scale=2.0)
    excess = np.sort(law.rvs(count, random_state=3))
    assert fit_generalised_pareto(excess) == pytest.approx(pareto(excess), rel=1e-6)


@pytest.mark.parametrize("count", [150, 1000])
def test_the_largest_weights_become_quantiles_of_their_tail(count: int) -> None:
    log_weights = 3 + 1.2 * np.random.default_rng(4).standard_exponential(count)
    smoothed, shape = smooth_log_weights(log_weights)
    tail = int(np.ceil(min(0.2 * count, 3 * count**0.5)))
    order = np.argsort(log_weights)
    cut = np.exp(log_weights[order[-tail - 1]])
    k, scale = pareto(np.exp(log_weights[order[-tail:]]) - cut)
    quantiles = stats.genpareto(k, scale=scale).ppf((np.arange(tail) + 0.5) / tail)
    expected = np.log(np.minimum(cut + quantiles, np.exp(log_weights.max())))
    assert shape == pytest.approx(k, rel=1e-5)
    assert smoothed[order[-tail:]] == pytest.approx(expected, rel=1e-5)
    assert smoothed[order[:-tail]].tolist() == log_weights[order[:-tail]].tolist()


def normal(z: FloatArray) -> FloatArray:
    return np.asarray(stats.multivariate_normal(CENTRE, COVARIANCE).logpdf(z.T))


def rounds(log_target: Callable[[FloatArray], FloatArray], first: float) -> int:
    proposal = student_t_of(CENTRE, COVARIANCE * first)
    found = adaptive_draws(log_target, [proposal], np.random.default_rng(5))
    assert found.weights.sum() == pytest.approx(1)
    return int(found.points.shape[1]) // 150


def test_rounds_of_150_end_with_250_independent_draws_or_after_twenty_two() -> None:
    assert rounds(normal, 1.0) == 2  # of 300, more than 250 count
    # so rough that a tenth counts: sixteen rounds are needed
    assert 11 < rounds(lambda z: normal(z) + 30 * np.sin(1e4 * z.sum(axis=0)), 1.0) < 22
    # rougher still: never enough
    assert rounds(lambda z: normal(z) + 300 * np.sin(1e4 * z.sum(axis=0)), 1.0) == 22


def test_draws_are_weighed_against_the_mixture_of_all_proposals() -> None:
    one, other = student_t_of(CENTRE, COVARIANCE), student_t_of(CENTRE + 2, 2 * COVARIANCE)
    points = np.random.default_rng(6).normal(0, 2, (3, 10))
    mixture = np.log((np.exp(one.log_density(points)) + np.exp(other.log_density(points))) / 2)
    densities = sampling._log_densities([one, other], points)
    assert sampling._log_mixture(densities) == pytest.approx(mixture)


def test_a_new_proposal_has_the_draws_mean_and_spread_or_a_flattened_one() -> None:
    points = np.random.default_rng(7).normal(0, 2, (3, 400))
    even = np.full(400, 1 / 400)
    refit = sampling._refit(points, even)
    assert refit.centre == pytest.approx(points.mean(axis=1))
    covariance = np.cov(points, bias=True)
    assert refit.root @ refit.root.T == pytest.approx(covariance + 1e-8 * np.eye(3), rel=1e-12)
    few = np.full(400, 1e-4)
    few[:10] = 0.1
    flat = np.sqrt(few / few.sum())
    flat /= flat.sum()
    assert 1 / (few / few.sum() @ (few / few.sum())) < 15 < 1 / (flat @ flat)
    assert sampling._refit(points, few / few.sum()).centre == pytest.approx(points @ flat)
    same = np.ones((3, 400))
    assert np.diag(sampling._refit(same, even).root) == pytest.approx(np.full(3, 1e-4))


def test_the_ridge_of_a_normal_posterior_has_its_own_covariance() -> None:
    root = np.linalg.inv(np.linalg.cholesky(COVARIANCE))

    def residuals(z: FloatArray) -> FloatArray:
        return np.asarray(root @ (z - CENTRE[:, None]))

    rungs = ridge_proposals(residuals, student_t_of(CENTRE, COVARIANCE), 2)
    away = np.array([(rung.centre - CENTRE)[2] / np.sqrt(2.0) for rung in rungs])
    assert away == pytest.approx([-3.0, -1.5, 1.5, 3.0])  # 5 and 8 lie 7 below in logarithms
    for rung, far in zip(rungs, away, strict=True):
        along = COVARIANCE[:, 2] / COVARIANCE[2, 2] * far * np.sqrt(2.0)
        assert rung.centre == pytest.approx(CENTRE + along, abs=1e-6)
        assert rung.root @ rung.root.T == pytest.approx(COVARIANCE, abs=1e-6)


def test_a_wide_posterior_keeps_far_rungs() -> None:
    def residuals(z: FloatArray) -> FloatArray:
        return np.asarray(0.7 * z)  # at 5 of the first proposal's deviations -6.1, at 8 -15.7

    rungs = ridge_proposals(residuals, student_t_of(np.zeros(3), np.eye(3)), 0)
    assert [round(float(rung.centre[0]), 6) for rung in rungs] == [-3.0, -1.5, 1.5, 3.0, 5.0]


def test_derivatives_are_those_of_the_function() -> None:
    def residuals(x: FloatArray) -> FloatArray:
        return np.stack([np.exp(x[0]) - 2, x[0] * x[1] - 1, np.sin(x[1]) - 0.5, x[1] ** 2 - 1])

    found = minimise_squares(residuals, np.array([0.3, 0.8]), tolerance=1e-10)
    a, b = found.x
    analytic = np.array([[np.exp(a), 0], [b, a], [0, np.cos(b)], [0, 2 * b]])
    assert found.jacobian == pytest.approx(analytic, abs=1e-7)
    assert found.residuals == pytest.approx(residuals(found.x[:, None])[:, 0])
    assert found.jacobian.T @ found.residuals == pytest.approx([0, 0], abs=1e-5)
    assert found.converged
    stopped = minimise_squares(residuals, np.array([9.0, -9.0]), most_steps=2)
    assert not stopped.converged
