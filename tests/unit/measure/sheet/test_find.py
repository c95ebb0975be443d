from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greasecheck.errors import DataFileError, SheetError
from greasecheck.measure.sheet.find import find_sheet
from greasecheck.measure.sheet.lens import project
from greasecheck.measure.sheet.pose import box_corners
from greasecheck.model import Box, Lens, Photo, SheetGeometry
from greasecheck.reference import known_sheets
from tests.synthetic.pictures import bare_corners, scattered_markers
from tests.synthetic.views import (
    FloatArray,
    Pixels,
    Setting,
    View,
    clutter,
    draw_marker,
    photo_of,
    render,
)

PLAIN = Setting(
    size_px=(1200, 900),
    focal_px=1000,
    tilt_deg=12,
    tilt_axis_deg=60,
    roll_deg=4,
    width_share=0.6,
    noise=1.5,
)
SQUARE = replace(PLAIN, tilt_deg=0, roll_deg=0)
SHEET = known_sheets()[0]
CORNERS = box_corners(Box(x_mm=0, y_mm=0, width_mm=SHEET.width_mm, height_mm=SHEET.height_mm))


def pixels_of(view: View) -> Pixels:
    return np.asarray(view.photo.pixels, dtype=np.uint8)


def with_pixels(view: View, pixels: Pixels) -> Photo:
    return replace(view.photo, pixels=np.ascontiguousarray(pixels))


def refusal(photo: Photo, lens: Lens | None = None, sheets: Sequence[SheetGeometry] = ()) -> str:
    with pytest.raises(SheetError) as refused:
        find_sheet(photo, lens, sheets)
    assert refused.value.hint
    return refused.value.problem


def paste_marker(view: View, number: int, centre_mm: tuple[float, float], side_mm: float) -> Photo:
    """The photo of a square-on view with a marker, in its white gap, laid over it."""
    pixels = pixels_of(view).copy()
    for side, draw in ((side_mm + 6, False), (side_mm, True)):
        x, y = np.array(centre_mm) - side / 2
        box = box_corners(Box(x_mm=x, y_mm=y, width_mm=side, height_mm=side))
        (left, top), _, (right, bottom), _ = project(view.homography, None, box).round().astype(int)
        if draw:
            draw_marker(pixels[top:bottom, left:right], number)
        else:
            pixels[top:bottom, left:right] = 220
    return with_pixels(view, pixels)


@pytest.fixture(scope="module")
def plain() -> View:
    return render(PLAIN)


@pytest.fixture(scope="module")
def square() -> View:
    return render(SQUARE)


def test_places_the_sheet_where_it_is(plain: View) -> None:
    found = find_sheet(plain.photo)
    assert plain.error_mm(found.homography, found.lens).max() < 0.05
    assert found.marker_ids == (0, 1, 2, 3, 4)
    assert found.tub == PLAIN.tub
    assert found.tag_scale == pytest.approx(1, abs=0.01)
    assert found.tilt_deg == pytest.approx(PLAIN.tilt_deg, abs=0.5)
    assert found.residual_px < 0.2
    assert found.lens is None


def test_scale_is_the_root_of_the_area_ratio(square: View) -> None:
    expected = SQUARE.width_share * SQUARE.size_px[0] / SHEET.width_mm
    assert find_sheet(square.photo).pixels_per_mm == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("hidden", [0, 1, 2, 3])
def test_does_without_one_corner_marker(hidden: int) -> None:
    view = render(replace(PLAIN, hidden=hidden))
    found = find_sheet(view.photo)
    assert found.marker_ids == tuple(number for number in range(5) if number != hidden)
    assert view.error_mm(found.homography, None).mean() < 0.15


def test_does_without_the_version_marker() -> None:
    assert find_sheet(render(replace(PLAIN, hidden=4)).photo).marker_ids == (0, 1, 2, 3)


@pytest.mark.parametrize("tilt", [20, 35])
@pytest.mark.parametrize("axis", [0, 90, 215])
def test_tilt_without_a_known_lens(tilt: float, axis: float) -> None:
    view = render(replace(PLAIN, tilt_deg=tilt, tilt_axis_deg=axis, width_share=0.5))
    assert find_sheet(view.photo).tilt_deg == pytest.approx(tilt, abs=1.0)


def test_uses_the_lens_for_tilt_and_place() -> None:
    view = render(replace(PLAIN, distortion=(-0.1, 0.02, 0.001, -0.001, 0)))
    found = find_sheet(view.photo, view.lens)
    assert view.error_mm(found.homography, found.lens).max() < 0.1
    assert found.tilt_deg == pytest.approx(PLAIN.tilt_deg, abs=0.2)
    without = find_sheet(view.photo)
    assert view.error_mm(without.homography, None).max() > 0.5


def test_refuses_a_lens_of_another_shape_of_photo(plain: View) -> None:
    lens = replace(plain.lens, height_px=700)
    with pytest.raises(DataFileError, match="1200 x 700"):
        find_sheet(plain.photo, lens)


def test_sixteen_bits_give_the_same_place(plain: View) -> None:
    deep = replace(plain.photo, pixels=plain.photo.pixels.astype(np.uint16) * np.uint16(257))
    assert np.array_equal(find_sheet(deep).homography, find_sheet(plain.photo).homography)


def test_no_sheet() -> None:
    picture = clutter(np.random.default_rng(1), (1200, 900))
    assert refusal(photo_of(picture)) == "no reference sheet and no bone card is in the picture"


def test_a_sheet_too_small_to_be_seen_is_told_to_go_closer(plain: View) -> None:
    picture = np.full_like(pixels_of(plain), 90)
    small = pixels_of(plain)[::10, ::10]
    picture[300 : 300 + len(small), 400 : 400 + len(small[0])] = small
    with pytest.raises(SheetError) as found:
        find_sheet(photo_of(picture))
    assert "go closer" in found.value.hint


def test_mirrored(plain: View) -> None:
    assert refusal(with_pixels(plain, pixels_of(plain)[:, ::-1])) == "the picture is mirrored"
    assert refusal(with_pixels(plain, pixels_of(plain)[::-1])) == "the picture is mirrored"


def test_two_sheets(plain: View) -> None:
    both = np.concatenate([pixels_of(plain), pixels_of(plain)[::-1, ::-1]])
    assert refusal(with_pixels(plain, both)) == "two reference sheets are in the picture"


def test_a_stray_marker_of_the_sheet_does_not_disturb(square: View) -> None:
    found = find_sheet(paste_marker(square, 2, (300, 60), 20))
    assert square.error_mm(found.homography, None).max() < 0.05


def test_a_marker_out_of_its_place_is_left_out() -> None:
    view = render(replace(SQUARE, hidden=2))
    found = find_sheet(paste_marker(view, 2, (300, 60), 20))
    assert found.marker_ids == (0, 1, 3, 4)


def test_two_hidden_corners_are_too_many(square: View) -> None:
    view = render(replace(SQUARE, hidden=0))
    assert refusal(paste_marker(view, 40, (247, 177), 22)).startswith("only 2 of the sheet's")


def test_markers_that_do_not_belong_together() -> None:
    picture = scattered_markers(np.random.default_rng(3))
    assert "not at their places on one sheet" in refusal(photo_of(picture))


def test_cut_off() -> None:
    view = render(replace(PLAIN, roll_deg=40))
    low = project(view.homography, None, CORNERS)[:, 1].max()
    cut = pixels_of(view)[: int(low) - 20]
    assert "cut off" in refusal(with_pixels(view, cut))


def test_too_small() -> None:
    view = render(replace(PLAIN, size_px=(3000, 2000), focal_px=2500, width_share=0.11))
    assert "too small" in refusal(view.photo)


def test_bent(square: View) -> None:
    grid = np.indices(pixels_of(square).shape[:2]).astype(np.float32)
    rows, columns = grid[0], grid[1]
    bulge = 12 * ((columns - 600) / 360) ** 2 + 12 * ((rows - 450) / 260) ** 2
    bent = cv2.remap(pixels_of(square), columns + bulge, rows, cv2.INTER_LINEAR)
    assert "the sheet is bent" in refusal(with_pixels(square, np.asarray(bent, dtype=np.uint8)))


@pytest.mark.parametrize("stretch", [0.95, 1.05])
def test_print_stretched_to_the_page(stretch: float) -> None:
    view = render(replace(PLAIN, print_stretch=stretch))
    assert "stretched" in refusal(view.photo)


def test_a_cropped_photo_is_not_taken_for_a_stretched_print() -> None:
    view = render(replace(PLAIN, tilt_deg=30, width_share=0.4, centre_share=(0.6, 0.5)))
    cropped = with_pixels(view, pixels_of(view)[:, 240:])
    assert find_sheet(cropped).tub == PLAIN.tub


def test_small_stretch_shows_with_a_calibrated_lens() -> None:
    view = render(replace(PLAIN, print_stretch=1.02))
    assert "stretched by 2.0%" in refusal(view.photo, view.lens)


@pytest.mark.parametrize("number", [6, 9])
def test_unknown_version(number: int) -> None:
    view = render(replace(PLAIN, version_marker=number))
    assert f"its version marker is number {number}" in refusal(view.photo)


@pytest.fixture
def second_version() -> SheetGeometry:
    """A second sheet that is known: version marker 6, its patches the other way up."""
    markers = tuple(marker if marker.corner else replace(marker, id=6) for marker in SHEET.markers)
    turned = dict(zip(SHEET.patches, reversed(SHEET.patches.values()), strict=True))
    return replace(SHEET, version=99, markers=markers, patches=turned)


def test_version_marker_decides_between_known_versions(
    second_version: SheetGeometry, plain: View
) -> None:
    sheets = SHEET, second_version
    assert find_sheet(plain.photo, sheets=sheets).geometry is SHEET
    view = render(replace(PLAIN, version_marker=second_version.markers[4].id))
    assert "but not its patches" in refusal(view.photo, sheets=sheets)


def test_patches_decide_when_the_version_marker_is_hidden(second_version: SheetGeometry) -> None:
    hidden = render(replace(PLAIN, hidden=4)).photo
    found = find_sheet(hidden, sheets=(second_version, SHEET))
    assert found.geometry.version != second_version.version


def test_version_marker_beside_the_sheet_is_no_matter(square: View) -> None:
    found = find_sheet(paste_marker(square, 7, (300, 60), 14))
    assert found.geometry.version == 1


def test_markers_without_the_patches() -> None:
    picture = bare_corners(np.random.default_rng(4))
    assert "but not its patches" in refusal(photo_of(picture))


def test_tag_printed_at_another_scale() -> None:
    found = find_sheet(render(replace(PLAIN, tag_scale=0.94)).photo)
    assert found.tag_scale == pytest.approx(0.94, abs=0.01)


def test_no_tag() -> None:
    found = find_sheet(render(replace(PLAIN, tub=None)).photo)
    assert (found.tub, found.tag_scale) == (None, None)


def test_two_tags_in_the_slot(square: View) -> None:
    photo = paste_marker(square, 33, (90, 67), 15)
    assert refusal(photo) == "two tags are in the slot: tub 17 and tub 33"


def test_a_tag_beside_the_slot_does_not_count() -> None:
    view = render(replace(SQUARE, tub=None))
    assert find_sheet(paste_marker(view, 33, (300, 60), 24)).tub is None


@settings(deadline=None, max_examples=12)
@given(quarter_turns=st.integers(0, 3), scale=st.floats(0.7, 1.5))
def test_turning_and_scaling_the_picture_moves_the_sheet_along(
    plain: View, quarter_turns: int, scale: float
) -> None:
    turned = np.ascontiguousarray(np.rot90(pixels_of(plain), -quarter_turns))
    size = round(turned.shape[1] * scale), round(turned.shape[0] * scale)
    method = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    scaled = cv2.resize(turned, size, interpolation=method)
    found = find_sheet(with_pixels(plain, np.asarray(scaled, dtype=np.uint8)))
    before = project(find_sheet(plain.photo).homography, None, CORNERS)
    shape = np.array(turned.shape[1::-1])
    moved = (_turned(before, quarter_turns, shape) + 0.5) * np.array(size) / shape - 0.5
    after = project(found.homography, None, CORNERS)
    assert np.abs(after - moved).max() < 0.2
    assert found.tub == PLAIN.tub


def _turned(points: FloatArray, quarter_turns: int, shape: FloatArray) -> FloatArray:
    """Points of a picture turned clockwise to `shape` (width, height)."""
    width, height = shape - 1
    x, y = points.T
    places = {
        0: (x, y),
        1: (width - y, x),
        2: (width - x, height - y),
        3: (y, height - x),
    }
    return np.column_stack(places[quarter_turns])
