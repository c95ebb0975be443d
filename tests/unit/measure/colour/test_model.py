"""The colour stage on drawn photos: what it recovers, what it leaves out, what it refuses."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.errors import ColourError
from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.measure.colour.model import ColourModel, fit_colour
from greasecheck.model import Box
from greasecheck.reference import known_sheets
from greasecheck.reference.cie import WHITES, lab_to_xyz
from tests.synthetic.drawn_photo import Scene, contrasty, draw, even, near_lamp
from tests.synthetic.spectral_simulation import camera_values

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

SHEET = known_sheets()[0]
CENTRE = np.array([[SHEET.width_mm / 2, SHEET.height_mm / 2]])


def fit(scene: Scene, *, measured: bool = True) -> ColourModel:
    photo, placement = draw(scene)
    return fit_colour(photo, placement, scene.sheet.measured if measured else scene.sheet.nominal)


def test_paper_at_the_centre_is_one_in_scene_light() -> None:
    scene = Scene(tone=contrasty)
    model = fit(scene)
    paper = camera_values(scene.sheet.of("paper")[None], scene.lamp, scene.camera)
    device_linear = contrasty(scene.exposure * paper)
    np.testing.assert_allclose(model.scene_linear(device_linear), 1, atol=0.01)
    np.testing.assert_allclose(model.illuminance(CENTRE), 1, atol=1e-12)


@pytest.mark.parametrize("light", [0.05, 0.1, 0.2, 0.4, 0.7])
def test_undoes_the_makers_tone_curve(light: float) -> None:
    scene = Scene(tone=contrasty)
    model = fit(scene)
    grey = np.full(3, light) * scene.exposure
    white = np.full(3, 0.85) * scene.exposure
    ratio = model.scene_linear(contrasty(grey)) / model.scene_linear(contrasty(white))
    np.testing.assert_allclose(ratio, light / 0.85, rtol=0.03)


def test_finds_the_light_of_a_near_lamp_on_the_sheet_and_a_little_beside_it() -> None:
    model = fit(Scene(light=near_lamp, exposure=0.55))
    points = np.array([[10.0, 10], [250, 10], [250, 180], [10, 180], [130, 40]])
    true = near_lamp(points) / near_lamp(CENTRE)
    np.testing.assert_allclose(model.illuminance(points), np.repeat(true, 3, 1), rtol=0.03)
    beside = np.array([[330.0, 120]])
    np.testing.assert_allclose(
        model.illuminance(beside).mean(), near_lamp(beside) / near_lamp(CENTRE), rtol=0.12
    )


def test_finds_light_whose_colour_slopes() -> None:
    def sloping(points_mm: FloatArray) -> FloatArray:
        half_sheets = (points_mm[:, :1] - CENTRE[0, 0]) / 130
        return np.asarray(np.exp(half_sheets * np.array([0.10, 0.0, -0.10])))

    model = fit(Scene(light=sloping, exposure=0.6))
    ends = np.array([[15.0, 95], [245, 95]])
    np.testing.assert_allclose(model.illuminance(ends), sloping(ends), rtol=0.02)


def test_measured_values_are_absolute_and_nominal_ones_card_relative() -> None:
    assert fit(Scene()).fit.absolute
    assert not fit(Scene(), measured=False).fit.absolute


def test_states_larger_error_with_nominal_values() -> None:
    measured, nominal = fit(Scene()), fit(Scene(), measured=False)
    assert measured.bone_yi_std < 2 < nominal.bone_yi_std
    assert measured.fit.loo_delta_e00 < 1.5 < nominal.fit.loo_delta_e00


def test_even_light_has_no_gradient_and_a_near_lamp_has() -> None:
    assert fit(Scene(light=even)).fit.gradient_ratio == pytest.approx(1, abs=0.03)
    assert fit(Scene(light=near_lamp, exposure=0.55)).fit.gradient_ratio > 1.4


def test_names_the_patches_that_a_finger_hides_and_fits_without_them() -> None:
    hidden = ("N2a", "B6b")
    scene = Scene(covered=tuple(SHEET.patches[name].inset(-1) for name in hidden))
    model, clear = fit(scene), fit(replace(scene, covered=()))
    assert set(hidden) <= set(model.dropped)
    assert not set(hidden) & set(clear.dropped)
    bone_tone = np.array([0.75, 0.7, 0.6])
    np.testing.assert_allclose(model.to_xyz(bone_tone), clear.to_xyz(bone_tone), rtol=0.02)


def test_a_shadow_on_some_paper_does_not_move_the_light() -> None:
    shadow = Box(x_mm=190, y_mm=24, width_mm=13, height_mm=40)
    scene = Scene(covered=(shadow,))
    np.testing.assert_allclose(fit(scene).illuminance(CENTRE + 60), 1, atol=0.03)


def test_a_vivid_patch_outside_the_gamut_is_left_out_unnamed() -> None:
    photo, placement = draw(Scene(noise=0))
    x, y = (round(value) for value in _pixel_centre(placement.homography, SHEET.patches["C5"]))
    pixels = photo.pixels.copy()
    pixels[y - 20 : y + 20, x - 22 : x + 22, 0] = 0
    model = fit_colour(replace(photo, pixels=pixels), placement, Scene().sheet.measured)
    assert "C5" not in model.dropped
    assert model.fit.clipped_share == 0


def test_patches_outside_the_photo_are_named() -> None:
    photo, placement = draw(Scene())
    cut = replace(photo, pixels=photo.pixels[:, : round(238 * 3.0 + 14 * 3)])
    model = fit_colour(cut, placement, Scene().sheet.measured)
    assert "C1" in model.dropped
    assert "N1a" not in model.dropped


@pytest.mark.parametrize(("exposure", "cause"), [(3.0, "overexposed"), (0.0005, "too dark")])
def test_refuses_a_badly_exposed_photo_and_says_why(exposure: float, cause: str) -> None:
    with pytest.raises(ColourError) as refusal:
        fit(Scene(exposure=exposure, noise=0))
    assert cause in refusal.value.hint


def test_refuses_a_sheet_mostly_out_of_view() -> None:
    photo, placement = draw(Scene())
    cut = replace(photo, pixels=photo.pixels[:, :90])
    with pytest.raises(ColourError, match="colours of the sheet") as refusal:
        fit_colour(cut, placement, Scene().sheet.measured)
    assert "whole sheet in view" in refusal.value.hint


def test_the_papers_colour_need_not_be_known() -> None:
    photo, placement = draw(Scene())
    values = Scene().sheet.measured
    patches = [name != "paper" for name in values.names]
    without = replace(
        values,
        names=tuple(name for name in values.names if name != "paper"),
        xyz=values.xyz[patches],
    )
    fitted = fit_colour(photo, placement, without)
    assert fitted.fit.loo_delta_e00 < 1.5


def test_reads_sixteen_bit_photos_like_eight_bit_ones() -> None:
    photo, placement = draw(Scene())
    deep = replace(photo, pixels=photo.pixels.astype(np.uint16) * 257)
    values = Scene().sheet.measured
    eight, sixteen = fit_colour(photo, placement, values), fit_colour(deep, placement, values)
    bone_tone = np.array([0.75, 0.7, 0.6])
    np.testing.assert_allclose(eight.to_xyz(bone_tone), sixteen.to_xyz(bone_tone), rtol=0.005)


@pytest.mark.parametrize("per_mm", [1.2, 8.0])
def test_works_from_small_to_large_photos(per_mm: float) -> None:
    model = fit(Scene(per_mm=per_mm, tone=contrasty))
    assert model.fit.loo_delta_e00 < 1.5
    assert model.dropped == ()


def _pixel_centre(homography: FloatArray, box: Box) -> tuple[float, float]:
    x, y, scale = homography @ np.array([*box.centre_mm, 1])
    return float(x / scale), float(y / scale)


@pytest.mark.parametrize("level", [0.6, 0.75, 1.1])
def test_a_wrong_colour_of_the_paper_bends_nothing(level: float) -> None:
    scene = Scene(tone=contrasty)
    photo, placement = draw(scene)
    values = scene.sheet.measured
    xyz = values.xyz.copy()
    xyz[values.names.index("paper")] *= level / 0.85
    right, wrong = (fit_colour(photo, placement, one) for one in (values, replace(values, xyz=xyz)))
    bone = contrasty(scene.exposure * np.array([[0.5, 0.42, 0.28]]))
    found = [model.to_xyz(model.scene_linear(bone))[0] for model in (right, wrong)]
    assert yellowness_e313(found[1]) == pytest.approx(yellowness_e313(found[0]), abs=1.0)


def on_luminance(light: FloatArray) -> FloatArray:
    """The maker's curve put on the luminance, so that hue and saturation stay."""
    luminance = np.maximum(light @ np.array([0.2126, 0.7152, 0.0722]), 1e-6)[..., None]
    return np.asarray(light * contrasty(luminance) / luminance)


def test_tells_a_curve_on_the_luminance_from_one_on_each_channel() -> None:
    each, together = (fit(Scene(tone=tone, noise=0.003)) for tone in (contrasty, on_luminance))
    assert each.even.tone.luminance_share < 0.3
    assert together.even.tone.luminance_share > 0.6
    assert together.fit.loo_delta_e00 < 1.0


def test_the_stated_error_grows_with_chroma() -> None:
    model = fit(Scene(tone=contrasty))
    ivory, greasy = (lab_to_xyz(np.array([[75.0, 2.0, b]]), WHITES["D65"])[0] for b in (5.0, 45.0))
    assert model.yi_std(ivory) < model.yi_std(greasy)
