"""The light over the sheet: its values by hand, its fit a second time by plain least squares."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.measure.colour.light_field import LightField, LightSamples, fit_light
from greasecheck.measure.robust import robust_scale, robust_weights

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

LEVEL = np.array([0.2, -0.1, 0.06, 0.03, -0.04])  # x, y, x2, xy, y2
HUE = np.array([[0.05, 0.0, -0.05], [-0.02, 0.0, 0.02]])
FIELD = LightField(
    centre_mm=np.array([130.0, 95.0]), half_mm=np.array([130.0, 95.0]), level=LEVEL, hue=HUE
)


def log_light(x_mm: float, y_mm: float) -> FloatArray:
    return np.asarray(np.log(FIELD(np.array([[x_mm, y_mm]])))[0])


def test_light_on_the_sheet_is_a_quadratic_with_a_slope_of_colour() -> None:
    # at x = 0.5, y = -0.4 half sheets: 0.1 + 0.04 + 0.015 - 0.006 - 0.0064, hue 0.025 + 0.008
    assert log_light(195.0, 57.0) == pytest.approx([0.1426 + 0.033, 0.1426, 0.1426 - 0.033])
    assert log_light(130.0, 95.0) == pytest.approx([0.0, 0.0, 0.0])


def test_beside_the_sheet_its_tangent_goes_on() -> None:
    # at the edge x = 1, y = 0.5: 0.215; slopes 0.2 + 0.12 + 0.015 and -0.1 + 0.03 - 0.04
    edge = 0.2 - 0.05 + 0.06 + 0.015 - 0.01
    assert log_light(260.0, 142.5)[1] == pytest.approx(edge)
    assert log_light(325.0, 142.5)[1] == pytest.approx(edge + 0.5 * 0.335)
    assert log_light(325.0, 142.5)[0] == pytest.approx(edge + 0.5 * 0.335 + 1.5 * 0.05 - 0.5 * 0.02)
    # beyond the corner x = 1, y = 1 by 0.5 each way
    corner = float(LEVEL.sum())
    slopes = 0.2 + 0.12 + 0.03 - 0.1 + 0.03 - 0.08
    assert log_light(325.0, 190.0 + 47.5)[1] == pytest.approx(corner + 0.5 * slopes)


def samples(hidden: int) -> LightSamples:
    """Paper and twins of two colours in that light, with noise, some paper in a shadow."""
    rng = np.random.default_rng(4)
    points = rng.uniform([5, 5], [255, 185], (40, 2))
    group = np.repeat([0, 1, 2], [30, 6, 4])
    colour = np.array([[0.9, 0.9, 0.9], [0.5, 0.4, 0.3], [0.1, 0.2, 0.3]])[group]
    scene = colour * FIELD(points) * np.exp(rng.normal(0, 0.01, (40, 3)))
    scene[:hidden] *= 0.6
    return LightSamples(points_mm=points, scene=scene, group=group, paper=group == 0)


def stacked(
    design: FloatArray, wanted: FloatArray, weights: FloatArray, std: FloatArray
) -> FloatArray:
    """Least squares of a noise of 0.004, with the first columns pulled to 0 within `std`."""
    root = np.sqrt(weights)[:, None]
    pull = np.zeros((len(std), design.shape[1]))
    pull[:, : len(std)] = np.diag(0.004 / std)
    rows = np.concatenate([design * root, pull])
    values = np.concatenate([wanted * root, np.zeros((len(std), wanted.shape[1]))])
    return np.asarray(np.linalg.lstsq(rows, values, rcond=None)[0])


@pytest.mark.parametrize("hidden", [0, 5])
def test_the_fit_is_the_one_that_the_text_describes(hidden: int) -> None:
    seen = samples(hidden)
    x, y = ((seen.points_mm - [130, 95]) / [130, 95]).T
    groups = np.eye(3)[seen.group]
    quadratic = np.column_stack([x, y, x * x, x * y, y * y, groups])
    logs = np.log(seen.scene)
    mean = logs.mean(axis=1)
    trust = np.where(seen.paper, 10.0, 1.0)
    weights = trust
    for turn in range(8):
        stiff = 0.005 if turn < 4 else 0.3
        std = np.array([1e9, 1e9, stiff, stiff, stiff])
        solution = stacked(quadratic, mean[:, None], weights, std)[:, 0]
        rest = mean - quadratic @ solution
        scale = 0.004 if turn < 4 else robust_scale(rest[seen.paper], 0.004)
        weights = trust * robust_weights(rest, scale, absolute=turn < 4)
    plane = np.column_stack([x, y, groups])
    hue = stacked(plane, logs - mean[:, None], weights, np.full(2, 0.1))
    found = fit_light(seen, 260, 190)
    assert found.level == pytest.approx(solution[:5], abs=1e-5)
    assert found.hue == pytest.approx(hue[:2], abs=1e-5)
    assert found.level == pytest.approx(LEVEL, abs=0.03)
