"""Renders drawings as the pages of a PDF, at true size."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from greasecheck.print.shapes import Cells, Polygon, font_path

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.print.shapes import Drawing, Rgb, Shape, Text

PRINT_SCALING_SINCE = (1, 6)  # PDF version; ISO 32000-1:2008, table 150
FONT_NAMES = {False: "Vera", True: "VeraBold"}


def encode_pdf(pages: Sequence[Drawing], title: str) -> bytes:
    """Render drawings as a PDF, a page each, that asks viewers not to scale it.

    Parameters
    ----------
    pages : sequence of Drawing
        What to draw; each is as large as its page.
    title : str
        The document's title.
    """
    for bold, name in FONT_NAMES.items():
        pdfmetrics.registerFont(TTFont(name, font_path(bold=bold)))
    buffer = BytesIO()
    canvas = Canvas(buffer, invariant=True, pageCompression=True, pdfVersion=PRINT_SCALING_SINCE)
    canvas.setTitle(title)
    canvas.setAuthor("greasecheck")
    canvas.setCreator("greasecheck")
    canvas.setViewerPreference("PrintScaling", "None")
    for page in pages:
        canvas.setPageSize((page.width_mm * mm, page.height_mm * mm))
        for shape in page.shapes:
            _draw(canvas, shape, page.height_mm)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _draw(canvas: Canvas, shape: Shape, page_height_mm: float) -> None:
    canvas.setFillColorRGB(*_unit_rgb(shape.rgb))
    if isinstance(shape, Cells):
        _draw_cells(canvas, shape, page_height_mm)
    elif isinstance(shape, Polygon):
        _draw_polygon(canvas, shape, page_height_mm)
    else:
        _draw_text(canvas, shape, page_height_mm)


def _draw_cells(canvas: Canvas, cells: Cells, page_height_mm: float) -> None:
    """One path for all cells, so that viewers draw no seams between neighbours."""
    path = canvas.beginPath()
    rows, columns = cells.inked.shape
    width, height = cells.box.width_mm / columns, cells.box.height_mm / rows
    for row, column in np.argwhere(cells.inked):
        left = cells.box.x_mm + column * width
        bottom = page_height_mm - cells.box.y_mm - (row + 1) * height
        path.rect(left * mm, bottom * mm, width * mm, height * mm)
    canvas.drawPath(path, stroke=0, fill=1)


def _draw_polygon(canvas: Canvas, polygon: Polygon, page_height_mm: float) -> None:
    path = canvas.beginPath()
    first, *others = ((x * mm, (page_height_mm - y) * mm) for x, y in polygon.corners_mm)
    path.moveTo(*first)
    for corner in others:
        path.lineTo(*corner)
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)


def _draw_text(canvas: Canvas, text: Text, page_height_mm: float) -> None:
    canvas.setFont(FONT_NAMES[text.bold], text.size_mm * mm)
    canvas.drawString(text.x_mm * mm, (page_height_mm - text.y_mm) * mm, text.words)


def _unit_rgb(rgb: Rgb) -> tuple[float, float, float]:
    red, green, blue = (value / 255 for value in rgb)
    return red, green, blue
