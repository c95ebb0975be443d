"""Draws how to make a dip ladder, how it hangs, and how to draw one by hand."""

from __future__ import annotations

from math import asin, radians, sin, tan
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import Box
from greasecheck.print.layout import DARK, INK, QUIET
from greasecheck.print.pages import upright
from greasecheck.print.shapes import Cells, Drawing, Polygon, Text, rectangle
from greasecheck.reference.water import WATER_INDEX

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from greasecheck.print.pages import Paper
    from greasecheck.print.shapes import Rgb, Shape
    from greasecheck.reference.ladder.plate import DipLadder

MARGIN_MM = 16.0
TITLE_SIZE_MM, WORDS_SIZE_MM, LINE_MM = 7.0, 3.7, 5.6
WATER: Rgb = (206, 226, 238)
WALL: Rgb = (150, 150, 150)
RAY: Rgb = (200, 90, 30)
LINE_WIDTH_MM = 0.35
SCALE = 0.62  # of the plate in the drawing of its sizes

MAKING = (
    "1  Print the plate at 100 % on matt paper, one for each tub. Its stripes measure 170 mm.",
    "2  Cut it out along the outline: a T whose wings stay dry.",
    "3  Glue it on white foamed PVC of 3 mm, cut alike. Laminate it MATT, the film 5 mm wider",
    "    all round; press the edges together and seal them with clear silicone.",
    "4  Hook: a strip of stainless steel, 20 x 2 mm, bent over the rim, screwed on from behind",
    "    through a slot of 40 mm in the black part, so that the height can be set.",
    "5  Weight: two stainless nuts of 50 g behind the lower end, so that it hangs upright.",
)
HANGING = (
    "6  Hang it at the FAR wall of the tub, facing you. The water stands between the wings and",
    "    the stripes: its surface crosses the black part.",
    "7  Photograph it from the front, 30 to 45 degrees from straight down, 30 to 120 cm away,",
    "    without flash. No lamp, no window and no foam mirrors on the stripes.",
    "8  Wipe the plate and its first wet bars with soap until they are white again.",
    "9  ONE LADDER FOR EACH TUB: it carries grease and germs from one tub to the next.",
)
CARE = (
    "Heaters and lamps near water: only on a residual-current device, plugs above the tubs.",
    "Unplug the heater before a hand goes into the bath. Wear gloves; wash your hands.",
)
BY_HAND = (
    "Material: white rigid plastic (foamed PVC, acrylic), rubbed matt; a waterproof black pen with",
    "a broad tip, or matt black adhesive film; a steel ruler; printed wings (cut them from page 1,",
    "laminate them). No size other than these: greasecheck knows them by heart.",
    "",
    "What matters, and how much of it:",
    "  lengths from the upper edge of the wings down          within 1 mm in 170 mm",
    "  each edge of a 3 mm stripe                                          within 0.4 mm",
    "  each edge of an 8 mm stripe                                        within 1 mm",
    "  each edge of a rung (every 5 mm)                               within 0.5 mm",
    "  wings on the plate: level, markers at their places     within 0.5 mm",
    "  black: two coats, so that nothing shines through; no gloss",
)


def making_page(ladder: DipLadder, paper: Paper) -> Drawing:
    """Draw how to make and hang the plate."""
    page = upright(paper)
    lines = (*MAKING, "", *HANGING, "", *CARE)
    shapes = (
        *_title("How to make it, and how it hangs"),
        *_words(lines, 2 * MARGIN_MM),
        *_tub(page.width_mm / 2, 2 * MARGIN_MM + (len(lines) + 1) * LINE_MM, ladder),
    )
    return Drawing(width_mm=page.width_mm, height_mm=page.height_mm, shapes=shapes)


def drawn_page(ladder: DipLadder, paper: Paper) -> Drawing:
    """Draw the sizes of a plate to be drawn by hand, with the tolerances it needs."""
    page = upright(paper)
    top = 2 * MARGIN_MM + (len(BY_HAND) + 1) * LINE_MM
    shapes = (
        *_title("Or drawn by hand, with ruler and pen"),
        *_words(BY_HAND, 2 * MARGIN_MM),
        *_sizes(ladder, (page.width_mm - ladder.width_mm * SCALE) / 2, top),
    )
    return Drawing(width_mm=page.width_mm, height_mm=page.height_mm, shapes=shapes)


def _title(words: str) -> Iterator[Shape]:
    yield _text(MARGIN_MM, 1.4 * MARGIN_MM, words, size=TITLE_SIZE_MM, bold=True)


def _words(lines: Sequence[str], top: float) -> Iterator[Shape]:
    for number, line in enumerate(lines):
        if line:
            yield _text(MARGIN_MM, top + number * LINE_MM, line)


def _text(
    x: float, y: float, words: str, *, size: float = WORDS_SIZE_MM, bold: bool = False
) -> Text:
    return Text(x_mm=x, y_mm=y, size_mm=size, words=words, bold=bold, rgb=DARK)


def _line(start: tuple[float, float], end: tuple[float, float], rgb: Rgb) -> Polygon:
    """Draw a straight line as a thin polygon."""
    way = np.array(end) - np.array(start)
    across = np.array([-way[1], way[0]]) / np.hypot(*way) * LINE_WIDTH_MM / 2
    corners = [start + across, end + across, end - across, start - across]
    return Polygon(corners_mm=tuple((float(x), float(y)) for x, y in corners), rgb=rgb)


def _tub(middle: float, top: float, ladder: DipLadder) -> Iterator[Shape]:
    """Draw a tub from the side: the plate at the far wall, water, camera and sight lines."""
    scale, wall = 0.3, 2.0
    left, floor = middle - 50, top + 108
    water = floor - 60.0
    rim, right = water - 14.0, left + 92.0
    yield rectangle(Box(x_mm=left, y_mm=water, width_mm=92.0, height_mm=60.0), WATER)
    for x in (left - wall, right):
        yield rectangle(Box(x_mm=x, y_mm=rim, width_mm=wall, height_mm=floor - rim), WALL)
    yield rectangle(Box(x_mm=left - wall, y_mm=floor, width_mm=96.0, height_mm=wall), WALL)
    plate_top = water - ladder.waterline_mm * scale
    length = ladder.lower_end_mm * scale
    yield rectangle(Box(x_mm=left + 2, y_mm=plate_top, width_mm=1.2, height_mm=length), INK)
    yield rectangle(Box(x_mm=left - 5, y_mm=rim - 1.2, width_mm=8.0, height_mm=1.2), DARK)
    yield rectangle(Box(x_mm=left - 5, y_mm=rim - 1.2, width_mm=1.2, height_mm=9.0), DARK)
    yield from _sight(left + 3.2, water)
    yield _text(left - 46, water - 22, "wings and black part: dry", size=3.2)
    yield _text(left + 24, water + 30, "stripes: in the water", size=3.2)
    yield _text(left - 40, rim + 6, "hook over the rim", size=3.2)


def _sight(x: float, water: float) -> Iterator[Shape]:
    """Draw sight lines at 30 and 45 degrees, bent at the surface, with their names."""
    for air_deg in (30.0, 45.0):
        air = radians(air_deg)
        below = asin(sin(air) / WATER_INDEX)
        depth, height = 24.0, 46.0
        surface = x + depth * tan(below)
        eye = (surface + height * tan(air), water - height)
        yield _line((x, water + depth), (surface, water), RAY)
        yield _line((surface, water), eye, RAY)
        yield _text(eye[0] - 4, eye[1] - 2, f"{air_deg:.0f} degrees", size=3.2)


def _sizes(ladder: DipLadder, left: float, top: float) -> Iterator[Shape]:
    """Draw the plate smaller, with the sizes that a hand needs."""

    def placed(box: Box) -> Box:
        return Box(
            x_mm=left + box.x_mm * SCALE,
            y_mm=top + box.y_mm * SCALE,
            width_mm=box.width_mm * SCALE,
            height_mm=box.height_mm * SCALE,
        )

    stripes, rungs = ladder.stripes, ladder.rungs
    for box in (*ladder.wings, ladder.body):
        yield from _frame(placed(box))
    yield rectangle(placed(ladder.black), (70, 70, 70))
    for box, bar in ((stripes.fine, stripes.fine_bar_mm), (stripes.coarse, stripes.coarse_bar_mm)):
        inked = np.arange(round(box.width_mm / bar)) % 2 == 1
        yield Cells(box=placed(box), inked=inked[np.newaxis, :], rgb=INK)
    for box in rungs.columns:
        inked = np.arange(round(box.height_mm / rungs.step_mm)) % 2 == 1
        yield Cells(box=placed(box), inked=inked[:, np.newaxis], rgb=INK)
    for box in ladder.wings:
        yield _text(placed(box).x_mm + 4, placed(box).y_mm + 26, "printed wing", size=3.2)
    yield from _size_words(ladder, left, top)


def _frame(box: Box) -> Iterator[Shape]:
    right, bottom = box.x_mm + box.width_mm, box.y_mm + box.height_mm
    yield _line((box.x_mm, box.y_mm), (right, box.y_mm), QUIET)
    yield _line((box.x_mm, bottom), (right, bottom), QUIET)
    yield _line((box.x_mm, box.y_mm), (box.x_mm, bottom), QUIET)
    yield _line((right, box.y_mm), (right, bottom), QUIET)


def _size_words(ladder: DipLadder, left: float, top: float) -> Iterator[Shape]:
    """Write where each part begins: x from the left edge, y from the upper edge of the wings."""
    stripes = ladder.stripes
    right = left + (ladder.body.x_mm + ladder.body.width_mm) * SCALE + 4
    rows = (
        f"black: x {ladder.black.x_mm:.0f} to {ladder.black.x_mm + ladder.black.width_mm:.0f}, "
        f"y 0 to {ladder.black.height_mm:.0f}",
        f"3 mm: x {stripes.fine.x_mm:.0f} to {stripes.fine.x_mm + stripes.fine.width_mm:.0f}",
        f"8 mm: x {stripes.coarse.x_mm:.0f} to {stripes.coarse.x_mm + stripes.coarse.width_mm:.0f}",
        *(
            f"rungs: x {box.x_mm:.0f} to {box.x_mm + box.width_mm:.0f}"
            for box in ladder.rungs.columns
        ),
        f"all: y {stripes.fine.y_mm:.0f} to {stripes.fine.y_mm + stripes.fine.height_mm:.0f}",
        "the first stripe and rung are white",
    )
    for number, words in enumerate(rows):
        yield _text(right, top + 100 * SCALE + number * LINE_MM, words, size=3.2)
