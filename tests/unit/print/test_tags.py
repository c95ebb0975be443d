import cv2
import numpy as np
import pytest

from greasecheck.errors import SheetError
from greasecheck.model import Tag, TagOwner
from greasecheck.print.pages import PAPERS, Paper, card_pages
from greasecheck.print.shapes import Cells, Text, bounds
from greasecheck.print.sheet import draw_tag_png
from greasecheck.print.tags import tag_drawing
from greasecheck.reference import known_cards, known_sheets
from greasecheck.reference.tags import marker_of, tag_with

SHEET = known_sheets()[0]


def markers_in(pixels: np.ndarray[tuple[int, ...], np.dtype[np.uint8]]) -> list[int]:
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_1000))
    ids = detector.detectMarkers(pixels)[1]
    return sorted(int(i) for i in np.ravel(ids if ids is not None else []))


@pytest.mark.parametrize("tub", [1, 9, 10, 17, 49, 50, 200])
@pytest.mark.parametrize("owner", TagOwner)
def test_a_tag_reads_as_whose_it_is(tub: int, owner: TagOwner) -> None:
    tag = Tag(number=tub, owner=owner)
    pixels = draw_tag_png(SHEET, tag, 150)
    assert pixels.shape[:2] == (round(38 * 150 / 25.4), round(32 * 150 / 25.4))
    [marker] = markers_in(pixels)
    assert tag_with(marker) == tag


@pytest.mark.parametrize(("owner", "words"), [(TagOwner.TUB, "12"), (TagOwner.SKULL, "S12")])
def test_people_tell_a_skull_s_tag_from_a_tub_s(owner: TagOwner, words: str) -> None:
    shapes = tag_drawing(SHEET, Tag(number=12, owner=owner)).shapes
    assert [shape.words for shape in shapes if isinstance(shape, Text)] == [words]


def test_tags_printed_before_stay_valid() -> None:
    assert [tag_with(number) for number in (10, 49)] == [Tag(number=10), Tag(number=49)]


def test_no_marker_of_a_sheet_card_or_ladder_is_a_tag() -> None:
    charts = (*known_sheets(), *known_cards())
    taken = {marker.id for chart in charts for marker in chart.markers}
    assert not any(tag_with(number) for number in {*taken, *range(10), *range(240, 250)})
    owners = [(number, owner) for owner in TagOwner for number in range(1, 201)]
    markers = {marker_of(Tag(number=number, owner=owner)) for number, owner in owners}
    assert len(markers) == 400


def test_sheet_and_card_share_no_marker() -> None:
    sheets, cards = (
        {marker.id for chart in charts for marker in chart.markers}
        for charts in (known_sheets(), known_cards())
    )
    assert sheets.isdisjoint(cards)


@pytest.mark.parametrize("tub", [0, 201, -1])
def test_there_is_no_tag_for_other_numbers(tub: int) -> None:
    with pytest.raises(SheetError, match=f"tub {tub}"):
        tag_drawing(SHEET, Tag(number=tub))


def test_the_number_stands_clear_of_the_marker_and_the_edges() -> None:
    marker, number = (bounds(shape) for shape in tag_drawing(SHEET, Tag(number=48)).shapes)
    assert (marker.width_mm, marker.x_mm, marker.y_mm) == (24.0, 4.0, 3.0)
    assert number.y_mm >= marker.y_mm + marker.height_mm + 3.0
    assert number.x_mm > 2
    assert number.x_mm + number.width_mm < 30


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
def test_all_tags_fit_on_two_pages_without_overlap(paper: Paper) -> None:
    cards = [tag_drawing(SHEET, Tag(number=tub)) for tub in range(1, 41)]
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
