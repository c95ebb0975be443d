"""Draws the tag of a tub or skull: a card with a marker to read and a number for people."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.model import TagOwner
from greasecheck.print.marker import marker_cells
from greasecheck.print.shapes import CAP_HEIGHT, Cells, Drawing, Text, text_width_mm
from greasecheck.reference.tags import TAG_DICTIONARY, marker_of

if TYPE_CHECKING:
    from greasecheck.model import SheetGeometry, Tag
    from greasecheck.print.shapes import Rgb

INK: Rgb = (0, 0, 0)
NUMBER_CAP_MM = 6.0
FOOT_MM = 1.5
SKULL_PREFIX = "S"  # distinguishes a skull's tag from a tub's


def tag_drawing(geometry: SheetGeometry, tag: Tag) -> Drawing:
    """Draw a tag as large as the slot of a sheet or card.

    Parameters
    ----------
    geometry : SheetGeometry
        Whose slot the tag fits.
    tag : Tag
        Whose it is.

    Raises
    ------
    SheetError
        When there is no tag of that number.
    """
    slot = geometry.tag_slot
    marker = Cells(
        box=geometry.tag_marker.moved(-slot.x_mm, -slot.y_mm),
        inked=marker_cells(TAG_DICTIONARY, marker_of(tag)),
        rgb=INK,
    )
    words = str(tag.number) if tag.owner is TagOwner.TUB else f"{SKULL_PREFIX}{tag.number}"
    shapes = (marker, _number(words, slot.width_mm, slot.height_mm))
    return Drawing(width_mm=slot.width_mm, height_mm=slot.height_mm, shapes=shapes)


def _number(words: str, width_mm: float, height_mm: float) -> Text:
    size = NUMBER_CAP_MM / CAP_HEIGHT
    return Text(
        x_mm=(width_mm - text_width_mm(words, size, bold=True)) / 2,
        y_mm=height_mm - FOOT_MM,
        size_mm=size,
        words=words,
        bold=True,
        rgb=INK,
    )
