"""Renders a drawing as pixels at any resolution, its edges by exact area coverage."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from greasecheck.errors import DataFileError
from greasecheck.print.shapes import Cells, Polygon, bounds, font_path
from greasecheck.reference.srgb import linear_of_srgb, srgb_of_linear

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import Box, FloatArray
    from greasecheck.print.shapes import Drawing, Shape, Text

MM_PER_INCH = 25.4
DPI_RANGE = (30, 1200)
OVERSAMPLING = 4
SOLID = 1 - 1e-6  # a pixel covered except for rounding


def draw_pixels(drawing: Drawing, dpi: float) -> NDArray[np.uint8]:
    """Render a drawing.

    Parameters
    ----------
    drawing : Drawing
        What to draw.
    dpi : float
        Resolution [px/inch], 30 to 1200.

    Returns
    -------
    ndarray, shape (height, width, 3), uint8
        sRGB; partly covered pixels are mixed in linear light.

    Raises
    ------
    DataFileError
        When the resolution is out of range.
    """
    if not DPI_RANGE[0] <= dpi <= DPI_RANGE[1]:
        raise DataFileError(
            f"a resolution of {dpi:g} dpi is out of range",
            hint="choose from {} to {} dpi; 300 suits most printers".format(*DPI_RANGE),
        )
    per_mm = dpi / MM_PER_INCH
    size = round(drawing.height_mm * per_mm), round(drawing.width_mm * per_mm)
    canvas = np.full((*size, 3), 255, dtype=np.uint8)
    for shape in drawing.shapes:
        _blend(canvas, shape, per_mm)
    return canvas


def encode_png(pixels: NDArray[np.uint8], dpi: float) -> bytes:
    """Encode pixels as a PNG file that states its resolution."""
    buffer = BytesIO()
    Image.fromarray(pixels).save(buffer, format="PNG", dpi=(dpi, dpi))
    return buffer.getvalue()


def _blend(canvas: NDArray[np.uint8], shape: Shape, per_mm: float) -> None:
    """Ink the shape onto the canvas, in place."""
    rows, columns = _pixel_span(bounds(shape), per_mm, canvas.shape)
    area = canvas[rows, columns]
    cover = _cover(shape, rows, columns, per_mm)
    area[cover >= SOLID] = shape.rgb
    edge = (cover > 0) & (cover < SOLID)
    share = cover[edge][:, np.newaxis]
    ink = _to_linear(np.array(shape.rgb, dtype=np.uint8))
    area[edge] = _to_coded(_to_linear(area[edge]) * (1 - share) + ink * share)


def _pixel_span(box: Box, per_mm: float, shape: tuple[int, ...]) -> tuple[slice, slice]:
    """Rows and columns that the box touches."""
    left, top = int(box.x_mm * per_mm), int(box.y_mm * per_mm)
    right = int(np.ceil((box.x_mm + box.width_mm) * per_mm)) + 1
    bottom = int(np.ceil((box.y_mm + box.height_mm) * per_mm)) + 1
    return slice(max(top, 0), min(bottom, shape[0])), slice(max(left, 0), min(right, shape[1]))


def _cover(shape: Shape, rows: slice, columns: slice, per_mm: float) -> FloatArray:
    """Share of each pixel of the span that the shape covers."""
    if isinstance(shape, Cells):
        box, inked = shape.box, shape.inked
        down = _axis_cover(rows, box.y_mm * per_mm, box.height_mm * per_mm, inked.shape[0])
        across = _axis_cover(columns, box.x_mm * per_mm, box.width_mm * per_mm, inked.shape[1])
        cover: FloatArray = down @ inked @ across.T
        return cover
    return _sampled_cover(shape, rows, columns, per_mm)


def _axis_cover(span: slice, start: float, length: float, count: int) -> FloatArray:
    """Share, shape (pixels, cells), of each pixel along one axis that each cell covers."""
    pixels = np.arange(span.start, span.stop)[:, np.newaxis]
    edges = start + length * np.arange(count + 1) / count
    overlap = np.minimum(pixels + 1, edges[1:]) - np.maximum(pixels, edges[:-1])
    cover: FloatArray = np.maximum(overlap, 0)
    return cover


def _sampled_cover(shape: Polygon | Text, rows: slice, columns: slice, per_mm: float) -> FloatArray:
    height, width = rows.stop - rows.start, columns.stop - columns.start
    mask = Image.new("L", (width * OVERSAMPLING, height * OVERSAMPLING))
    scale = per_mm * OVERSAMPLING
    origin = np.array([columns.start, rows.start]) * OVERSAMPLING
    if isinstance(shape, Polygon):
        corners = np.array(shape.corners_mm) * scale - origin
        ImageDraw.Draw(mask).polygon([(x, y) for x, y in corners], fill=255)
    else:
        font = ImageFont.truetype(font_path(bold=shape.bold), shape.size_mm * scale)
        x, y = np.array([shape.x_mm, shape.y_mm]) * scale - origin
        ImageDraw.Draw(mask).text((x, y), shape.words, fill=255, font=font, anchor="ls")
    fine = np.asarray(mask, dtype=np.float64) / 255
    cover: FloatArray = fine.reshape(height, OVERSAMPLING, width, OVERSAMPLING).mean(axis=(1, 3))
    return cover


def _to_linear(coded: NDArray[np.uint8]) -> FloatArray:
    return linear_of_srgb(coded / 255)


def _to_coded(linear: FloatArray) -> NDArray[np.uint8]:
    coded: NDArray[np.uint8] = np.rint(srgb_of_linear(linear) * 255).astype(np.uint8)
    return coded
