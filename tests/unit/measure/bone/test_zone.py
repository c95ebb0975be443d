"""Where the rest zone lies, and when a bone in it cannot be read, from both sides of each limit."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.errors import BoneError
from greasecheck.measure.bone.look import _bone_pieces, _lightness
from greasecheck.measure.bone.pieces import bone_pieces
from greasecheck.measure.bone.target import clean_bone
from greasecheck.measure.bone.zone import (
    Zone,
    close_up,
    fill_outline,
    half_sheets_beyond,
    inside_rest,
    look_at_rest,
    refuse_cut_off,
    refuse_unreadable,
    zone_mm,
)
from greasecheck.measure.colour.model import fit_colour
from greasecheck.model import Box
from tests.synthetic.drawn_photo import Scene, draw

if TYPE_CHECKING:
    from greasecheck.model import BoolArray, FloatArray, Placement

PER_MM = 2.0
ROWS, COLUMNS = 80, 120


def zone(x_mm: float = 100.0, y_mm: float = 50.0) -> Zone:
    seen = np.ones((ROWS, COLUMNS), dtype=np.bool_)
    box = Box(x_mm=x_mm, y_mm=y_mm, width_mm=COLUMNS / PER_MM, height_mm=ROWS / PER_MM)
    return Zone(box=box, per_mm=PER_MM, seen=seen, unclipped=seen, xyz=np.ones((ROWS, COLUMNS, 3)))


def block(top: int, left: int, rows: int, columns: int) -> BoolArray:
    mask = np.zeros((ROWS, COLUMNS), dtype=np.bool_)
    mask[top : top + rows, left : left + columns] = True
    return mask


@pytest.fixture(name="placement", scope="module")
def fixture_placement() -> Placement:
    return draw(Scene())[1]


def test_the_rest_is_looked_at_with_a_strip_around_but_not_where_paper_may_lie() -> None:
    photo, placement = draw(Scene())
    colour = fit_colour(photo, placement, Scene().sheet.measured)
    geometry = placement.geometry
    rest, found = geometry.rest_zone, look_at_rest(photo, placement, colour, None)
    paper_end = geometry.width_mm + 20.0  # an A4 sheet is so much wider than the print
    assert rest.x_mm < paper_end
    assert found.box.x_mm == pytest.approx(paper_end - 1.0)
    assert found.box.x_mm + found.box.width_mm == pytest.approx(rest.x_mm + rest.width_mm + 4.0)
    assert found.box.y_mm == pytest.approx(rest.y_mm - 4.0)
    assert found.box.height_mm == pytest.approx(rest.height_mm + 8.0)
    assert found.per_mm == min(2.0, placement.pixels_per_mm)
    inner = inside_rest(found, placement)
    assert inner.sum() / found.per_mm**2 == pytest.approx(
        (rest.x_mm + rest.width_mm - paper_end) * rest.height_mm, rel=0.01
    )
    rows, columns = np.flatnonzero(inner.any(axis=1)), np.flatnonzero(inner.any(axis=0))
    assert rows[0] == pytest.approx(4.0 * found.per_mm, abs=1)
    assert columns[0] == pytest.approx(1.0 * found.per_mm, abs=1)
    drawn = look_at_rest(
        photo, placement, colour, np.array([[300.0, 60.0], [330.0, 70.0], [310.0, 100.0]])
    )
    assert (drawn.box.x_mm, drawn.box.y_mm) == (300.0, 60.0)
    assert (drawn.box.width_mm, drawn.box.height_mm) == (30.0, 40.0)


def test_samples_and_millimetres_go_into_each_other() -> None:
    places = zone_mm(zone(), np.array([[0.0, 0.0], [119.0, 79.0]]))
    assert places == pytest.approx(np.array([[100.25, 50.25], [159.75, 89.75]]))
    outline = np.array([[110.25, 60.25], [120.25, 60.25], [120.25, 65.25], [110.25, 65.25]])
    filled = fill_outline(outline, zone())
    assert np.flatnonzero(filled.any(axis=0))[[0, -1]].tolist() == [20, 40]
    assert np.flatnonzero(filled.any(axis=1))[[0, -1]].tolist() == [20, 30]


def test_how_far_the_zone_lies_beyond_the_sheet(placement: Placement) -> None:
    width = placement.geometry.width_mm
    centred = zone(x_mm=1.25 * width - 30)  # its middle at five quarters of the width
    assert half_sheets_beyond(centred, placement) == pytest.approx(0.5)
    assert half_sheets_beyond(zone(x_mm=0.0), placement) == 0


@pytest.mark.parametrize(("pixels", "is_enough"), [(39, False), (41, True)])
def test_an_outline_encloses_10_mm2(pixels: int, is_enough: bool) -> None:
    mask = block(10, 10, 1, pixels)
    if is_enough:
        refuse_unreadable(zone(), mask)
        return
    with pytest.raises(BoneError, match="next to nothing"):
        refuse_unreadable(zone(), mask)


@pytest.mark.parametrize(("clipped_rows", "is_fine"), [(49, True), (51, False)])
def test_half_of_a_bone_may_be_clipped(clipped_rows: int, is_fine: bool) -> None:
    mask = block(0, 0, 80, 100)
    clipped = np.zeros_like(mask)
    clipped[:, :clipped_rows] = True
    looked = replace(zone(), unclipped=~clipped)
    if is_fine:
        refuse_unreadable(looked, mask)
        return
    with pytest.raises(BoneError, match="burnt out"):
        refuse_unreadable(looked, mask)


@pytest.mark.parametrize(("rows", "is_fine"), [(8, True), (9, False)])
def test_a_bone_meets_the_picture_s_edge_over_5_mm_at_most(rows: int, is_fine: bool) -> None:
    # grown by one sample on each side: rows + 2 samples of half a millimetre
    seen = np.ones((ROWS, COLUMNS), dtype=np.bool_)
    seen[:, 60:] = False
    mask = block(20, 30, rows, 30)
    if is_fine:
        refuse_cut_off(replace(zone(), seen=seen), mask)
        return
    with pytest.raises(BoneError, match="out of the picture"):
        refuse_cut_off(replace(zone(), seen=seen), mask)


def test_the_zone_is_cut_to_the_bone_and_8_mm_around() -> None:
    whole = zone()
    cut, mask = close_up(whole, block(30, 50, 10, 20))
    assert mask.shape == (10 + 2 * 17, 20 + 2 * 17)
    assert (cut.box.x_mm, cut.box.y_mm) == pytest.approx((100 + 33 / 2, 50 + 13 / 2))
    assert (cut.box.width_mm, cut.box.height_mm) == pytest.approx((54 / 2, 44 / 2))
    assert mask.sum() == 200
    assert cut.xyz.shape[:2] == mask.shape
    corner, _ = close_up(whole, block(0, 0, 10, 20))
    assert (corner.box.x_mm, corner.box.y_mm) == (100.0, 50.0)


def test_a_yellow_spot_is_so_much_yellower_than_the_bone_s_own_cleanest_tenth() -> None:
    target = clean_bone()
    assert (target.yi_least_margin, target.yi_own_contrast, target.yi_most_margin) == (10, 12, 18)
    clean = target.yellow_limit(np.zeros(10)) - 10
    own = np.concatenate([np.full(11, clean + 1.0), np.full(89, clean + 40.0)])
    assert target.yellow_limit(own) == pytest.approx(clean + 13)
    assert target.yellow_limit(np.full(10, 90.0)) == pytest.approx(clean + 18)


def test_pieces_are_traced_through_the_rims_of_their_samples() -> None:
    bone = block(10, 20, 20, 30)
    bone[15:20, 30:36] = False  # a hole
    bone[60:64, 60:70] = True

    def to_px(places: FloatArray) -> FloatArray:
        return np.asarray(10 * places + 1 / 3)

    large, small = bone_pieces(bone, np.full(bone.shape, 0.25), to_px)
    assert (large.area_mm2, small.area_mm2) == pytest.approx((0.25 * 570, 0.25 * 40))
    low, high = np.array(large.outline_px).min(axis=0), np.array(large.outline_px).max(axis=0)
    # a trace on thirds of a sample runs a sixth of a sample inside the rim, to a tenth of a pixel
    assert low == pytest.approx([10 * (20 - 1 / 3) + 1 / 3, 10 * (10 - 1 / 3) + 1 / 3], abs=0.06)
    assert high == pytest.approx([10 * (49 + 1 / 3) + 1 / 3, 10 * (29 + 1 / 3) + 1 / 3], abs=0.06)
    assert all(round(value, 1) == value for point in large.outline_px for value in point)
    assert any(value % 1 for point in large.outline_px for value in point)
    (hole,) = large.holes_px
    assert np.array(hole).min(axis=0) == pytest.approx([297.0, 147.0], abs=4.0)
    assert small.holes_px == ()


def test_an_outline_is_in_pixels_of_the_whole_photo_whatever_was_decoded(
    placement: Placement,
) -> None:
    bone = block(10, 20, 20, 30)
    whole, reduced = (_bone_pieces(zone(), bone, placement, by)[0] for by in (1, 4))
    # the middle of a pixel of the reduced photo is that of four by four pixels
    assert np.array(reduced.outline_px) == pytest.approx(
        (np.array(whole.outline_px) + 0.5) * 4 - 0.5, abs=0.3
    )
    assert whole.area_mm2 == pytest.approx(600 / PER_MM**2)


def test_lightness_is_cielab_s_by_the_cube_root() -> None:
    xyz = np.array([[9.0, 100.0, 9.0], [9.0, 18.4187, 9.0], [9.0, 12.5, 9.0]])
    assert _lightness(xyz) == pytest.approx([100.0, 50.0, 42.0], abs=1e-3)


def test_a_traced_outline_strays_by_half_a_sample() -> None:
    row, column = np.indices((ROWS, COLUMNS))
    disc = (row - 40) ** 2 + (column - 60) ** 2 <= 30**2
    (piece,) = bone_pieces(disc, np.ones(disc.shape), lambda places: places)
    corners = np.array(piece.outline_px)
    along = np.concatenate(
        [np.linspace(a, b, 20) for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)]
    )
    radius = np.hypot(along[:, 0] - 60, along[:, 1] - 40)
    assert radius.min() > 30 - 1.2
    assert radius.max() < 30 + 1.0
