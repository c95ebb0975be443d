from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.predict.fit.ridge import ridge_proposals
from greasecheck.predict.fit.sampling import (
    ENOUGH_DRAWS,
    adaptive_draws,
    fit_generalised_pareto,
    smooth_log_weights,
    student_t_of,
)

if TYPE_CHECKING:
    from greasecheck.model import FloatArray


def test_draws_of_a_far_and_tilted_normal_have_its_mean_spread_and_volume() -> None:
    centre, root = np.array([3.0, -1.0]), np.array([[0.5, 0.0], [0.4, 0.2]])

    def log_target(z: FloatArray) -> FloatArray:
        scaled = np.linalg.solve(root, z - centre[:, None])
        height: FloatArray = -0.5 * (scaled**2).sum(axis=0)
        return height

    first = student_t_of(np.array([1.0, 0.0]), np.eye(2))
    found = adaptive_draws(log_target, [first], np.random.default_rng(1))
    mean = found.points @ found.weights
    spread = np.sqrt(((found.points - mean[:, None]) ** 2) @ found.weights)
    error = 4 / np.sqrt(ENOUGH_DRAWS)  # four standard errors
    assert mean == pytest.approx(centre, abs=error * 0.5)
    assert spread == pytest.approx([0.5, np.hypot(0.4, 0.2)], rel=error)
    volume = np.log(2 * np.pi * 0.5 * 0.2)
    assert found.log_evidence == pytest.approx(volume, abs=error)
    assert found.effective_draws >= ENOUGH_DRAWS
    assert found.pareto_k < 0.7


def test_draws_end_once_they_are_worth_as_many_as_asked() -> None:
    def log_target(z: FloatArray) -> FloatArray:
        height: FloatArray = -0.5 * (z**2).sum(axis=0)
        return height

    first = student_t_of(np.zeros(2), np.eye(2))
    few, many = (
        adaptive_draws(log_target, [first], np.random.default_rng(6), enough)
        for enough in (20.0, 600.0)
    )
    assert few.effective_draws >= 20
    assert many.effective_draws >= 600
    assert few.points.shape[1] == 150 < many.points.shape[1]


def test_generalised_pareto_shape_is_recovered() -> None:
    generator = np.random.default_rng(2)
    for shape in (0.2, 0.6):
        excess = np.sort((generator.random(4000) ** -shape - 1) * 2.0 / shape)
        found, scale = fit_generalised_pareto(excess)
        assert found == pytest.approx(shape, abs=4 * (1 + shape) / np.sqrt(4000))
        assert scale == pytest.approx(2.0, rel=0.15)


@pytest.mark.parametrize("counting", [150, 30])
def test_a_proposal_is_found_for_more_coordinates_than_draws_suffice_for(counting: int) -> None:
    """For 40 coordinates 200 draws are wanted; some count for nothing, and the search ends."""

    def log_target(z: FloatArray) -> FloatArray:
        lost = np.arange(z.shape[1]) >= counting
        height: FloatArray = -0.5 * (z**2).sum(axis=0) - 1e4 * lost
        return height

    first = student_t_of(np.zeros(40), np.eye(40))
    found = adaptive_draws(log_target, [first], np.random.default_rng(4))
    assert np.isfinite(found.log_evidence)
    assert found.points.shape[0] == 40
    assert found.weights.sum() == pytest.approx(1.0)


def test_heavy_tails_are_reported_and_tamed() -> None:
    heavy = 1.5 * np.random.default_rng(3).standard_exponential(2000)
    smoothed, shape = smooth_log_weights(heavy)
    assert shape > 1.0
    assert smoothed.max() <= heavy.max()
    level, none = smooth_log_weights(np.zeros(100))
    assert none == 0.0
    assert np.all(level == 0.0)


def test_weights_beyond_all_numbers_are_tamed_in_silence() -> None:
    falling = -10.0 * np.arange(1650.0)
    smoothed, shape = smooth_log_weights(falling)
    assert shape > 130  # so that the law's highest quantile overflows
    assert smoothed.max() == 0.0
    assert np.isfinite(smoothed).all()


def test_ridge_follows_a_bend_that_one_bell_would_cut() -> None:
    def residuals(z: FloatArray) -> FloatArray:
        return np.stack([z[0], (z[1] - z[0] ** 2) / 0.1])

    first = student_t_of(np.zeros(2), np.diag([1.0, 0.01]))
    proposals = ridge_proposals(residuals, first, 0)
    assert {round(float(proposal.centre[0]), 6) for proposal in proposals} == {-3.0, -1.5, 1.5, 3.0}
    for proposal in proposals:
        assert proposal.centre[1] == pytest.approx(proposal.centre[0] ** 2, abs=1e-3)


def test_weights_that_stand_out_above_equal_ones_are_smoothed() -> None:
    above = np.geomspace(0.5, 8.0, 17)
    smoothed, shape = smooth_log_weights(np.concatenate([np.zeros(83), above]))
    assert shape > 0.5
    assert smoothed.max() < above.max()
    assert np.all(smoothed[:80] == 0.0)
