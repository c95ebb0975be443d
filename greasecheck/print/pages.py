"""Places drawings on pages of paper, at true size, with marks for folding and cutting."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.model import Box
from greasecheck.print.shapes import Drawing, Text, rectangle, shifted, text_width_mm

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from greasecheck.print.shapes import Rgb, Shape

MARK: Rgb = (120, 120, 120)
MARK_WIDTH_MM = 0.2
MARK_GAP_MM = 1.0
MARK_LENGTH_MM = 2.0
FOLD_MARK_MM = (2.0, 8.0)  # from the printed area outwards
UNPRINTABLE_MM = 4.0  # edge that common printers leave blank; common practice, no source
CARD_GAP_MM = 6.0
MARGIN_MM = 12.0
NARROW_MARGIN_MM = 3.0  # of cards whose own edge is white
FOOT_SIZE_MM = 3.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A kind of paper, lying [mm]."""

    name: str
    width_mm: float
    height_mm: float


# ISO 216:2007; ANSI/ASME Y14.1 size A
PAPERS = (
    Paper(name="a4", width_mm=297.0, height_mm=210.0),
    Paper(name="letter", width_mm=279.4, height_mm=215.9),
)


def sheet_page(sheet: Drawing, paper: Paper) -> Drawing:
    """Centre a sheet on a page and mark where to fold the lower margin back.

    Parameters
    ----------
    sheet : Drawing
        The printed area.
    paper : Paper
        The page.
    """
    left = (paper.width_mm - sheet.width_mm) / 2
    top = (paper.height_mm - sheet.height_mm) / 2
    shapes = tuple(shifted(shape, left, top) for shape in sheet.shapes)
    return _page(paper, (*shapes, *_fold_marks(paper, left, top + sheet.height_mm)))


def upright(paper: Paper) -> Paper:
    """Return the paper turned upright, whichever way it lay."""
    width, height = sorted((paper.width_mm, paper.height_mm))
    return Paper(name=paper.name, width_mm=width, height_mm=height)


def upright_page(drawing: Drawing, paper: Paper) -> Drawing:
    """Centre a drawing on a page that stands upright."""
    page = upright(paper)
    left = (page.width_mm - drawing.width_mm) / 2
    top = (page.height_mm - drawing.height_mm) / 2
    return _page(page, tuple(shifted(shape, left, top) for shape in drawing.shapes))


def card_pages(cards: Sequence[Drawing], paper: Paper, foot: str) -> tuple[Drawing, ...]:
    """Lay out equal cards in rows, with cut marks at their corners.

    Parameters
    ----------
    cards : sequence of Drawing
        At least one card; all of the same size.
    paper : Paper
        The page.
    foot : str
        A line of text below the cards.

    Returns
    -------
    tuple of Drawing
        As many pages as it takes.
    """
    places = _places(cards[0], paper, CARD_GAP_MM, MARGIN_MM)
    return tuple(
        _page(paper, (*_placed_cards(group, places), _foot(foot, paper)))
        for group in _groups(cards, len(places))
    )


def framed_pages(cards: Sequence[Drawing], paper: Paper) -> tuple[Drawing, ...]:
    """Lay out large cards edge to edge, each in a hairline to cut along.

    Parameters
    ----------
    cards : sequence of Drawing
        At least one card; all of the same size.
    paper : Paper
        The page.
    """
    places = _places(cards[0], paper, 0.0, NARROW_MARGIN_MM)
    return tuple(
        _page(paper, tuple(_framed_cards(group, places))) for group in _groups(cards, len(places))
    )


def _places(
    card: Drawing, paper: Paper, gap_mm: float, margin_mm: float
) -> tuple[tuple[float, float], ...]:
    """Upper left corners of as many cards as a page holds, in its middle."""
    pitch = card.width_mm + gap_mm, card.height_mm + gap_mm
    columns = int((paper.width_mm - 2 * margin_mm + gap_mm) // pitch[0])
    rows = int((paper.height_mm - 2 * margin_mm + gap_mm) // pitch[1])
    left = (paper.width_mm - columns * pitch[0] + gap_mm) / 2
    top = (paper.height_mm - rows * pitch[1] + gap_mm) / 2
    return tuple(
        (left + column * pitch[0], top + row * pitch[1])
        for row in range(rows)
        for column in range(columns)
    )


def _groups(cards: Sequence[Drawing], size: int) -> Iterator[Sequence[Drawing]]:
    return (cards[start : start + size] for start in range(0, len(cards), size))


def _framed_cards(
    cards: Sequence[Drawing], places: Sequence[tuple[float, float]]
) -> Iterator[Shape]:
    for card, (x, y) in zip(cards, places, strict=False):
        yield from (shifted(shape, x, y) for shape in card.shapes)
        for level in (y, y + card.height_mm):
            yield _level(x, level, card.width_mm)
        for upright in (x, x + card.width_mm):
            yield _upright(upright, y, card.height_mm)


def _placed_cards(
    cards: Sequence[Drawing], places: Sequence[tuple[float, float]]
) -> Iterator[Shape]:
    for card, (x, y) in zip(cards, places, strict=False):
        yield from (shifted(shape, x, y) for shape in card.shapes)
        yield from _cut_marks(x, y, card)


def _cut_marks(left: float, top: float, card: Drawing) -> Iterator[Shape]:
    """Mark the four corners, outside the card."""
    right, bottom = left + card.width_mm, top + card.height_mm
    reach = MARK_GAP_MM + MARK_LENGTH_MM
    for x in (left, right):
        for start in (top - reach, bottom + MARK_GAP_MM):
            yield _upright(x, start)
    for y in (top, bottom):
        for start in (left - reach, right + MARK_GAP_MM):
            yield _level(start, y, MARK_LENGTH_MM)


def _fold_marks(paper: Paper, left: float, y: float) -> Iterator[Shape]:
    """Mark the lower edge of the printed area, in the side margins."""
    near, far = FOLD_MARK_MM
    start = max(left - far, UNPRINTABLE_MM)
    length = left - near - start
    yield _level(start, y, length)
    yield _level(paper.width_mm - start - length, y, length)


def _upright(x: float, y: float, length: float = MARK_LENGTH_MM) -> Shape:
    left = x - MARK_WIDTH_MM / 2
    box = Box(x_mm=left, y_mm=y, width_mm=MARK_WIDTH_MM, height_mm=length)
    return rectangle(box, MARK)


def _level(x: float, y: float, length: float) -> Shape:
    top = y - MARK_WIDTH_MM / 2
    return rectangle(Box(x_mm=x, y_mm=top, width_mm=length, height_mm=MARK_WIDTH_MM), MARK)


def _foot(words: str, paper: Paper) -> Text:
    return Text(
        x_mm=(paper.width_mm - text_width_mm(words, FOOT_SIZE_MM, bold=False)) / 2,
        y_mm=paper.height_mm - UNPRINTABLE_MM - 2.0,
        size_mm=FOOT_SIZE_MM,
        words=words,
        bold=False,
        rgb=MARK,
    )


def _page(paper: Paper, shapes: tuple[Shape, ...]) -> Drawing:
    return Drawing(width_mm=paper.width_mm, height_mm=paper.height_mm, shapes=shapes)
