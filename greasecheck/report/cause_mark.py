"""Marks on a photo the place that the most telling cause of a doubt or refusal is about."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PIL import ImageFont

from greasecheck.measure.sheet.pose import box_corners
from greasecheck.measure.sheet.samples import sheet_to_pixels
from greasecheck.model import Box, ReadingKind, Verdict
from greasecheck.model.check_places import Place, place_of
from greasecheck.report.ladder_marks import ladder_readings_of
from greasecheck.words.photos.places import place_words
from greasecheck.words.photos.readings import first_cause

if TYPE_CHECKING:
    from collections.abc import Iterable

    from PIL import ImageDraw

    from greasecheck.measure.reading import PhotoView
    from greasecheck.model import FloatArray, Reading, SheetGeometry

WARNING_COLOUR = (255, 120, 30)
EDGE_COLOUR = (20, 20, 24)
LINE_PX, EDGE_PX = 8, 14
FONT_PX, PAD_PX = 44, 10  # of a picture 1400 px wide, legible on a phone 390 px wide
AROUND_MM = 3.0  # between what is meant and its outline
SMALL_MM = 10.0  # the same of a single window or patch
ALIKE = 0.5  # of the largest change: windows that differ so much are marked together


def mark_cause(draw: ImageDraw.ImageDraw, view: PhotoView, scale: float) -> None:
    """Outline the place of the most telling cause, and name it; nothing where no place shows it.

    Parameters
    ----------
    draw : PIL.ImageDraw.ImageDraw
        The picture.
    view : PhotoView
        The read photo.
    scale : float
        Pixels of the picture for one of the photo.
    """
    reading = _worst(view)
    cause = first_cause(reading)
    place = None if cause is None else place_of(cause)
    outline_px = None if place is None else cause_outline_px(view, reading, place)
    if place is None or outline_px is None:
        return
    corners = [(float(x), float(y)) for x, y in outline_px * scale]
    for colour, width in ((EDGE_COLOUR, EDGE_PX), (WARNING_COLOUR, LINE_PX)):
        draw.line([*corners, *corners[:2]], fill=colour, width=width, joint="curve")
    on_card = view.placement is not None and view.placement.geometry.is_card
    _name(draw, corners, f"Here: {place_words(place, on_card=on_card)}")


def _worst(view: PhotoView) -> Reading:
    """Return the reading that the mark is about: of several ladders the first of the worst."""
    ladders = ladder_readings_of(view) if view.reading.kind is ReadingKind.LADDER else ()
    return max(ladders or (view.reading,), key=lambda one: list(Verdict).index(one.verdict))


def cause_outline_px(view: PhotoView, reading: Reading, place: Place) -> FloatArray | None:
    """Return the corners of a place in pixels of the photo, shape (4, 2).

    None where the photo's chart has no such place, or nothing was found there.
    """
    if place is Place.DIP_LADDER:
        pairs = zip(ladder_readings_of(view), view.ladders, strict=True)
        return next((seen.outline_px for one, seen in pairs if one is reading), None)
    if view.placement is None:
        return None
    if place is Place.BONE and view.card is not None and view.photo is not None:
        pieces = [np.array(one.outline_px) for one in view.card.reading.pieces]
        return box_corners(_around(np.concatenate(pieces))) / view.photo.reduced_by
    box = _box(view, view.placement.geometry, place)
    return None if box is None else sheet_to_pixels(view.placement, box_corners(box))


def _box(view: PhotoView, sheet: SheetGeometry, place: Place) -> Box | None:
    """Return a place of a chart in its own coordinates [mm]."""
    rest = sheet.rest.zone if sheet.rest else None
    match place:
        case Place.PATCHES:
            hidden = [sheet.patches[name] for name in view.colour.dropped] if view.colour else []
            return _joined(hidden or sheet.patches.values())
        case Place.PAPER:
            return _least_usual_paper(view, sheet)
        case Place.BONE:
            return rest if view.bone is None else _around(np.concatenate(view.bone.outlines_mm))
        case Place.CHART | Place.TAG | Place.JAR | Place.REST:
            return {
                Place.CHART: _whole(sheet),
                Place.TAG: sheet.tag.slot if sheet.tag else None,
                Place.JAR: sheet.jar.zone if sheet.jar else None,
                Place.REST: rest,
            }[place]
        case _:
            return _field(sheet, place)


def _whole(sheet: SheetGeometry) -> Box:
    return Box(x_mm=0, y_mm=0, width_mm=sheet.width_mm, height_mm=sheet.height_mm)


def _field(sheet: SheetGeometry, place: Place) -> Box | None:
    """Return where the bars of a sheet are [mm]."""
    if place is Place.CONTRAST_LADDER:
        return _joined(cell.box for cell in sheet.ladder.cells) if sheet.ladder else None
    if sheet.bars is None:
        return None
    if place is Place.GLASS:
        return sheet.bars.glass
    if place is Place.DRY_BARS:
        return _joined((sheet.bars.dry_fine, sheet.bars.dry_coarse))
    return _joined((sheet.bars.wet_fine, sheet.bars.wet_coarse))


def _least_usual_paper(view: PhotoView, sheet: SheetGeometry) -> Box | None:
    """Return the bare paper whose light changed most, or without a reference is most unlike.

    Where windows far apart are nearly as unlike, the fitted light was bent by something between.
    """
    if view.colour is None:
        return None
    now = view.colour.misfit.windows
    clear = view.water.clear.surroundings if view.water else None
    then = clear.paper if clear and len(clear.paper) == len(now) else (0.0,) * len(now)
    apart = [
        0.0 if one is None or other is None else abs(one - other)
        for one, other in zip(now, then, strict=True)
    ]
    least = ALIKE * max(apart)
    odd = [box for box, one in zip(sheet.paper_windows, apart, strict=True) if one >= least]
    return _joined(odd).inset(AROUND_MM - SMALL_MM)


def _joined(boxes: Iterable[Box]) -> Box:
    """Return the box around some."""
    return _around(np.concatenate([box_corners(box) for box in boxes]))


def _around(points: FloatArray) -> Box:
    """Return the upright box around some points."""
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    return Box(
        x_mm=float(left), y_mm=float(top), width_mm=float(right - left),
        height_mm=float(bottom - top),
    )  # fmt: skip


def _name(draw: ImageDraw.ImageDraw, corners: list[tuple[float, float]], words: str) -> None:
    """Write what the outline is above it, else below it, else inside its upper edge."""
    font = ImageFont.load_default(size=FONT_PX)
    left, top = min(x for x, _ in corners), min(y for _, y in corners)
    _, _, width, height = draw.textbbox((0, 0), words, font=font)
    page_width, page_height = draw.im.size
    room = page_width - width - 2 * PAD_PX
    x = min(max(left, 0.0), max(room, 0.0))
    tall = height + 2 * PAD_PX
    above, below = top - tall - EDGE_PX, max(y for _, y in corners) + EDGE_PX
    inside = min(max(top, 0.0) + EDGE_PX, page_height - tall)
    y = above if above >= 0 else below if below + tall <= page_height else inside
    draw.rectangle((x, y, x + width + 2 * PAD_PX, y + height + 2 * PAD_PX), fill=WARNING_COLOUR)
    draw.text((x + PAD_PX, y + PAD_PX), words, font=font, fill=EDGE_COLOUR)
