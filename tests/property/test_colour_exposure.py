"""Scaling the exposure changes no yellowness index."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.measure.colour.matrix import fit_matrix
from greasecheck.measure.colour.model import fit_colour
from tests.synthetic.drawn_photo import Scene, contrasty, draw
from tests.synthetic.spectral_simulation import bone_reflectances, camera_values, xyz_of

COLOURS = np.random.default_rng(8).uniform(0.05, 1, (20, 3))
LINEAR = fit_matrix(COLOURS, 100 * COLOURS)
ROOTED = fit_matrix(COLOURS, 100 * np.sqrt(COLOURS * np.roll(COLOURS, -1, axis=1)))


@settings(deadline=None, max_examples=50)
@given(
    scale=st.floats(1e-3, 1e3),
    rgb=st.tuples(*[st.floats(0.05, 1.0)] * 3),
    order=st.sampled_from([1, 2]),
)
def test_the_map_is_exposure_invariant(
    scale: float, rgb: tuple[float, float, float], order: int
) -> None:
    fit = {1: LINEAR, 2: ROOTED}[order]
    assert fit.order == order
    camera = np.array(rgb)
    before, after = (yellowness_e313(fit(factor * camera)) for factor in (1.0, scale))
    assert float(after) == pytest.approx(float(before), rel=1e-6, abs=1e-6)


@settings(deadline=None, max_examples=8)
@given(exposure=st.floats(0.15, 0.8))
def test_whole_photos_read_alike_at_any_exposure(exposure: float) -> None:
    scene = Scene(exposure=exposure, tone=contrasty, per_mm=2.0)
    photo, placement = draw(scene)
    model = fit_colour(photo, placement, scene.sheet.measured)
    bones = bone_reflectances(10, seed=4)
    light = contrasty(exposure * camera_values(bones, scene.lamp, scene.camera))
    found = yellowness_e313(model.to_xyz(model.scene_linear(light)))
    np.testing.assert_allclose(found, yellowness_e313(xyz_of(bones)), atol=2 * model.bone_yi_std)
