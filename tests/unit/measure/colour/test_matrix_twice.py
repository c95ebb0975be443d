"""The map to XYZ and the stated error of yellowness, derived a second time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.measure.colorimetry import delta_e00, lab_from_xyz, yellowness_e313
from greasecheck.measure.colour.left_out import yellowness_error
from greasecheck.measure.colour.matrix import fit_matrix
from greasecheck.reference.cie import WHITES, lab_to_xyz

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

RNG = np.random.default_rng(9)
CAMERA = RNG.uniform(0.05, 1, (20, 3))
MIXING = np.array([[41.0, 21, 2], [36, 72, 12], [18, 7, 95]])
NOISE = RNG.normal(1, 0.01, (20, 3))


def roots(camera: FloatArray) -> FloatArray:
    red, green, blue = camera.T
    pairs = ((red, green), (green, blue), (blue, red))
    return np.column_stack([np.sqrt(a * b) - (a + b) / 2 for a, b in pairs])


def errors(xyz: FloatArray, weights: FloatArray, ridge: float | None) -> float:
    """Mean left-out CIEDE2000 of a ridge fit, each colour left out by itself."""
    terms = CAMERA if ridge is None else np.column_stack([CAMERA, roots(CAMERA)])
    row = np.sqrt(weights) / (xyz[:, 1] / 100 + 0.01) ** (2 / 3)
    pull = np.diag([1e-7] * 3 + ([] if ridge is None else [ridge] * 3)) * (row**2).sum()
    predicted = np.empty_like(xyz)
    for out in range(len(xyz)):
        kept = np.arange(len(xyz)) != out
        design, wanted = terms[kept] * row[kept, None], xyz[kept] * row[kept, None]
        predicted[out] = terms[out] @ np.linalg.solve(design.T @ design + pull, design.T @ wanted)
    return float(delta_e00(predicted, xyz).mean())


@pytest.mark.parametrize("weighted", [False, True])
def test_root_terms_are_taken_where_they_cut_a_tenth_of_the_error(weighted: bool) -> None:
    weights = np.where(np.arange(20) < 6, 8.0, 1.0) if weighted else np.ones(20)
    shares = []
    for bent in np.linspace(0.0, 0.3, 25):
        xyz = (CAMERA @ MIXING + bent * 100 * roots(CAMERA)) * NOISE
        linear = errors(xyz, weights, None)
        rooted = min(errors(xyz, weights, ridge) for ridge in (1e-4, 1e-3, 1e-2))
        fit = fit_matrix(CAMERA, xyz, weights if weighted else None)
        assert fit.order == (2 if rooted < 0.9 * linear else 1)
        assert fit.loo_delta_e00 == pytest.approx(min(rooted, linear) if fit.order == 2 else linear)
        shares.append(rooted / linear)
    assert any(0.8 < share < 0.9 for share in shares)
    assert any(0.9 < share < 1 for share in shares)


def test_the_error_of_yellowness_averages_over_how_it_grows_with_chroma() -> None:
    rng = np.random.default_rng(3)
    lab = np.column_stack([rng.uniform(30, 90, 30), rng.normal(0, 15, 30), rng.normal(5, 20, 30)])
    wrong = lab + rng.normal(0, 1, (30, 3)) * (0.5 + np.hypot(lab[:, 1:2], lab[:, 2:]) / 20)
    white = WHITES["D65"]
    true, seen = lab_to_xyz(lab, white), lab_to_xyz(wrong, white)

    def yellowness(one: FloatArray) -> float:
        return float(yellowness_e313(lab_to_xyz(np.atleast_2d(one), white))[0])

    half = np.array([0, 0, 0.5])

    def per_b(one: FloatArray) -> float:
        return yellowness(one + half) - yellowness(one - half)

    apart = lab_from_xyz(seen) - lab_from_xyz(true)
    chroma2 = lab[:, 1] ** 2 + lab[:, 2] ** 2
    as_bone = np.minimum(np.sqrt(chroma2 / (4.0**2 + 22.0**2)), 1)  # no more vivid than a bone
    bones = np.array([[75.0, 4.0 * share, 22.0 * share] for share in as_bone])
    moved = np.array(
        [
            (yellowness(one + e) - yellowness(one)) / per_b(one)
            for one, e in zip(bones, apart, strict=True)
        ]
    )
    at = np.array([60.0, 3.0, 12.0])
    likelihoods, stds = [], []
    for share in (0.02, 0.05, 0.1, 0.2, 0.4, 0.7, 1.0):
        grown = share + (1 - share) * chroma2 / chroma2.mean()
        variance = (moved**2 / grown).sum() / (30 - 2)
        likelihoods.append(np.prod((grown * variance) ** -0.5))
        stds.append(variance * (share + (1 - share) * (9 + 144) / chroma2.mean()))
    weights = np.array(likelihoods) / np.sum(likelihoods)
    found = yellowness_error(seen, true)
    assert found.weights == pytest.approx(weights, rel=1e-5)
    assert found.std(at) == pytest.approx(np.sqrt(weights @ np.array(stds)) * per_b(at), rel=1e-6)


def test_a_lightness_wrong_on_greys_alone_says_nothing_of_their_yellowness() -> None:
    lab = np.array([[level, 0.0, 0.0] for level in np.linspace(30, 90, 12)])
    true, seen = (lab_to_xyz(one, WHITES["D65"]) for one in (lab, lab + np.array([3.0, 0, 0])))
    assert yellowness_error(seen, true).std(np.array([60.0, 0.0, 0.0])) < 0.05
