from io import BytesIO

import cv2
import numpy as np
import pytest
from PIL import Image

from greasecheck.errors import DataFileError
from greasecheck.model import Box
from greasecheck.print.raster import draw_pixels, encode_png
from greasecheck.print.shapes import Cells, Drawing, Polygon, Text, bounds, rectangle, shifted
from greasecheck.print.sheet import draw_sheet_png
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import nominal_values

PER_MM = 254.0  # dpi that makes 10 px/mm


def drawing(*shapes: Cells | Polygon | Text) -> Drawing:
    return Drawing(width_mm=4, height_mm=3, shapes=shapes)


def test_a_rectangle_fills_its_pixels_and_no_others() -> None:
    box = Box(x_mm=1, y_mm=0.5, width_mm=2, height_mm=1)
    pixels = draw_pixels(drawing(rectangle(box, (10, 20, 30))), PER_MM)
    assert pixels.shape == (30, 40, 3)
    assert (pixels[5:15, 10:30] == (10, 20, 30)).all()
    assert (pixels == 255).all(axis=2).sum() == 30 * 40 - 200


def test_a_pixel_half_covered_in_black_gives_half_the_light() -> None:
    box = Box(x_mm=1.05, y_mm=0.5, width_mm=2, height_mm=1)
    pixels = draw_pixels(drawing(rectangle(box, (0, 0, 0))), PER_MM)
    assert pixels[10, 10, 0] == 188  # sRGB code of 0.5 by IEC 61966-2-1
    assert pixels[10, 30, 0] == 188


def test_neighbouring_cells_leave_no_seam() -> None:
    box = Box(x_mm=0.333, y_mm=0.5, width_mm=2.1, height_mm=1)
    cells = Cells(box=box, inked=np.ones((3, 7), dtype=np.bool_), rgb=(0, 0, 0))
    pixels = draw_pixels(drawing(cells), PER_MM)
    assert (pixels[5:15, 4:24] == 0).all()


def test_a_triangle_covers_half_its_box() -> None:
    triangle = Polygon(corners_mm=((1, 1), (3, 1), (1, 2.5)), rgb=(0, 0, 0))
    pixels = draw_pixels(drawing(triangle), PER_MM)
    covered = ((255 - pixels[..., 0].astype(float)) / 255).sum() / 100
    assert covered == pytest.approx(1.5, abs=0.1)  # edge pixels are dimmer than their cover
    assert (pixels[:9] == 255).all()


def test_text_lies_within_its_bounds() -> None:
    text = Text(x_mm=0.5, y_mm=2, size_mm=1, words="Hg8", bold=True, rgb=(0, 0, 0))
    pixels = draw_pixels(drawing(text), PER_MM)
    rows, columns = np.nonzero(pixels[..., 0] < 128)
    box = bounds(text)
    assert box.y_mm * 10 - 1 <= rows.min() <= box.y_mm * 10 + 2
    assert rows.max() <= (box.y_mm + box.height_mm) * 10
    assert columns.min() >= box.x_mm * 10
    assert columns.max() <= (box.x_mm + box.width_mm) * 10


@pytest.mark.parametrize(
    "shape",
    [
        rectangle(Box(x_mm=1, y_mm=1, width_mm=1, height_mm=1), (0, 0, 0)),
        Polygon(corners_mm=((1, 1), (3, 1), (1, 2.5)), rgb=(0, 0, 0)),
        Text(x_mm=1, y_mm=1, size_mm=1, words="a", bold=False, rgb=(0, 0, 0)),
    ],
)
def test_shifting_moves_the_bounds(shape: Cells | Polygon | Text) -> None:
    before, after = bounds(shape), bounds(shifted(shape, 0.5, -0.25))
    assert after.x_mm == pytest.approx(before.x_mm + 0.5)
    assert after.y_mm == pytest.approx(before.y_mm - 0.25)
    assert after.width_mm == pytest.approx(before.width_mm)


@pytest.mark.parametrize("dpi", [29, 1201, float("nan")])
def test_resolutions_out_of_range_are_refused(dpi: float) -> None:
    with pytest.raises(DataFileError, match="out of range"):
        draw_pixels(drawing(), dpi)


def test_png_states_its_resolution_and_keeps_the_pixels() -> None:
    pixels = draw_pixels(
        drawing(rectangle(Box(x_mm=1, y_mm=1, width_mm=1, height_mm=1), (9, 8, 7))), 300
    )
    with Image.open(BytesIO(encode_png(pixels, 300))) as image:
        assert image.info["dpi"] == pytest.approx((300, 300), abs=0.02)  # whole pixels a metre
        assert (np.asarray(image) == pixels).all()


@pytest.mark.parametrize("dpi", [72, 150])
def test_the_markers_of_the_drawn_sheet_are_found_where_they_belong(dpi: float) -> None:
    sheet = known_sheets()[0]
    pixels = draw_sheet_png(sheet, nominal_values(sheet), dpi)
    assert pixels.shape == (round(190 * dpi / 25.4), round(260 * dpi / 25.4), 3)
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50))
    corners, ids, _ = detector.detectMarkers(
        cv2.copyMakeBorder(pixels, 9, 9, 9, 9, 0, value=(255,) * 3)
    )
    found = {int(i): square for i, square in zip(np.ravel(ids), corners, strict=True)}
    assert set(found) == {marker.id for marker in sheet.markers}
    for marker in sheet.markers:
        centre_mm = (found[marker.id][0].mean(axis=0) + 0.5 - 9) * 25.4 / dpi
        assert centre_mm == pytest.approx(marker.box.centre_mm, abs=25.4 / dpi)
