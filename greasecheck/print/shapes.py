"""What a drawing is made of: shapes in mm, which the PDF and the PNG drawer both render."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import reportlab
from PIL import ImageFont

from greasecheck.model import Box

if TYPE_CHECKING:
    from numpy.typing import NDArray

Rgb = tuple[int, int, int]
FONT_FILES = {False: "Vera.ttf", True: "VeraBd.ttf"}
CAP_HEIGHT = 0.729  # of the font size; the glyph H of the Vera fonts
DESCENT = 0.236  # of the font size; hhea table of the Vera fonts
MEASURE_PX = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Cells:
    """A box divided evenly into cells, some of them inked; one inked cell is a rectangle.

    Attributes
    ----------
    box : Box
        The outline [mm].
    inked : ndarray, shape (rows, columns), bool
        The cells to fill.
    rgb : tuple of int
        Colour of the ink, 0 to 255.
    """

    box: Box
    inked: NDArray[np.bool_]
    rgb: Rgb


@dataclass(frozen=True, slots=True, kw_only=True)
class Polygon:
    """A filled polygon; its corners are (x, y) [mm]."""

    corners_mm: tuple[tuple[float, float], ...]
    rgb: Rgb


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A line of text.

    Attributes
    ----------
    x_mm, y_mm : float
        Left end of the baseline [mm].
    size_mm : float
        Font size [mm]; capitals are `CAP_HEIGHT` of it high.
    words : str
        What it says.
    bold : bool
        Whether in the bold cut.
    rgb : tuple of int
        Colour, 0 to 255.
    """

    x_mm: float
    y_mm: float
    size_mm: float
    words: str
    bold: bool
    rgb: Rgb


Shape = Cells | Polygon | Text


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Shapes on a white rectangle whose origin is the upper left corner, y down."""

    width_mm: float
    height_mm: float
    shapes: tuple[Shape, ...]


def rectangle(box: Box, rgb: Rgb) -> Cells:
    """Return a filled rectangle."""
    return Cells(box=box, inked=np.ones((1, 1), dtype=np.bool_), rgb=rgb)


def shifted(shape: Shape, x_mm: float, y_mm: float) -> Shape:
    """Return the shape moved to the right and down [mm]."""
    if isinstance(shape, Cells):
        return replace(shape, box=shape.box.moved(x_mm, y_mm))
    if isinstance(shape, Polygon):
        corners = tuple((x + x_mm, y + y_mm) for x, y in shape.corners_mm)
        return replace(shape, corners_mm=corners)
    return replace(shape, x_mm=shape.x_mm + x_mm, y_mm=shape.y_mm + y_mm)


def font_path(*, bold: bool) -> Path:
    """Return the font file, which comes with reportlab (Bitstream Vera, free to embed)."""
    return Path(reportlab.__file__).parent / "fonts" / FONT_FILES[bold]


def text_width_mm(words: str, size_mm: float, *, bold: bool) -> float:
    """Return the advance width of a line of text [mm]."""
    return _measuring_font(bold).getlength(words) * size_mm / MEASURE_PX


def bounds(shape: Shape) -> Box:
    """Return the upright box that holds all of a shape [mm].

    Examples
    --------
    >>> arrow = Polygon(corners_mm=((0, 0), (3, 1), (0, 2)), rgb=(0, 0, 0))
    >>> bounds(arrow)
    Box(x_mm=0, y_mm=0, width_mm=3, height_mm=2)
    """
    if isinstance(shape, Cells):
        return shape.box
    if isinstance(shape, Polygon):
        xs, ys = zip(*shape.corners_mm, strict=True)
        return Box(
            x_mm=min(xs), y_mm=min(ys), width_mm=max(xs) - min(xs), height_mm=max(ys) - min(ys)
        )
    return Box(
        x_mm=shape.x_mm,
        y_mm=shape.y_mm - CAP_HEIGHT * shape.size_mm,
        width_mm=text_width_mm(shape.words, shape.size_mm, bold=shape.bold),
        height_mm=(CAP_HEIGHT + DESCENT) * shape.size_mm,
    )


@cache
def _measuring_font(bold: bool) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(font_path(bold=bold), MEASURE_PX)
