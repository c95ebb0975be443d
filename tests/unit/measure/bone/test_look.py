"""The bone on drawn photos: what is taken for bone, what its colour comes from, what is refused."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.errors import BoneError
from greasecheck.measure.bone.drawing import DrawnBone, Mark
from greasecheck.measure.bone.look import BoneView, measure_bone
from greasecheck.measure.bone.mask import matt_surface
from greasecheck.measure.bone.target import clean_bone
from greasecheck.measure.checks.limits import REDDISH
from greasecheck.measure.colorimetry import lab_from_xyz, yellowness_e313
from greasecheck.measure.colour.model import fit_colour
from greasecheck.measure.sheet.samples import sheet_to_pixels
from greasecheck.model import Absent, BoneState, Box, LeftOutReason, Stroke
from greasecheck.reference import known_sheets
from tests.synthetic.drawn_photo import REST_MARGIN_MM, Scene, bone_map, contrasty, draw
from tests.synthetic.spectral_simulation import (
    WAVELENGTHS_NM,
    bone_reflectances,
    camera_values,
    xyz_of,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray

PER_MM = 2.0
ZONE = known_sheets()[0].rest_zone
ROWS, COLUMNS = round(ZONE.height_mm * PER_MM), round(ZONE.width_mm * PER_MM)
Y_MM, X_MM = (np.indices((ROWS, COLUMNS)) + 0.5) / PER_MM
SKULL = bone_map(PER_MM)


@cache
def bones() -> FloatArray:
    """Reflectances of a clean, a yellow and a dark greasy bone, shape (3, 61)."""
    many = bone_reflectances(200, seed=3)
    order = np.argsort(yellowness_e313(xyz_of(many)))
    return np.stack([many[order[20]], many[order[120]], 0.25 * many[order[180]]])


CLEAN, YELLOW, DARK = 1, 2, 3


def true_yi(kind: int) -> float:
    return float(yellowness_e313(xyz_of(bones()))[kind - 1])


def oval(
    x_mm: float, y_mm: float, half_width_mm: float, half_height_mm: float
) -> NDArray[np.int64]:
    inside = ((X_MM - x_mm) / half_width_mm) ** 2 + ((Y_MM - y_mm) / half_height_mm) ** 2 < 1
    return np.asarray(inside, dtype=np.int64)


def look(
    pixels: NDArray[np.int64],
    outline_mm: FloatArray | None = None,
    marks: tuple[Mark, ...] = (),
    **more: object,
) -> BoneView | Absent:
    scene = replace(Scene(bone=bones(), bone_pixels=pixels, per_mm=PER_MM), **more)  # type: ignore[arg-type]  # the fields of Scene by name
    photo, placement = draw(scene)
    colour = fit_colour(photo, placement, scene.sheet.measured)
    return measure_bone(
        photo,
        placement,
        colour,
        state=BoneState.DRY,
        drawn=DrawnBone(outline_mm=outline_mm, marks=marks),
    )


def seen(
    pixels: NDArray[np.int64],
    outline_mm: FloatArray | None = None,
    marks: tuple[Mark, ...] = (),
    **more: object,
) -> BoneView:
    view = look(pixels, outline_mm, marks, **more)
    assert isinstance(view, BoneView)
    return view


def area_mm2(pixels: NDArray[np.int64]) -> float:
    return float((pixels > 0).sum()) / PER_MM**2


@pytest.mark.parametrize("kind", [CLEAN, YELLOW, DARK])
def test_yellowness_lies_within_two_stated_errors(kind: int) -> None:
    reading = seen(kind * SKULL).reading
    assert reading.yi_e313 == pytest.approx(true_yi(kind), abs=2 * reading.yi_std)
    assert reading.area_mm2 == pytest.approx(area_mm2(SKULL), rel=0.02)
    assert reading.state is BoneState.DRY


def spot(view: BoneView, x_mm: float, y_mm: float) -> tuple[int, int]:
    """Row and column of a view's maps at a place in the zone."""
    from_left, from_top = ZONE.x_mm + x_mm - view.box.x_mm, ZONE.y_mm + y_mm - view.box.y_mm
    return round(from_top * PER_MM), round(from_left * PER_MM)


def test_lab_is_that_of_the_bone_under_the_light_of_the_sheet() -> None:
    lab = seen(CLEAN * SKULL).reading.lab
    np.testing.assert_allclose(lab, lab_from_xyz(xyz_of(bones())[0]), atol=1.0)


def test_the_hole_is_no_bone_and_the_outline_goes_round_it() -> None:
    view = seen(CLEAN * SKULL)
    assert not view.mask[spot(view, 50, 60)]
    low, high = view.outline_mm.min(axis=0), view.outline_mm.max(axis=0)
    np.testing.assert_allclose(low, [ZONE.x_mm + 20, ZONE.y_mm + 15], atol=1)
    np.testing.assert_allclose(high, [ZONE.x_mm + 110, ZONE.y_mm + 135], atol=1)


def test_shading_changes_no_yellowness() -> None:
    slant = np.clip(1 - ((X_MM - 65) / 50) ** 2 - ((Y_MM - 75) / 66) ** 2, 0.12, 1)
    cast = np.where(X_MM > 65, 0.35, 1.0)
    plain = seen(YELLOW * SKULL).reading.yi_e313
    for shade in (slant, cast):
        assert seen(YELLOW * SKULL, shade=shade).reading.yi_e313 == pytest.approx(plain, abs=0.5)


def test_cast_shadow_stays_bone() -> None:
    shade = np.where(X_MM > 65, 0.35, 1.0)
    assert seen(CLEAN * SKULL, shade=shade).reading.area_mm2 == pytest.approx(
        area_mm2(SKULL), rel=0.02
    )


def test_a_deep_cavity_counts_for_no_colour() -> None:
    pixels = CLEAN * SKULL
    pixels[(oval(80, 90, 12, 12) > 0)] = DARK
    shade = np.where(oval(80, 90, 12, 12) > 0, 0.6, 1.0)
    reading = seen(pixels, shade=shade).reading
    assert reading.yi_e313 == pytest.approx(seen(CLEAN * SKULL).reading.yi_e313, abs=0.3)
    assert reading.yellow_patch_share < 0.01


def test_glare_counts_for_no_colour() -> None:
    spots = (oval(75, 60, 4, 4) + oval(60, 100, 3, 6)) > 0
    glare = np.concatenate([bones(), 0.5 * bones()[YELLOW - 1 : YELLOW] + 0.45])
    pixels = np.where(spots, 4, YELLOW) * (SKULL > 0)
    view = seen(pixels, bone=glare)
    assert not view.surface[spot(view, 75, 60)]
    assert view.reading.yi_e313 == pytest.approx(seen(YELLOW * SKULL).reading.yi_e313, abs=0.3)


@pytest.mark.parametrize("side_mm", [10.0, 25.0, 40.0])
def test_share_of_a_yellow_patch(side_mm: float) -> None:
    patch = Box(x_mm=60, y_mm=70, width_mm=side_mm, height_mm=side_mm)
    pixels = bone_map(PER_MM, patch)
    true = float((pixels == YELLOW).sum() / (pixels > 0).sum())
    # the map is smoothed over 1.5 mm, so the patch's edge is known to about half of that
    tolerance = 4 * side_mm * 0.75 / area_mm2(SKULL)
    assert seen(pixels).reading.yellow_patch_share == pytest.approx(true, abs=tolerance)


def test_a_bone_yellow_all_over_is_one_patch_and_a_clean_one_none() -> None:
    assert seen(YELLOW * SKULL).reading.yellow_patch_share > 0.97
    assert seen(CLEAN * SKULL).reading.yellow_patch_share == 0


def test_debris_is_no_bone() -> None:
    crumbs = oval(20, 20, 2.5, 2.5) + oval(110, 130, 2.5, 2.5)
    view = seen(CLEAN * np.maximum(SKULL, crumbs))
    assert len(view.outlines_mm) == 1
    assert view.reading.area_mm2 == pytest.approx(area_mm2(SKULL), rel=0.02)
    [crumbs_out] = view.reading.left_out
    assert (crumbs_out.reason, crumbs_out.count) == (LeftOutReason.CRUMB, 2)
    assert crumbs_out.area_mm2 == pytest.approx(2 * np.pi * 2.5**2, rel=0.2)


def test_skull_and_jaw_are_both_bone() -> None:
    skull, jaw = oval(45, 50, 25, 30), oval(90, 110, 20, 25)
    view = seen(CLEAN * (skull + jaw))
    assert len(view.outlines_mm) == 2
    assert len(view.outlines_mm[0]) > len(view.outlines_mm[1])
    areas = [piece.area_mm2 for piece in view.reading.pieces]
    assert areas == pytest.approx([area_mm2(skull), area_mm2(jaw)], rel=0.02)


def test_the_outline_is_told_in_pixels_of_the_photo_with_its_hole() -> None:
    [piece] = seen(CLEAN * SKULL).reading.pieces
    _, placement = draw(Scene(bone=bones(), bone_pixels=SKULL, per_mm=PER_MM))
    outline = np.array(piece.outline_px).min(axis=0)
    [found] = piece.holes_px
    shown = np.stack([outline, np.mean(found, axis=0)])
    places = np.array([[20.0, 15], [50, 60]]) + np.array([ZONE.x_mm, ZONE.y_mm])
    expected = sheet_to_pixels(placement, places)
    np.testing.assert_allclose(shown, expected, atol=2 * placement.pixels_per_mm)


def test_small_and_thin_bones_are_found() -> None:
    mouse = oval(65, 75, 14, 7)
    antler = ((np.abs(X_MM - 60 - 0.3 * (Y_MM - 75)) < 2.5) & (np.abs(Y_MM - 80) < 50)).astype(int)
    for kind, pixels in ((CLEAN, mouse), (DARK, antler)):
        reading = seen(kind * pixels).reading
        assert reading.area_mm2 == pytest.approx(area_mm2(pixels), rel=0.05)
        assert reading.yi_e313 == pytest.approx(true_yi(kind), abs=2 * reading.yi_std)


def test_an_empty_rest_and_one_out_of_view_are_named() -> None:
    assert look(0 * SKULL) is Absent.BONE
    photo, placement = draw(Scene(bone=bones(), bone_pixels=SKULL, per_mm=PER_MM))
    colour = fit_colour(photo, placement, Scene().sheet.measured)
    cut = replace(photo, pixels=photo.pixels[:, : round(290 * PER_MM)])
    found = measure_bone(cut, placement, colour, state=BoneState.WET)
    assert found is Absent.REST


def test_refuses_a_bone_cut_off_by_the_pictures_edge() -> None:
    photo, placement = draw(Scene(bone=bones(), bone_pixels=SKULL, per_mm=PER_MM))
    colour = fit_colour(photo, placement, Scene().sheet.measured)
    cut = replace(photo, pixels=photo.pixels[:, : round(350 * PER_MM)])
    with pytest.raises(BoneError, match="runs out of the picture"):
        measure_bone(cut, placement, colour, state=BoneState.DRY)


def blue() -> FloatArray:
    """Reflectance of a bluish thing, shape (1, 61)."""
    return np.where(np.arange(61) < 20, 0.9, 0.3)[np.newaxis]


def test_things_of_other_colours_are_no_bone() -> None:
    assert look(SKULL, bone=blue()) is Absent.BONE_COLOUR


def test_a_pale_background_that_comes_in_from_above_is_refused() -> None:
    shelf = (Y_MM < 40).astype(np.int64)
    for pixels in (shelf, np.maximum(shelf, oval(70, 110, 30, 30))):
        with pytest.raises(BoneError, match="over the edge of the rest"):
            look(CLEAN * pixels)


def test_a_coloured_background_that_comes_in_from_above_is_left_out_and_named() -> None:
    shelf = (Y_MM < 40).astype(np.int64)
    pixels = 4 * shelf + CLEAN * oval(70, 110, 30, 30)
    reading = seen(pixels, bone=np.concatenate([bones(), blue()])).reading
    assert reading.area_mm2 == pytest.approx(area_mm2(oval(70, 110, 30, 30)), rel=0.02)
    [out] = reading.left_out
    assert (out.reason, out.count) == (LeftOutReason.AT_EDGE, 1)


def over_the_edge(pixels: NDArray[np.int64]) -> BoneView | Absent:
    """Look at a bone on a map of the zone with a margin of 6 mm."""
    return look(pixels, bone_margin_mm=REST_MARGIN_MM)


def wide_oval(
    x_mm: float, y_mm: float, half_width_mm: float, half_height_mm: float
) -> NDArray[np.int64]:
    """An oval on that map, in coordinates of the zone."""
    rows, columns = (round((side + 2 * REST_MARGIN_MM) * PER_MM) for side in (150, 130))
    y, x = (np.indices((rows, columns)) + 0.5) / PER_MM - REST_MARGIN_MM
    inside = ((x - x_mm) / half_width_mm) ** 2 + ((y - y_mm) / half_height_mm) ** 2 < 1
    return np.asarray(inside, dtype=np.int64)


@pytest.mark.parametrize("length_mm", [165.0, 180.0, 200.0])
@pytest.mark.parametrize("kind", [CLEAN, DARK])
def test_refuses_a_skull_that_is_larger_than_the_rest(length_mm: float, kind: int) -> None:
    with pytest.raises(BoneError, match="over the edge of the rest"):
        over_the_edge(kind * wide_oval(70, 75, length_mm / 3, length_mm / 2))


def test_a_skull_that_ends_just_beyond_the_zone_is_measured_whole() -> None:
    skull = wide_oval(70, 75, 51, 76.5)
    view = over_the_edge(CLEAN * skull)
    assert isinstance(view, BoneView)
    assert view.reading.area_mm2 == pytest.approx(area_mm2(skull), rel=0.01)


@pytest.mark.parametrize("kind", [CLEAN, DARK])
def test_a_skull_that_hides_the_rest_is_not_taken_for_an_empty_rest(kind: int) -> None:
    assert look(kind * oval(65, 75, 150, 200)) is Absent.DARK_REST


@pytest.mark.parametrize("side", ["left", "right", "top", "bottom"])
def test_refuses_a_bone_that_reaches_over_any_edge_of_the_rest(side: str) -> None:
    x, y = {"left": (24, 75), "right": (115, 75), "top": (70, 15), "bottom": (70, 135)}[side]
    with pytest.raises(BoneError, match="over the edge of the rest"):
        over_the_edge(CLEAN * wide_oval(x, y, 21, 21))


def test_a_light_background_without_bone_is_named() -> None:
    assert look(0 * SKULL, rest=0.4) is Absent.DARK_REST


def test_refuses_a_light_rest() -> None:
    with pytest.raises(BoneError, match="not dark"):
        look(CLEAN * SKULL, rest=0.4)


def test_refuses_a_burnt_out_bone() -> None:
    with pytest.raises(BoneError, match="burnt out"):
        look(CLEAN * SKULL, shade=np.full(SKULL.shape, 2.5))


def test_a_hand_drawn_outline_is_taken_as_it_is() -> None:
    corner = np.array([ZONE.x_mm, ZONE.y_mm])
    outline = corner + np.array([[50.0, 90], [80, 90], [80, 110], [50, 110]])
    view = seen(CLEAN * SKULL, outline)
    assert view.reading.area_mm2 == pytest.approx(600, rel=0.05)
    assert view.reading.yi_e313 == pytest.approx(true_yi(CLEAN), abs=2 * view.reading.yi_std)


def mark(stroke: Stroke, *places: tuple[float, float]) -> Mark:
    """Return a mark at places of the rest [mm]."""
    return Mark(stroke=stroke, places_mm=np.array(places) + np.array([ZONE.x_mm, ZONE.y_mm]))


def test_a_loop_leaves_out_and_a_tap_takes_a_piece_out_and_in_again() -> None:
    skull, jaw = oval(45, 50, 25, 30), oval(90, 110, 20, 25)
    both = CLEAN * skull + YELLOW * jaw
    loop = mark(Stroke.LEAVE_OUT, (65, 80), (115, 80), (115, 140), (65, 140))
    tap = mark(Stroke.TAP, (90, 110))
    for one in (loop, tap):
        view = seen(both, marks=(one,))
        assert view.reading.area_mm2 == pytest.approx(area_mm2(skull), rel=0.02)
        assert view.reading.yellow_patch_share == 0
        [drawn] = view.reading.left_out
        assert drawn.reason is LeftOutReason.DRAWN
        assert drawn.area_mm2 == pytest.approx(area_mm2(jaw), rel=0.02)
    for marks in ((tap, tap), (loop, tap), (mark(Stroke.TAP, (2, 2)),)):
        assert seen(both, marks=marks).reading.area_mm2 == pytest.approx(
            area_mm2(skull) + area_mm2(jaw), rel=0.02
        )
    assert look(CLEAN * jaw, marks=(tap,)) is Absent.BONE


def test_refuses_an_outline_around_nothing() -> None:
    point = np.array([[ZONE.x_mm + 60, ZONE.y_mm + 90]] * 3)
    with pytest.raises(BoneError, match="encloses next to nothing"):
        look(CLEAN * SKULL, point)


def test_refuses_a_bone_of_which_only_the_rim_is_lit() -> None:
    bone = np.zeros((40, 60), dtype=np.bool_)
    bone[10:30, 10:50] = True
    luminance = np.where(bone, 60.0, 2.0)
    luminance[13:27, 13:47] = 8.0
    with pytest.raises(BoneError, match="rim"):
        matt_surface(bone, luminance, np.full(bone.shape, 20.0), per_mm=3.0)


def test_paper_reaching_into_the_rest_zone_is_no_bone() -> None:
    pixels = CLEAN * SKULL
    pixels[:, : round(6.5 * PER_MM)] = 4
    view = seen(pixels, bone=np.concatenate([bones(), np.full((1, 61), 0.88)]))
    assert view.reading.area_mm2 == pytest.approx(area_mm2(SKULL), rel=0.02)


def test_reads_alike_through_a_makers_tone_curve() -> None:
    plain, curved = (seen(YELLOW * SKULL, tone=tone).reading for tone in (Scene().tone, contrasty))
    assert plain.yi_e313 == pytest.approx(curved.yi_e313, abs=0.5)


def test_clean_bone_is_ivory() -> None:
    target = clean_bone()
    np.testing.assert_allclose(lab_from_xyz(target.xyz), [86, 1, 11], atol=0.01)
    assert 15 < float(yellowness_e313(target.xyz)) < 25


@pytest.mark.parametrize(
    ("own", "expected"),
    [(5.0, "least"), (24.0, "own"), (60.0, "most")],
)
def test_yellow_limit_follows_the_bone_between_its_bounds(own: float, expected: str) -> None:
    target = clean_bone()
    clean = float(yellowness_e313(target.xyz))
    limits = {
        "least": clean + target.yi_least_margin,
        "own": own + target.yi_own_contrast,
        "most": clean + target.yi_most_margin,
    }
    assert target.yellow_limit(np.full(100, own)) == pytest.approx(limits[expected])


def test_colours_drawn_are_the_colours_meant() -> None:
    values = camera_values(bones(), "D65", "invented phone")
    assert (np.diff(values[0]) < 0).all()  # bone reflects more red than blue


def blood(level: float) -> FloatArray:
    """Reflectance as of dried blood: red light alone."""
    return level * np.where(WAVELENGTHS_NM > 600, 1.0, 0.06)


@pytest.mark.parametrize("level", [0.12, 0.3])
def test_blood_that_is_as_dark_as_a_hole_is_left_out_and_doubted(level: float) -> None:
    whole, blot = CLEAN * oval(65, 75, 40, 25), oval(65, 75, 10, 10)
    view = seen(np.where(blot > 0, 4, whole), bone=np.vstack([bones(), blood(level)]))
    (left_out,) = view.reading.left_out
    assert (left_out.reason, left_out.count) == (LeftOutReason.REDDISH, 1)
    assert left_out.area_mm2 == pytest.approx(area_mm2(blot), rel=0.1)
    assert view.reddish_share > REDDISH.doubtful
    assert seen(whole).reddish_share == 0


def test_a_hole_that_shows_the_rest_is_no_blood() -> None:
    hole = oval(65, 75, 10, 10) > 0
    view = seen(np.where(hole, 0, CLEAN * oval(65, 75, 40, 25)))
    assert view.reddish_share == 0
    assert view.reading.left_out == ()
