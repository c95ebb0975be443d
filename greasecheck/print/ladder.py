"""Draws the dip ladder: stripes that run down into the water, dry twins, markers, the tub's tag."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import Box, Tag, TagOwner
from greasecheck.print.ladder_plan import drawn_page, making_page
from greasecheck.print.layout import DARK, INK
from greasecheck.print.marker import marker_cells
from greasecheck.print.pages import Paper, upright_page
from greasecheck.print.pdf import encode_pdf
from greasecheck.print.raster import draw_pixels
from greasecheck.print.shapes import CAP_HEIGHT, Cells, Drawing, Text, rectangle
from greasecheck.reference.tags import TAG_DICTIONARY, marker_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from greasecheck.print.shapes import Shape
    from greasecheck.reference.ladder.plate import DipLadder

NUMBER_CAP_MM = 8.0
DEPTH_SIZE_MM = 4.2
NAME_SIZE_MM = 3.2
NAME_BELOW_MM = 3.9  # from the stripes' lower end to the baseline of the plate's name
OUTLINE_MM = 0.3


def ladder_pdf(ladder: DipLadder, tubs: Sequence[int], paper: Paper) -> bytes:
    """Return a plate for each tub at true size, then how to make and hang it, or draw it by hand.

    Parameters
    ----------
    ladder : DipLadder
        The design.
    tubs : sequence of int
        Whose plates; one without number, for a tag to be glued on, when empty.
    paper : Paper
        The page.
    """
    plates = [ladder_drawing(ladder, tub) for tub in tubs or (None,)]
    pages = [upright_page(plate, paper) for plate in plates]
    guides = [making_page(ladder, paper), drawn_page(ladder, paper)]
    return encode_pdf([*pages, *guides], f"greasecheck dip ladder, design {ladder.version}")


def draw_ladder_png(ladder: DipLadder, tub: int | None, dpi: float) -> NDArray[np.uint8]:
    """Draw a plate as pixels, shape (height, width, 3), at `dpi` [px/inch]."""
    return draw_pixels(ladder_drawing(ladder, tub), dpi)


def ladder_drawing(ladder: DipLadder, tub: int | None) -> Drawing:
    """Lay out the plate of a tub.

    Raises
    ------
    SheetError
        When there is no tag for that tub.
    """
    shapes = (
        *_outline(ladder),
        rectangle(ladder.black, INK),
        *_markers(ladder),
        *_stripes(ladder),
        *_rungs(ladder),
        *_greys(ladder),
        *_tag(ladder, tub),
        _name(ladder),
    )
    return Drawing(width_mm=ladder.width_mm, height_mm=ladder.height_mm, shapes=shapes)


def _outline(ladder: DipLadder) -> Iterator[Shape]:
    """Draw the outline to cut along: the wings, then the body."""
    for box in (*ladder.wings, ladder.body):
        right, bottom = box.x_mm + box.width_mm, box.y_mm + box.height_mm
        for y in (box.y_mm, bottom - OUTLINE_MM):
            line = Box(x_mm=box.x_mm, y_mm=y, width_mm=box.width_mm, height_mm=OUTLINE_MM)
            yield rectangle(line, DARK)
        for x in (box.x_mm, right - OUTLINE_MM):
            line = Box(x_mm=x, y_mm=box.y_mm, width_mm=OUTLINE_MM, height_mm=box.height_mm)
            yield rectangle(line, DARK)


def _markers(ladder: DipLadder) -> Iterator[Shape]:
    for number, box in ladder.markers.items():
        yield Cells(box=box, inked=marker_cells(ladder.dictionary, number), rgb=INK)


def _stripes(ladder: DipLadder) -> Iterator[Shape]:
    stripes = ladder.stripes
    for box in (stripes.fine, stripes.dry_fine):
        yield _upright_stripes(box, stripes.fine_bar_mm)
    for box in (stripes.coarse, stripes.dry_coarse):
        yield _upright_stripes(box, stripes.coarse_bar_mm)


def _upright_stripes(box: Box, bar_mm: float) -> Cells:
    inked = np.arange(round(box.width_mm / bar_mm)) % 2 == 1
    return Cells(box=box, inked=inked[np.newaxis, :], rgb=INK)


def _rungs(ladder: DipLadder) -> Iterator[Shape]:
    """Draw the rungs, and the depth below the first one beside every other [mm]."""
    rungs = ladder.rungs
    for box in rungs.columns:
        inked = np.arange(round(box.height_mm / rungs.step_mm)) % 2 == 1
        yield Cells(box=box, inked=inked[:, np.newaxis], rgb=INK)
    top, height = rungs.columns[0].y_mm, rungs.columns[0].height_mm
    for number in range(1, round(height / rungs.numbers_every_mm) + 1):
        depth = number * rungs.numbers_every_mm
        yield Text(
            x_mm=rungs.numbers_x_mm,
            y_mm=top + depth - rungs.step_mm / 4,
            size_mm=DEPTH_SIZE_MM if depth < 100 else DEPTH_SIZE_MM * 0.7,
            words=f"{depth:.0f}",
            bold=True,
            rgb=INK,
        )


def _greys(ladder: DipLadder) -> Iterator[Shape]:
    for grey in ladder.greys.values():
        if grey.rgb < 255:
            for box in grey.boxes:
                yield rectangle(box, (grey.rgb, grey.rgb, grey.rgb))


def _tag(ladder: DipLadder, tub: int | None) -> Iterator[Shape]:
    if tub is None:
        return
    marker = marker_of(Tag(number=tub, owner=TagOwner.TUB))
    yield Cells(box=ladder.tag_marker, inked=marker_cells(TAG_DICTIONARY, marker), rgb=INK)
    x, y = ladder.tag_number_mm
    size = NUMBER_CAP_MM / CAP_HEIGHT
    yield Text(x_mm=x, y_mm=y, size_mm=size, words=str(tub), bold=True, rgb=INK)


def _name(ladder: DipLadder) -> Text:
    field = ladder.stripes.fine
    return Text(
        x_mm=ladder.rungs.columns[0].x_mm,
        y_mm=field.y_mm + field.height_mm + NAME_BELOW_MM,
        size_mm=NAME_SIZE_MM,
        words=f"greasecheck dip ladder {ladder.version}, stripes {field.height_mm:.0f} mm long",
        bold=False,
        rgb=DARK,
    )
