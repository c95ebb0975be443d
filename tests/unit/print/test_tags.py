import cv2
import numpy as np
import pytest

from greasecheck.errors import SheetError
from greasecheck.print.pages import PAPERS, Paper, card_pages
from greasecheck.print.shapes import Cells, bounds
from greasecheck.print.sheet import draw_tag_png
from greasecheck.print.tags import tag_drawing
from greasecheck.reference import known_sheets

SHEET = known_sheets()[0]


def markers_in(pixels: np.ndarray[tuple[int, ...], np.dtype[np.uint8]]) -> list[int]:
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50))
    ids = detector.detectMarkers(pixels)[1]
    return sorted(int(i) for i in np.ravel(ids if ids is not None else []))


@pytest.mark.parametrize("tub", [10, 17, 49])
def test_a_tag_reads_as_its_tub(tub: int) -> None:
    pixels = draw_tag_png(SHEET, tub, 150)
    assert pixels.shape[:2] == (round(38 * 150 / 25.4), round(32 * 150 / 25.4))
    assert markers_in(pixels) == [tub]


@pytest.mark.parametrize("tub", [0, 9, 50, -1])
def test_there_is_no_tag_for_other_numbers(tub: int) -> None:
    with pytest.raises(SheetError, match=f"tub {tub}"):
        tag_drawing(SHEET, tub)


def test_the_number_stands_clear_of_the_marker_and_the_edges() -> None:
    marker, number = (bounds(shape) for shape in tag_drawing(SHEET, 48).shapes)
    assert (marker.width_mm, marker.x_mm, marker.y_mm) == (24.0, 4.0, 3.0)
    assert number.y_mm >= marker.y_mm + marker.height_mm + 3.0
    assert number.x_mm > 2
    assert number.x_mm + number.width_mm < 30


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
def test_all_tags_fit_on_two_pages_without_overlap(paper: Paper) -> None:
    cards = [tag_drawing(SHEET, tub) for tub in SHEET.tag_ids]
    pages = card_pages(cards, paper, "foot")
    assert len(pages) == 2
    squares = []
    for number, page in enumerate(pages):
        for shape in page.shapes:
            box = bounds(shape)
            assert box.x_mm >= 4
            assert box.y_mm >= 4
            assert box.x_mm + box.width_mm <= paper.width_mm - 4
            assert box.y_mm + box.height_mm <= paper.height_mm - 4
            if isinstance(shape, Cells) and shape.inked.size > 1:
                squares.append((number, round(box.x_mm, 3), round(box.y_mm, 3)))
    assert len(set(squares)) == len(cards)
