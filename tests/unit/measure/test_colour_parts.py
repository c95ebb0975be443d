"""The parts of the colour stage one by one: tone curve, light field, colour map, weights."""

import numpy as np
import pytest

from greasecheck.errors import ColourError
from greasecheck.measure.colour.flatten import settle
from greasecheck.measure.colour.light_field import LightSamples, fit_light
from greasecheck.measure.colour.matrix import fit_matrix
from greasecheck.measure.colour.patches import SheetColours
from greasecheck.measure.colour.tone_curve import fit_tone, identity_tone
from greasecheck.measure.robust import robust_weights
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import PAPER

GREYS = np.geomspace(0.02, 0.85, 9)
SURE = np.full(9, 0.01)


def test_identity_tone_changes_nothing() -> None:
    values = np.array([[0.0, 0.001, 0.3], [0.7, 1.0, 1.2]])
    np.testing.assert_allclose(identity_tone()(values), values, atol=1e-6)


def test_tone_of_a_straight_camera_is_straight() -> None:
    curve = fit_tone(GREYS, 90 * GREYS, SURE)
    np.testing.assert_allclose(curve(GREYS) / GREYS, 1, rtol=1e-3)


def test_tone_is_monotone_whatever_the_neutrals_say() -> None:
    nonsense = np.random.default_rng(0).permutation(GREYS)
    curve = fit_tone(GREYS, nonsense, SURE)
    assert (np.diff(curve(np.linspace(0, 1.4, 300))) > 0).all()


def test_tone_ignores_one_hidden_neutral() -> None:
    seen = np.repeat(GREYS, 2)
    seen[4] *= 0.4
    curve = fit_tone(seen, np.repeat(GREYS, 2), np.repeat(SURE, 2))
    np.testing.assert_allclose(curve(GREYS) / GREYS, curve(GREYS[-1]) / GREYS[-1], rtol=0.03)


def test_tone_is_straighter_the_less_the_neutrals_are_known() -> None:
    bends = []
    for std in (0.01, 0.5):
        curve = fit_tone(GREYS**1.3, GREYS, np.full(9, std))
        bends.append(curve(np.array([0.5])) / curve(np.array([0.1])))
    assert bends[0] < bends[1] < 5


def test_tone_goes_on_sanely_beyond_the_neutrals() -> None:
    curve = fit_tone(GREYS, GREYS, SURE)
    assert float(curve(np.array(0.0))) == 0
    np.testing.assert_allclose(curve(np.array([0.002, 1.1])), [0.002, 1.1], rtol=0.02)
    assert float(curve(np.array(-0.01))) == 0


def greys(linear: float, stems: int) -> SheetColours:
    """As many greys as there are paper windows, all of one value, of a few colours."""
    sheet = known_sheets()[0]
    count = len(sheet.paper_windows)
    return SheetColours(
        names=(PAPER,) * count,
        stems=np.arange(count) % stems,
        xyz=np.full((count, 3), 80.0),
        neutral=np.ones(count, dtype=bool),
        points_mm=np.array([box.centre_mm for box in sheet.paper_windows]),
        linear=np.full((count, 3), linear),
        bright_share=np.zeros(count),
        dark_share=np.zeros(count),
        unseen_share=np.zeros(count),
        usable=np.ones(count, dtype=bool),
        out_of_gamut=np.zeros(count, dtype=bool),
        known=np.ones(count, dtype=bool),
    )


@pytest.mark.parametrize("stems", [1, 2])
def test_greys_that_all_look_alike_give_no_tone(stems: int) -> None:
    seen = greys(0.5, stems)
    with pytest.raises(ColourError, match="greys"):
        settle(seen, seen.usable, known_sheets()[0], measured=True)


def light_samples(hidden: int) -> LightSamples:
    """Paper on a grid under a slope of e^0.4 from left to right, some of it hidden."""
    x, y = np.meshgrid(np.linspace(10, 250, 6), np.linspace(10, 180, 5))
    points = np.column_stack([x.ravel(), y.ravel()])
    scene = 0.7 * np.repeat(np.exp(0.4 * (points[:, :1] - 130) / 260), 3, axis=1)
    scene[:hidden] *= 0.3
    return LightSamples(
        points_mm=points,
        scene=scene,
        group=np.zeros(len(points), np.int64),
        paper=np.ones(len(points), dtype=bool),
    )


@pytest.mark.parametrize("hidden", [0, 6])
def test_light_slope_is_found_though_some_paper_is_hidden(hidden: int) -> None:
    light = fit_light(light_samples(hidden), 260, 190)
    ends = light(np.array([[0.0, 95], [260, 95], [130, 95]]))
    np.testing.assert_allclose(ends[:, 0], np.exp([-0.2, 0.2, 0]), rtol=0.01)


def test_light_goes_on_along_its_tangent_outside_the_sheet() -> None:
    light = fit_light(light_samples(0), 260, 190)
    beside = light(np.array([[260.0, 95], [325, 95], [390, 95]]))[:, 0]
    np.testing.assert_allclose(beside[1] / beside[0], beside[2] / beside[1], rtol=1e-9)


def test_root_terms_are_taken_when_they_help() -> None:
    camera = np.random.default_rng(3).uniform(0.05, 1, (25, 3))
    red, green, blue = camera.T
    xyz = 100 * np.column_stack([red, np.sqrt(red * green), blue])
    fit = fit_matrix(camera, xyz)
    assert fit.order == 2
    assert fit.loo_delta_e00 < 1


def test_a_linear_camera_gets_a_linear_map() -> None:
    camera = np.random.default_rng(4).uniform(0.05, 1, (25, 3))
    mixing = np.array([[41.0, 21, 2], [36, 72, 12], [18, 7, 95]])
    fit = fit_matrix(camera, camera @ mixing)
    assert fit.order == 1
    np.testing.assert_allclose(fit.matrix, mixing, rtol=1e-3, atol=0.02)


@pytest.mark.parametrize("rooted", [False, True])
def test_left_out_predictions_are_those_of_refitting(rooted: bool) -> None:
    """The hat-matrix shortcut against fits that really leave one colour out."""
    rng = np.random.default_rng(5)
    camera = rng.uniform(0.05, 1, (14, 3))
    xyz = 100 * (np.sqrt(camera * np.roll(camera, -1, 1)) if rooted else camera)
    xyz = xyz * rng.normal(1, 0.02, xyz.shape)
    fit = fit_matrix(camera, xyz)
    assert fit.order == (2 if rooted else 1)
    others = np.arange(14) != 6
    again = fit_matrix(camera[others], xyz[others])
    # the ridge scales with the summed weights, which one colour less changes a little
    np.testing.assert_allclose(again(camera[6]), fit.left_out_xyz[6], rtol=0.01)


def test_weights_start_gentle_and_end_hard() -> None:
    residual = np.array([0.0, 0.01, -0.02, 5.0])
    gentle = robust_weights(residual, 0.01, absolute=True)
    hard = robust_weights(residual, 0.01, absolute=False)
    np.testing.assert_allclose(gentle, [1, 1, 0.5, 0.002])
    assert hard[3] < 1e-5
    assert 0.5 < hard[2] < hard[1] < hard[0]
