"""The optimiser against certified values of the NIST Statistical Reference Datasets."""

from __future__ import annotations

import numpy as np
import pytest

from greasecheck.predict.fit.optimise import minimise_squares
from tests.reference.nist_strd import PROBLEMS, Problem

DIGITS = 6.0


@pytest.mark.parametrize("start", [0, 1], ids=["start1", "start2"])
@pytest.mark.parametrize("problem", PROBLEMS, ids=lambda problem: problem.name)
def test_certified_values_are_reached_to_six_digits(problem: Problem, start: int) -> None:
    with np.errstate(over="ignore", invalid="ignore"):  # far starts try wild steps
        found = minimise_squares(
            problem.residuals,
            problem.starts[start],
            typical=1e-8,
            tolerance=1e-14,
            most_steps=5000,
        )
    wrong = np.abs(found.x - problem.certified) / np.abs(problem.certified)
    assert -np.log10(wrong.max()) >= DIGITS
    assert (found.residuals**2).sum() == pytest.approx(problem.sum_of_squares, rel=1e-6)
    assert found.converged
