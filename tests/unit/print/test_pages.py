"""Pages of paper keep what is printed whole, at true size, with marks where they belong."""

from __future__ import annotations

import base64
import re
import zlib

import numpy as np
import pytest

from greasecheck.model import Box, SheetGeometry
from greasecheck.print.layout import sheet_drawing
from greasecheck.print.pages import (
    PAPERS,
    Paper,
    card_pages,
    framed_pages,
    sheet_page,
    upright,
    upright_page,
)
from greasecheck.print.pdf import encode_pdf
from greasecheck.print.shapes import Cells, Drawing, bounds, rectangle
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import nominal_values

BLANK_MM = 4.0  # edge that common printers leave blank
BLACK = (0, 0, 0)
CARD = Drawing(
    width_mm=60.0,
    height_mm=40.0,
    shapes=(rectangle(Box(x_mm=0.0, y_mm=0.0, width_mm=60.0, height_mm=40.0), BLACK),),
)
PT_PER_MM = 72 / 25.4


def ends(box: Box) -> tuple[float, float, float, float]:
    """Return left, top, right and bottom [mm]."""
    return box.x_mm, box.y_mm, box.x_mm + box.width_mm, box.y_mm + box.height_mm


def black(page: Drawing) -> list[tuple[float, float, float, float]]:
    return [ends(bounds(shape)) for shape in page.shapes if shape.rgb == BLACK]


def marks(page: Drawing) -> list[tuple[float, float, float, float]]:
    return [ends(bounds(one)) for one in page.shapes if isinstance(one, Cells) and one.rgb != BLACK]


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
def test_what_is_printed_stands_whole_in_the_middle_of_its_page(paper: Paper) -> None:
    tall = Drawing(width_mm=100.0, height_mm=180.0, shapes=CARD.shapes)
    for page, drawing in ((sheet_page(CARD, paper), CARD), (upright_page(tall, paper), tall)):
        [(left, top, right, bottom)] = black(page)
        assert (right - left, bottom - top) == pytest.approx((60.0, 40.0))
        assert left == pytest.approx((page.width_mm - drawing.width_mm) / 2)
        assert top == pytest.approx((page.height_mm - drawing.height_mm) / 2)
    assert upright(paper).width_mm == min(paper.width_mm, paper.height_mm)


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
def test_fold_marks_stand_beside_the_lower_edge_of_what_is_printed(paper: Paper) -> None:
    page = sheet_page(CARD, paper)
    [(left, _, right, bottom)] = black(page)
    one, other = sorted(marks(page))
    assert (one[1] + one[3]) / 2 == pytest.approx(bottom)
    assert (other[1] + other[3]) / 2 == pytest.approx(bottom)
    assert BLANK_MM <= one[0] < one[2] < left
    assert right < other[0] < other[2] <= paper.width_mm - BLANK_MM


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
@pytest.mark.parametrize("margin_mm", [8.0, 11.0])
def test_fold_marks_of_a_wide_sheet_stay_where_printers_print(
    paper: Paper, margin_mm: float
) -> None:
    wide = Drawing(width_mm=paper.width_mm - 2 * margin_mm, height_mm=150.0, shapes=())
    one, other = sorted(marks(sheet_page(wide, paper)))
    assert BLANK_MM <= one[0] < one[2] < margin_mm
    assert paper.width_mm - margin_mm < other[0] < other[2] <= paper.width_mm - BLANK_MM


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
def test_cards_fill_pages_without_touching_marks_or_edges(paper: Paper) -> None:
    first, *others = card_pages([CARD] * 20, paper, "print at 100 %")
    assert sum(len(black(page)) for page in (first, *others)) == 20
    for left, top, right, bottom in black(first):
        assert min(left, top) > BLANK_MM
        assert right < paper.width_mm - BLANK_MM
        assert bottom < paper.height_mm - 2 * BLANK_MM  # there stands the foot
        assert (right - left, bottom - top) == pytest.approx((60.0, 40.0))
        edge = 0.2  # of the card, on which a mark may lie
        assert not any(
            left + edge < mark[2] and mark[0] < right - edge
            and top + edge < mark[3] and mark[1] < bottom - edge
            for mark in marks(first)
        )  # fmt: skip
    across = {card[0] for card in black(first)}
    assert min(np.diff(sorted(across))) > 60.0
    assert (len(across) + 1) * 66.0 - 6.0 > paper.width_mm - 24.0  # one more would not fit


def test_framed_cards_share_their_edges() -> None:
    page = framed_pages([CARD] * 2, PAPERS[0])[0]
    (one, _, right, _), (other, *_) = sorted(black(page))[:2]
    assert other == pytest.approx(right) or other == pytest.approx(one)
    levels = {round((mark[1] + mark[3]) / 2, 6) for mark in marks(page) if mark[2] - mark[0] > 1}
    assert {round(card[1], 6) for card in black(page)} <= levels


@pytest.mark.parametrize("sheet", known_sheets(), ids=lambda sheet: f"version {sheet.version}")
def test_the_ruler_has_a_tick_at_each_of_its_millimetres(sheet: SheetGeometry) -> None:
    assert sheet.ruler is not None
    drawing = sheet_drawing(sheet, nominal_values(sheet))
    x, y = sheet.ruler.start_mm
    boxes = [bounds(shape) for shape in drawing.shapes]
    ticks = [box.centre_mm[0] for box in boxes if box.y_mm == y and box.width_mm < 0.5]
    assert ticks == pytest.approx(list(x + np.arange(101)))


def test_a_pdf_has_the_size_of_its_page_and_asks_not_to_be_scaled() -> None:
    inked = np.array([[False, False], [True, False]])
    cells = Cells(
        box=Box(x_mm=10.0, y_mm=20.0, width_mm=30.0, height_mm=8.0), inked=inked, rgb=BLACK
    )
    page = Drawing(width_mm=210.0, height_mm=297.0, shapes=(cells,))
    pdf = encode_pdf([page], "a page")
    assert re.search(rb"/PrintScaling\s*/None", pdf)
    box = re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", pdf)
    assert box is not None
    assert [float(size) / PT_PER_MM for size in box.groups()] == pytest.approx([210, 297], abs=0.01)
    stream = re.search(rb"stream\r?\n(.*?)~>", pdf, re.DOTALL)
    assert stream is not None
    drawn = zlib.decompress(base64.a85decode(stream[1].strip())).decode()
    [rectangles] = re.findall(r"([\d.]+) ([\d.]+) ([\d.]+) ([\d.]+) re", drawn)
    left, bottom, width, height = (float(number) / PT_PER_MM for number in rectangles)
    assert (left, width) == pytest.approx((10.0, 15.0), abs=0.01)
    assert (297 - bottom - height, height) == pytest.approx((24.0, 4.0), abs=0.01)
