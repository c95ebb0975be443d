"""What the checks of light, jar and bone say of drawn photographs."""

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest

from greasecheck.measure.bone.look import BoneView, measure_bone
from greasecheck.measure.checks import verdict as quality
from greasecheck.measure.colour.model import ColourModel, fit_colour
from greasecheck.measure.sheet.find import find_sheet
from greasecheck.measure.sight.view import look_at_sight
from greasecheck.measure.water.attenuation import Jar, WaterView, measure_water
from greasecheck.measure.water.reference import ClearPhoto, ClearWater, make_clear_water
from greasecheck.measure.water.surroundings import look_around
from greasecheck.model import BoneState, Bound, Check, Photo
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import nominal_values
from greasecheck.words.photos.checks import check_words
from tests.synthetic.jar_scene import FIELD_MM, JarScene, photograph

SKIN = (0.42, 0.24, 0.16)
BONE = (0.62, 0.55, 0.42)
JAR = (52.0, 100.0, 128.0, 172.0)
MURKY = JarScene(transmittance=(0.7,) * 3, veil=0.14, seed=5)
SHEET = next(one for one in known_sheets() if one.version == 1)


@cache
def reference(light: float = 1.0) -> ClearWater:
    photo = shaded(photograph(JarScene(seed=4)), JAR, (light,) * 3)
    placement = find_sheet(photo)
    colour = fit_colour(photo, placement, nominal_values(placement.geometry))
    sight = look_at_sight(photo, placement, colour)
    seen = ClearPhoto(
        sight=sight,
        sheet_version=1,
        taken_at=photo.taken_at,
        camera=photo.camera,
        name="clear",
        surroundings=look_around(photo, placement, colour, sight),
    )
    return make_clear_water([seen], 60.0)


def look(photo: Photo, clear: ClearWater | None = None) -> tuple[ColourModel, WaterView]:
    placement = find_sheet(photo)
    colour = fit_colour(photo, placement, nominal_values(placement.geometry))
    return colour, measure_water(photo, placement, colour, Jar(clear=clear or reference()))


def names(rows: tuple[Check, ...]) -> set[str]:
    return {row.name for row in rows if not row.passed}


def failed(photo: Photo) -> set[str]:
    colour, view = look(photo)
    rows = quality.water_checks(view, photo.camera, has_reference=True)
    return names((*quality.colour_checks(colour, SHEET), *rows))


def shaded(
    photo: Photo, box: tuple[float, float, float, float], light: tuple[float, float, float]
) -> Photo:
    """Multiply the light of a box given by left, top, right and bottom on the sheet [mm]."""
    scale = photo.pixels.shape[1] / FIELD_MM.width_mm
    left, top, right, bottom = (
        round((value - start) * scale)
        for value, start in zip(box, (FIELD_MM.x_mm, FIELD_MM.y_mm) * 2, strict=True)
    )
    factor = np.ones(photo.pixels.shape)
    factor[top:bottom, left:right] = light
    soft = cv2.GaussianBlur(factor, (0, 0), 3.0)
    device = photo.pixels * soft ** (1 / 2.2)  # near enough to the light of sRGB
    return replace(photo, pixels=np.clip(np.rint(device), 0, 255).astype(np.uint8))


def test_a_usual_photo_raises_no_doubt() -> None:
    assert failed(photograph(MURKY)) == set()


@pytest.mark.parametrize(
    ("box", "light", "name"),
    [
        ((143, 106, 203, 170), (0.85,) * 3, "dry_bars_light_change"),
        (JAR, (0.5,) * 3, "shadow_on_jar"),
        (JAR, (1.3,) * 3, "white_gain_by_water"),
        (JAR, (1.2,) * 3, "bright_depth_of_bars"),
        ((52, 100, 90, 172), (0.6,) * 3, "bar_contrast_lean"),
        ((132, -10, 272, 60), (0.85,) * 3, "paper_light_change"),
        ((132, -10, 272, 60), (0.6,) * 3, "light_misfit"),
        ((-10, 24, 42, 166), (0.92,) * 3, "twin_patches_apart"),
        ((132, -10, 272, 200), (1.0, 0.95, 0.8), "hue_slope"),
    ],
)
def test_light_that_is_not_as_it_was_is_named(
    box: tuple[float, float, float, float], light: tuple[float, float, float], name: str
) -> None:
    assert name in failed(shaded(photograph(MURKY), box, light))


@pytest.mark.parametrize("height_mm", [3, 10, 13])
@pytest.mark.parametrize("code", [(150, 117, 84), (170, 170, 170)])
@pytest.mark.parametrize("scene", [MURKY, JarScene(transmittance=(0.2,) * 3, veil=0.4, seed=5)])
def test_a_band_across_the_fine_bars_is_named(
    scene: JarScene, code: tuple[int, int, int], height_mm: float
) -> None:
    photo = photograph(scene)
    pixels = photo.pixels.copy()
    per_mm = pixels.shape[1] / FIELD_MM.width_mm
    top, left = 124 - height_mm / 2 - FIELD_MM.y_mm, 50 - FIELD_MM.x_mm
    rows = slice(round(top * per_mm), round((top + height_mm) * per_mm))
    pixels[rows, round(left * per_mm) : round((left + 80) * per_mm)] = code
    assert "bar_contrast_step" in failed(replace(photo, pixels=pixels))


@pytest.mark.parametrize("light", [0.8, 0.88, 0.94])
@pytest.mark.parametrize("scene", [MURKY, JarScene(seed=6)])
def test_a_shaded_reference_widens_the_error_by_what_it_may_do(
    light: float, scene: JarScene
) -> None:
    (_, sound), (_, view) = look(photograph(scene)), look(photograph(scene), reference(light))
    if view.reading.bound is Bound.BELOW:
        assert view.reading.main_per_m > sound.reading.main_per_m / 2
    else:
        error = view.reading.main_per_m - sound.reading.main_per_m
        assert abs(error) < 2.5 * view.reading.std_per_m


@pytest.mark.parametrize("light", [0.8, 0.92])
def test_clear_water_tells_that_its_reference_was_shaded(light: float) -> None:
    _, view = look(photograph(JarScene(seed=6)), reference(light))
    rows = quality.water_checks(view, view.clear.camera, has_reference=True)
    texts = [check_words(row) for row in rows if not row.passed]
    assert any("shaded the reference: make a new one" in text for text in texts), texts


def test_a_jar_of_another_depth_is_named() -> None:
    assert "jar_depth_error" in failed(photograph(replace(MURKY, stretch=1.026)))


def framed(photo: Photo) -> Photo:
    """Put bars above and below, as the screenshot of a phone held upright has them."""
    height, width = photo.pixels.shape[:2]
    screen = np.zeros((height + width, width, 3), np.uint8)
    screen[width // 2 : width // 2 + height] = photo.pixels
    return replace(photo, pixels=screen)


def test_a_framed_picture_is_told_from_another_jar() -> None:
    _, view = look(framed(photograph(MURKY)))
    rows = quality.water_checks(view, view.clear.camera, has_reference=True)
    assert any("framed" in check_words(row) for row in rows if not row.passed)


def test_a_sheet_that_fits_worse_than_it_did_is_named() -> None:
    _, view = look(photograph(MURKY))
    worse = replace(view, changes=replace(view.changes, loo_delta_e00=1.5))
    rows = quality.water_checks(worse, view.clear.camera, has_reference=True)
    assert names(rows) == {"loo_delta_e00_change"}


def test_what_a_real_phone_leaves_is_good_and_more_is_doubtful() -> None:
    colour, _ = look(photograph(MURKY))
    phone, faded = (replace(colour.fit, loo_delta_e00=left) for left in (3.6, 4.1))
    assert names(quality.colour_checks(replace(colour, fit=phone), SHEET)) == set()
    assert names(quality.colour_checks(replace(colour, fit=faded), SHEET)) == {"loo_delta_e00"}


def test_a_jar_before_some_of_the_bars_is_no_absent_jar() -> None:
    _, view = look(photograph(JarScene(jar=None, seed=16)))
    wet = replace(view.sight.fine.wet, used_share=0.9)
    partly = replace(view.sight, fine=replace(view.sight.fine, wet=wet))
    assert names(quality.bare_sight_checks(view.sight)) == set()
    assert names(quality.bare_sight_checks(partly)) == {"left_bars_bare"}


def test_bars_that_only_the_fine_field_shows_are_named() -> None:
    _, view = look(photograph(MURKY))
    lost = replace(view.sight.coarse.wet, std=np.ones(3))
    odd = replace(view.sight, coarse=replace(view.sight.coarse, wet=lost))
    rows = quality.water_checks(replace(view, sight=odd), "drawn", has_reference=True)
    assert "coarse_bars_seen_with_fine" in names(rows)


def test_hue_of_the_light_widens_the_error_of_a_bone_beside_the_sheet() -> None:
    plain, _ = look(photograph(MURKY))
    mixed, _ = look(shaded(photograph(MURKY), (132, -10, 272, 200), (1.0, 0.97, 0.9)))
    assert plain.misfit.level < 0.02
    assert plain.misfit.bone_yi_std(1.0) < 1.0
    assert mixed.misfit.bone_yi_std(1.0) > mixed.misfit.bone_yi_std(0.0) > 1.0


def bone_view(rgb: tuple[float, float, float]) -> BoneView:
    photo = photograph(JarScene(bone_lab_rgb=rgb, seed=7))
    placement = find_sheet(photo)
    colour: ColourModel = fit_colour(photo, placement, nominal_values(placement.geometry))
    view = measure_bone(photo, placement, colour, state=BoneState.DRY)
    assert isinstance(view, BoneView)
    return view


def reddish(rgb: tuple[float, float, float]) -> Check:
    rows = quality.bone_checks(bone_view(rgb))
    return next(row for row in rows if row.name == "reddish_share_of_bone")


def test_skin_is_told_from_bone() -> None:
    bone, skin = reddish(BONE), reddish(SKIN)
    assert bone.passed
    assert bone.value == 0
    assert not skin.passed
    assert not skin.hard


def test_a_bone_bluer_than_white_is_doubted() -> None:
    view = bone_view(BONE)
    assert "bone_yi_least" not in names(quality.bone_checks(view))
    blue = replace(view, least_yellow=-0.5)
    rows = quality.bone_checks(blue)
    assert "bone_yi_least" in names(rows)
    assert not any(row.hard for row in rows)


def test_light_that_falls_along_the_sheet_is_found_at_the_bars() -> None:
    fall = 0.3  # of the logarithm of light, over half the field
    photo = photograph(JarScene(jar=None, light=(-fall, 0.0), seed=4))
    placement = find_sheet(photo)
    colour = fit_colour(photo, placement, nominal_values(placement.geometry))
    sight = placement.geometry.sight
    wet, dry = (
        np.mean([box.centre_mm[0] for box in pair])
        for pair in ((sight.wet_fine, sight.wet_coarse), (sight.dry_fine, sight.dry_coarse))
    )
    expected = -fall * (wet - dry) / (FIELD_MM.width_mm / 2)
    seen = look_at_sight(photo, placement, colour)
    found = look_around(photo, placement, colour, seen).light_ratio
    assert found == pytest.approx(expected, abs=0.03)
    assert abs(expected) > 0.1
