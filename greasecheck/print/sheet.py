"""The sheet, the bone card and the tags as files: PDF for paper, PNG for screens and scenes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.print.layout import sheet_drawing
from greasecheck.print.pages import card_pages, framed_pages, sheet_page
from greasecheck.print.pdf import encode_pdf
from greasecheck.print.raster import draw_pixels
from greasecheck.print.tags import tag_drawing

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from greasecheck.model import PatchValues, SheetGeometry, Tag
    from greasecheck.print.pages import Paper


def draw_sheet_png(geometry: SheetGeometry, values: PatchValues, dpi: float) -> NDArray[np.uint8]:
    """Draw the printed area of the sheet as pixels.

    Parameters
    ----------
    geometry : SheetGeometry
        Where everything is.
    values : PatchValues
        Whose `rgb` colours the patches.
    dpi : float
        Resolution [px/inch].

    Returns
    -------
    ndarray, shape (height, width, 3), uint8
        sRGB, paper as 255.

    Examples
    --------
    >>> from greasecheck.reference import known_sheets
    >>> from greasecheck.reference.patches.values import nominal_values
    >>> sheet = known_sheets()[0]
    >>> draw_sheet_png(sheet, nominal_values(sheet), 50.8).shape
    (380, 520, 3)
    """
    return draw_pixels(sheet_drawing(geometry, values), dpi)


def sheet_pdf(geometry: SheetGeometry, values: PatchValues, paper: Paper) -> bytes:
    """Return the sheet as a PDF of one page, at true size in its middle."""
    page = sheet_page(sheet_drawing(geometry, values), paper)
    return encode_pdf([page], f"greasecheck colour reference sheet, version {geometry.version}")


def cards_pdf(geometry: SheetGeometry, values: PatchValues, paper: Paper, count: int) -> bytes:
    """Return `count` bone cards as a PDF, four a page at true size, with cut marks."""
    cards = [sheet_drawing(geometry, values)] * count
    return encode_pdf(
        framed_pages(cards, paper), f"greasecheck bone card, design {geometry.version}"
    )


def draw_tag_png(geometry: SheetGeometry, tag: Tag, dpi: float) -> NDArray[np.uint8]:
    """Draw a tag as pixels, shape (height, width, 3), at `dpi` [px/inch]."""
    return draw_pixels(tag_drawing(geometry, tag), dpi)


def tags_pdf(geometry: SheetGeometry, tags: Sequence[Tag], paper: Paper) -> bytes:
    """Return at least one tag as a PDF, many a page, with cut marks."""
    cards = [tag_drawing(geometry, tag) for tag in tags]
    size = f"{geometry.tag_slot.width_mm:g} x {geometry.tag_slot.height_mm:g} mm"
    foot = f"print at 100 %; cut along the marks: each tag is {size}"
    return encode_pdf(card_pages(cards, paper, foot), "greasecheck tags")
