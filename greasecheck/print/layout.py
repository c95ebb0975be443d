"""Lays out the sheet: geometry and print colours become shapes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import DataFileError
from greasecheck.model import Box
from greasecheck.print.marker import marker_cells
from greasecheck.print.shapes import Cells, Drawing, Polygon, Text, rectangle

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from greasecheck.model import ContrastLadder, JarPlace, PatchValues, Ruler, SheetGeometry, Sight
    from greasecheck.print.shapes import Rgb, Shape

INK: Rgb = (0, 0, 0)
DARK: Rgb = (60, 60, 60)
QUIET: Rgb = (120, 120, 120)
HAIRLINE_MM = 0.2
DASH_MM = 2.0
SLOT_GAP_MM = 0.5
MIDDLE_TICK_MM = 2.5  # marks the middle of the jar's outline
TICK_MM = {10: 3.0, 5: 2.2, 1: 1.4}  # length of every tenth, fifth and other tick of the ruler


def sheet_drawing(geometry: SheetGeometry, values: PatchValues) -> Drawing:
    """Lay out a sheet.

    Parameters
    ----------
    geometry : SheetGeometry
        Where everything is.
    values : PatchValues
        Whose `rgb` colours the patches.

    Returns
    -------
    Drawing
        The printed area; bare paper is white.

    Raises
    ------
    DataFileError
        When the patch values carry no print colours.
    """
    shapes = (
        *_markers(geometry),
        *_patches(geometry, values),
        *_parts(geometry, values),
        *_notes(geometry),
    )
    return Drawing(width_mm=geometry.width_mm, height_mm=geometry.height_mm, shapes=shapes)


def _parts(geometry: SheetGeometry, values: PatchValues) -> Iterator[Shape]:
    """Draw the parts that this design has."""
    if geometry.bars is not None:
        yield from _sight(geometry.bars)
    if geometry.ladder is not None:
        yield from _ladder(geometry.ladder, values)
    if geometry.tag is not None:
        yield from _tag_slot(geometry.tag.slot)
    if geometry.jar is not None:
        yield from _fill_line(geometry.jar)
    if geometry.jar is not None and geometry.jar.outline is not None:
        yield from _jar_outline(geometry.jar.outline)
    if geometry.ruler is not None:
        yield from _ruler(geometry.ruler)
    if geometry.rest is not None:
        yield from _arrow(geometry.rest.arrow)


def _markers(geometry: SheetGeometry) -> Iterator[Shape]:
    for marker in geometry.markers:
        cells = marker_cells(geometry.dictionary, marker.id)
        yield Cells(box=marker.box, inked=cells, rgb=INK)


def _patches(geometry: SheetGeometry, values: PatchValues) -> Iterator[Shape]:
    if values.rgb is None:
        raise DataFileError(
            f"the patch values of {values.source} carry no print colours",
            hint="print with the nominal values that come with greasecheck",
        )
    for name, box in geometry.patches.items():
        yield rectangle(box, _print_rgb(values, name))


def _print_rgb(values: PatchValues, name: str) -> Rgb:
    assert values.rgb is not None
    red, green, blue = values.rgb[values.names.index(name)]
    return int(red), int(green), int(blue)


def _sight(sight: Sight) -> Iterator[Shape]:
    for box in (sight.wet_fine, sight.dry_fine, *((sight.glass,) if sight.glass else ())):
        yield _bars(box, sight.fine_bar_mm)
    for box in (sight.wet_coarse, sight.dry_coarse):
        yield _bars(box, sight.coarse_bar_mm)


def _bars(box: Box, bar_mm: float, rgb: Rgb = INK) -> Cells:
    """Upright bars, the first one inked."""
    inked = np.arange(round(box.width_mm / bar_mm)) % 2 == 0
    return Cells(box=box, inked=inked[np.newaxis, :], rgb=rgb)


def _ladder(ladder: ContrastLadder, values: PatchValues) -> Iterator[Shape]:
    """Draw each cell's ground in its light grey, and the dark bars on it."""
    for cell in ladder.cells:
        dark = _print_rgb(values, f"{cell.name}-dark")
        yield rectangle(cell.box, _print_rgb(values, f"{cell.name}-light"))
        yield _bars(cell.fine, ladder.fine_bar_mm, dark)
        yield _bars(cell.coarse, ladder.coarse_bar_mm, dark)


def _tag_slot(slot: Box) -> Iterator[Shape]:
    """Draw a dashed outline just outside the slot, so that the tag does not hide it."""
    frame = slot.inset(-SLOT_GAP_MM - HAIRLINE_MM)
    right = frame.x_mm + frame.width_mm - HAIRLINE_MM
    bottom = frame.y_mm + frame.height_mm - HAIRLINE_MM
    across = _dashes(frame.width_mm)[np.newaxis, :]
    down = _dashes(frame.height_mm)[:, np.newaxis]
    for y in (frame.y_mm, bottom):
        box = Box(x_mm=frame.x_mm, y_mm=y, width_mm=frame.width_mm, height_mm=HAIRLINE_MM)
        yield Cells(box=box, inked=across, rgb=QUIET)
    for x in (frame.x_mm, right):
        box = Box(x_mm=x, y_mm=frame.y_mm, width_mm=HAIRLINE_MM, height_mm=frame.height_mm)
        yield Cells(box=box, inked=down, rgb=QUIET)


def _dashes(length_mm: float) -> NDArray[np.bool_]:
    """Dashes and gaps of about `DASH_MM`, a dash at either end."""
    count = 2 * round(length_mm / DASH_MM / 2) + 1
    dashes: NDArray[np.bool_] = np.arange(count) % 2 == 0
    return dashes


def _jar_outline(box: Box) -> Iterator[Shape]:
    """Draw where the jar stands: its sides and top dashed, its middle by a tick."""
    right = box.x_mm + box.width_mm
    down, across = _dashes(box.height_mm)[:, np.newaxis], _dashes(box.width_mm)[np.newaxis, :]
    for x in (box.x_mm, right - HAIRLINE_MM):
        side = Box(x_mm=x, y_mm=box.y_mm, width_mm=HAIRLINE_MM, height_mm=box.height_mm)
        yield Cells(box=side, inked=down, rgb=QUIET)
    top = Box(x_mm=box.x_mm, y_mm=box.y_mm, width_mm=box.width_mm, height_mm=HAIRLINE_MM)
    yield Cells(box=top, inked=across, rgb=QUIET)
    middle = box.centre_mm[0] - HAIRLINE_MM / 2
    tick = Box(x_mm=middle, y_mm=box.y_mm, width_mm=HAIRLINE_MM, height_mm=MIDDLE_TICK_MM)
    yield rectangle(tick, QUIET)


def _fill_line(place: JarPlace) -> Iterator[Shape]:
    """Draw a tick on either side of the jar; a pointer on its right where no outline is drawn."""
    jar, y = place.zone, place.fill_line_y_mm
    right = jar.x_mm + jar.width_mm
    tick = Box(x_mm=jar.x_mm - 3.5, y_mm=y - 0.3, width_mm=3.5, height_mm=0.6)
    yield rectangle(tick, DARK)
    if place.outline is not None:
        yield rectangle(tick.moved(jar.width_mm + 3.5, 0), DARK)
        return
    yield Polygon(corners_mm=((right, y), (right + 4, y - 2), (right + 4, y + 2)), rgb=DARK)
    yield rectangle(Box(x_mm=right + 4, y_mm=y - 0.3, width_mm=4.0, height_mm=0.6), DARK)


def _ruler(ruler: Ruler) -> Iterator[Shape]:
    """Draw a line with a tick each mm; ticks stand with their middle on the mm."""
    x, y = ruler.start_mm
    length = ruler.length_mm
    line = Box(x_mm=x, y_mm=y - HAIRLINE_MM, width_mm=length, height_mm=HAIRLINE_MM)
    yield rectangle(line, DARK)
    for mm in range(round(length) + 1):
        height = next(tick for step, tick in TICK_MM.items() if mm % step == 0)
        left = x + mm - HAIRLINE_MM / 2
        yield rectangle(Box(x_mm=left, y_mm=y, width_mm=HAIRLINE_MM, height_mm=height), DARK)


def _arrow(box: Box) -> Iterator[Shape]:
    """Draw an arrow to the right that fills the box."""
    right, (_, y) = box.x_mm + box.width_mm, box.centre_mm
    neck = right - box.height_mm
    yield rectangle(Box(x_mm=box.x_mm, y_mm=y - 0.6, width_mm=neck - box.x_mm, height_mm=1.2), DARK)
    corners = ((neck, box.y_mm), (right, y), (neck, box.y_mm + box.height_mm))
    yield Polygon(corners_mm=corners, rgb=DARK)


def _notes(geometry: SheetGeometry) -> Iterator[Shape]:
    for note in geometry.notes:
        yield Text(
            x_mm=note.x_mm,
            y_mm=note.y_mm,
            size_mm=note.size_mm,
            words=note.words,
            bold=note.bold,
            rgb=DARK,
        )
