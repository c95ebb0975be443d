"""Draws the tag of a tub: a card with a marker to read and a number for people."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.errors import SheetError
from greasecheck.print.marker import marker_cells
from greasecheck.print.shapes import CAP_HEIGHT, Cells, Drawing, Text, text_width_mm

if TYPE_CHECKING:
    from greasecheck.model import SheetGeometry
    from greasecheck.print.shapes import Rgb

INK: Rgb = (0, 0, 0)
NUMBER_CAP_MM = 6.0
FOOT_MM = 1.5


def tag_drawing(geometry: SheetGeometry, tub: int) -> Drawing:
    """Draw a tag as large as the sheet's slot.

    Parameters
    ----------
    geometry : SheetGeometry
        Whose slot the tag fits.
    tub : int
        The tub's number, one of `geometry.tag_ids`.

    Raises
    ------
    SheetError
        When there is no tag of that number.
    """
    if tub not in geometry.tag_ids:
        first, last = geometry.tag_ids[0], geometry.tag_ids[-1]
        raise SheetError(
            f"there is no tag for tub {tub}", hint=f"number the tubs from {first} to {last}"
        )
    slot = geometry.tag_slot
    marker = Cells(
        box=geometry.tag_marker.moved(-slot.x_mm, -slot.y_mm),
        inked=marker_cells(geometry.dictionary, tub),
        rgb=INK,
    )
    shapes = (marker, _number(tub, slot.width_mm, slot.height_mm))
    return Drawing(width_mm=slot.width_mm, height_mm=slot.height_mm, shapes=shapes)


def _number(tub: int, width_mm: float, height_mm: float) -> Text:
    size = NUMBER_CAP_MM / CAP_HEIGHT
    return Text(
        x_mm=(width_mm - text_width_mm(str(tub), size, bold=True)) / 2,
        y_mm=height_mm - FOOT_MM,
        size_mm=size,
        words=str(tub),
        bold=True,
        rgb=INK,
    )
