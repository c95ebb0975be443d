"""Draws on a photo the ladders that were found in it: plate, waterline, what each tells."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.sheet.pose import box_corners
from greasecheck.model import Box, ReadingKind, Verdict
from greasecheck.reference.ladder.plate import dip_ladder

if TYPE_CHECKING:
    from PIL import ImageDraw

    from greasecheck.measure.ladder.look import LadderView
    from greasecheck.measure.reading import PhotoView
    from greasecheck.model import FloatArray, Reading

PLATE_COLOUR = (64, 196, 208)
WATER_COLOUR = (86, 156, 255)


def ladder_readings_of(view: PhotoView) -> tuple[Reading, ...]:
    """Return the readings of a photo's ladders, in the order of its ladders."""
    return tuple(one for one in view.readings if one.kind is ReadingKind.LADDER)


def draw_plates(draw: ImageDraw.ImageDraw, view: PhotoView, scale: float) -> None:
    """Draw the part of each plate above the water, and its waterline.

    Parameters
    ----------
    draw : PIL.ImageDraw.ImageDraw
        The picture.
    view : PhotoView
        The read photo.
    scale : float
        Pixels of the picture for one of the photo.
    """
    for ladder in view.ladders:
        corners = _points(_dry_outline_px(ladder), scale)
        draw.line([*corners, corners[0]], fill=PLATE_COLOUR, width=2)
        if ladder.waterline_px is not None:
            draw.line(_points(ladder.waterline_px, scale), fill=WATER_COLOUR, width=3)


def label_places(view: PhotoView, scale: float) -> tuple[tuple[float, float], ...]:
    """Return where the words of each ladder stand: below its lower end."""
    places = []
    for ladder in view.ladders:
        (left, _), (_, bottom) = ladder.outline_px.min(axis=0), ladder.outline_px.max(axis=0)
        places.append((float(left * scale), float(bottom * scale) + 4))
    return tuple(places)


def tub_name(reading: Reading) -> str:
    """Return the name of a ladder's tub."""
    return "no tag" if reading.tub is None else f"tub {reading.tub}"


def verdict_words(readings: tuple[Reading, ...]) -> str:
    """Return how many readings are good, doubtful, refused, such as "5 GOOD, 1 REFUSED"."""
    counts = [(sum(one.verdict is verdict for one in readings), verdict) for verdict in Verdict]
    return ", ".join(f"{count} {verdict.upper()}" for count, verdict in counts if count)


def _dry_outline_px(ladder: LadderView) -> FloatArray:
    """Return the outline of wings and body down to where the stripes begin, shape (n, 2)."""
    plate = dip_ladder()
    left, right = plate.wings
    body, top = plate.body, plate.stripes.fine.y_mm
    foot = left.y_mm + left.height_mm
    shape = np.array(
        [
            (0.0, 0.0),
            (plate.width_mm, 0.0),
            (plate.width_mm, foot),
            (right.x_mm, foot),
            (body.x_mm + body.width_mm, top),
            (body.x_mm, top),
            (left.x_mm + left.width_mm, foot),
            (0.0, foot),
        ]
    )
    whole = Box(x_mm=0, y_mm=0, width_mm=plate.width_mm, height_mm=plate.height_mm)
    corners = box_corners(whole).astype(np.float32)
    to_pixels = cv2.getPerspectiveTransform(corners, ladder.outline_px.astype(np.float32))
    return np.asarray(cv2.perspectiveTransform(shape[np.newaxis], to_pixels)[0], dtype=np.float64)


def _points(pixels: FloatArray, scale: float) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in pixels * scale]
