"""Draws on a photo what was found: sheet, bars, ladders, bone, yellow map, verdict, its cause."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from greasecheck.errors import DataFileError
from greasecheck.measure.photo.exif import OVERLAY_MARK, SOFTWARE_TAG
from greasecheck.measure.photo.file import OVERLAY_ENDING, file_name
from greasecheck.measure.reading import view_photo
from greasecheck.measure.sheet.samples import sheet_to_pixels
from greasecheck.model import Bound, Verdict
from greasecheck.report.cause_mark import mark_cause
from greasecheck.report.ladder_marks import (
    draw_plates,
    label_places,
    ladder_readings_of,
    tub_name,
    verdict_words,
)
from greasecheck.words.figures import patch_share_words
from greasecheck.words.photos.readings import causes
from greasecheck.words.times import exact

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from greasecheck.measure.reading import PhotoView, ReadSettings
    from greasecheck.model import BoneReading, Box, FloatArray, Placement, Reading, WaterReading

WIDTH_PX = 1400
BAND_PX = 66
LINE_PX = 30
LINE_LETTERS = 120
MARGIN_PX = 24
SHEET_COLOUR = (64, 196, 208)
SIGHT_COLOUR = (255, 196, 61)
BONE_COLOUR = (255, 255, 255)
YELLOW_COLOUR = (214, 51, 132)
VERDICTS = {
    Verdict.GOOD: ((24, 96, 72), "GOOD"),
    Verdict.DOUBTFUL: ((150, 92, 8), "DOUBTFUL"),
    Verdict.REFUSED: ((140, 32, 40), "REFUSED"),
}
INK = (245, 245, 240)
FOOT = (34, 36, 40)


def draw_overlay(view: PhotoView) -> Image.Image:
    """Draw what was found.

    Parameters
    ----------
    view : PhotoView
        A read photo; one that could not be opened gives a page with the reason alone.

    Returns
    -------
    PIL.Image.Image
        1400 px wide, with the verdict above the photo and failed checks below it.
    """
    picture = _marked_photo(view) if view.photo else Image.new("RGB", (WIDTH_PX, 200), FOOT)
    reasons = _reasons(view)
    foot_px = LINE_PX * len(reasons) + (MARGIN_PX if reasons else 0)
    page = Image.new("RGB", (WIDTH_PX, BAND_PX + picture.height + foot_px), FOOT)
    page.paste(picture, (0, BAND_PX))
    _draw_band(ImageDraw.Draw(page), view)
    _draw_reasons(ImageDraw.Draw(page), reasons, BAND_PX + picture.height)
    return page


def _reasons(view: PhotoView) -> list[str]:
    """Return what failed, in lines; with its tub where a photo shows several.

    Of what is refused the most telling cause stands alone: the others mostly follow from it.
    """
    several = len(view.ladders) > 1
    return [
        line
        for reading in (ladder_readings_of(view) if several else (view.reading,))
        for cause in causes(reading)[: 1 if reading.verdict is Verdict.REFUSED else None]
        for line in wrap(f"{tub_name(reading)}: {cause}" if several else cause, LINE_LETTERS)
    ]


def save_overlay(view: PhotoView, folder: Path) -> Path:
    """Save the overlay as a JPEG named after the photo into `folder`; return its path.

    Raises
    ------
    DataFileError
        When it cannot be written.
    """
    path = folder / f"{file_name(view.reading.photo_path)}{OVERLAY_ENDING}"
    mark = Image.Exif()
    mark[SOFTWARE_TAG] = OVERLAY_MARK
    try:
        folder.mkdir(parents=True, exist_ok=True)
        draw_overlay(view).save(path, quality=88, exif=mark)
    except OSError as error:
        raise DataFileError(
            f"cannot save the overlay {path}: {error.strerror or error}",
            hint="name a folder you may write to, on a disk with room",
        ) from error
    return path


def _marked_photo(view: PhotoView) -> Image.Image:
    assert view.photo is not None
    scale = WIDTH_PX / view.photo.pixels.shape[1]
    canvas = _shrunk(view.photo.pixels, scale)
    if view.placement is not None:
        _tint_yellow(canvas, view, scale)
    picture = Image.fromarray(canvas)
    draw = ImageDraw.Draw(picture)
    _draw_ladders(draw, view, scale)
    if view.placement is not None:
        _draw_chart(draw, view, view.placement, scale)
    mark_cause(draw, view, scale)
    return picture


def _draw_ladders(draw: ImageDraw.ImageDraw, view: PhotoView, scale: float) -> None:
    draw_plates(draw, view, scale)
    for at, one in zip(label_places(view, scale), ladder_readings_of(view), strict=True):
        words = str(one.verdict)
        if one.water is not None and one.verdict is not Verdict.REFUSED:
            doubt = ", doubtful" if one.verdict is Verdict.DOUBTFUL else ""
            words = water_words(one.water) + doubt
        _label(draw, at, f"{tub_name(one)}: {words}", SIGHT_COLOUR)


def _draw_chart(
    draw: ImageDraw.ImageDraw, view: PhotoView, placement: Placement, scale: float
) -> None:
    """Draw sheet or card, the bars behind the jar, the bone beside it."""
    _draw_sheet(draw, placement, scale)
    if view.water:
        _draw_sight(draw, view, scale)
    if view.card:
        _draw_card_bone(draw, view, scale)
    if view.bone:
        for piece in view.bone.outlines_mm[1:]:
            corners = _to_canvas(placement, piece, scale)
            draw.line([*corners, corners[0]], fill=BONE_COLOUR, width=2)
        outline = _to_canvas(placement, view.bone.outline_mm, scale)
        draw.line([*outline, outline[0]], fill=BONE_COLOUR, width=2)
        if view.reading.verdict is not Verdict.REFUSED:
            _label(draw, _under(outline), _bone_words(view.bone.reading), BONE_COLOUR)


def _draw_card_bone(draw: ImageDraw.ImageDraw, view: PhotoView, scale: float) -> None:
    """Draw the outlines of the pieces beside a card, their holes too."""
    assert view.photo is not None
    assert view.card is not None
    shown = scale / view.photo.reduced_by
    for piece in view.card.reading.pieces:
        for line in (piece.outline_px, *piece.holes_px):
            corners = [(x * shown, y * shown) for x, y in line]
            draw.line([*corners, corners[0]], fill=BONE_COLOUR, width=2)
    outline = [(x * shown, y * shown) for x, y in view.card.reading.pieces[0].outline_px]
    if view.reading.verdict is not Verdict.REFUSED:
        _label(draw, _under(outline), _bone_words(view.card.reading), BONE_COLOUR)


def photo_px_per_shown(view: PhotoView) -> float:
    """Return how many pixels of the whole photo one of the drawn picture shows."""
    if view.photo is None:
        return 1.0
    return float(view.photo.pixels.shape[1] * view.photo.reduced_by / WIDTH_PX)


def _shrunk(pixels: NDArray[np.uint8] | NDArray[np.uint16], scale: float) -> NDArray[np.uint8]:
    size = (WIDTH_PX, round(pixels.shape[0] * scale))
    small = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA))
    return (small // 257 if small.dtype == np.uint16 else small).astype(np.uint8)


def _draw_sheet(draw: ImageDraw.ImageDraw, placement: Placement, scale: float) -> None:
    sheet = placement.geometry
    corners = np.array(
        [[0, 0], [sheet.width_mm, 0], [sheet.width_mm, sheet.height_mm], [0, sheet.height_mm]],
        dtype=float,
    )
    outline = _to_canvas(placement, corners, scale)
    draw.line([*outline, outline[0]], fill=SHEET_COLOUR, width=2)
    for marker in sheet.markers:
        if marker.id in placement.marker_ids:
            draw.polygon(_to_canvas(placement, _corners(marker.box), scale), outline=SHEET_COLOUR)


def _draw_sight(draw: ImageDraw.ImageDraw, view: PhotoView, scale: float) -> None:
    assert view.placement is not None
    assert view.water is not None
    sight = view.placement.geometry.sight
    seen = view.water.sight
    for box, pair in ((sight.wet_fine, seen.fine), (sight.wet_coarse, seen.coarse)):
        at = pair.wet.alignment
        corners = _corners(box)
        centre = box.centre_mm[0]
        corners[:, 0] = centre + (corners[:, 0] - centre) * at.stretch + at.shift_mm
        corners[:, 1] += (corners[:, 1] - _eye_level(view)) * (at.stretch - 1)
        draw.polygon(_to_canvas(view.placement, corners, scale), outline=SIGHT_COLOUR, width=2)
    for box in (sight.dry_fine, sight.dry_coarse):
        draw.polygon(_to_canvas(view.placement, _corners(box), scale), outline=SHEET_COLOUR)
    if view.reading.verdict is not Verdict.REFUSED:
        below = _to_canvas(view.placement, _corners(sight.wet_coarse), scale)
        _label(draw, _under(below), water_words(view.water.reading), SIGHT_COLOUR)


def _eye_level(view: PhotoView) -> float:
    """Height on the sheet that the camera faces, about which water magnifies [mm]."""
    assert view.photo is not None
    assert view.placement is not None
    rows, columns = view.photo.pixels.shape[:2]
    _, y, w = np.linalg.inv(view.placement.homography) @ [columns / 2, rows / 2, 1.0]
    return float(y / w)


def _tint_yellow(canvas: NDArray[np.uint8], view: PhotoView, scale: float) -> None:
    """Blend the yellow patches of the bone into the canvas, in place."""
    places = _yellow_places(view, scale)
    height, width = canvas.shape[:2]
    mask = np.zeros((height, width), dtype=np.uint8)
    inside = ((places >= 0) & (places < [width, height])).all(axis=1)
    mask[places[inside, 1], places[inside, 0]] = 1
    mask = np.asarray(cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8)))
    tinted = 0.55 * canvas[mask > 0] + 0.45 * np.array(YELLOW_COLOUR)
    canvas[mask > 0] = tinted.astype(np.uint8)


def _yellow_places(view: PhotoView, scale: float) -> NDArray[np.int64]:
    """Return where on the canvas the samples of yellow patches lie, shape (n, 2)."""
    if view.card is not None and view.photo is not None:
        rows, columns = np.nonzero(view.card.yellow)
        corner = np.array(view.card.corner_px)
        places = corner + view.card.step_px * np.column_stack([columns, rows])
        return np.asarray(np.rint(places * scale / view.photo.reduced_by), dtype=np.int64)
    if view.bone is None or view.placement is None or not view.bone.yellow.any():
        return np.empty((0, 2), np.int64)
    rows, columns = np.nonzero(view.bone.yellow)
    box, per_mm = view.bone.box, view.bone.per_mm
    points = np.column_stack(
        [box.x_mm + (columns + 0.5) / per_mm, box.y_mm + (rows + 0.5) / per_mm]
    )
    return np.rint(sheet_to_pixels(view.placement, points) * scale).astype(np.int64)


def _to_canvas(
    placement: Placement, points_mm: FloatArray, scale: float
) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in sheet_to_pixels(placement, points_mm) * scale]


def _corners(box: Box) -> FloatArray:
    right, bottom = box.x_mm + box.width_mm, box.y_mm + box.height_mm
    return np.array([[box.x_mm, box.y_mm], [right, box.y_mm], [right, bottom], [box.x_mm, bottom]])


def _under(outline: list[tuple[float, float]]) -> tuple[float, float]:
    return min(x for x, _ in outline), max(y for _, y in outline) + 8


def _label(
    draw: ImageDraw.ImageDraw, at: tuple[float, float], words: str, colour: tuple[int, int, int]
) -> None:
    font = ImageFont.load_default(size=20)
    left, top, right, bottom = draw.textbbox(at, words, font=font)
    draw.rectangle((left - 6, top - 4, right + 6, bottom + 4), fill=FOOT)
    draw.text(at, words, font=font, fill=colour)


def _draw_band(draw: ImageDraw.ImageDraw, view: PhotoView) -> None:
    """Draw the verdict, that of the worst where there are several, whose it is, and when."""
    reading, ladders = view.reading, ladder_readings_of(view)
    several = len(ladders) > 1
    worst = max((one.verdict for one in ladders or (reading,)), key=list(Verdict).index)
    fill, word = VERDICTS[worst]
    draw.rectangle((0, 0, WIDTH_PX, BAND_PX), fill=fill)
    word = verdict_words(ladders) if several else word
    draw.text((MARGIN_PX, 12), word, font=ImageFont.load_default(size=34), fill=INK)
    taken = exact(reading.taken_at) if reading.taken_at else "no time"
    words = f"{'' if several else _whose(reading)}   {taken}"
    font = ImageFont.load_default(size=28)
    width = draw.textlength(words, font=font)
    draw.text((WIDTH_PX - MARGIN_PX - width, 16), words, font=font, fill=INK)


def _whose(reading: Reading) -> str:
    skull = f"skull tag {reading.skull_tag}" if reading.skull_tag is not None else "no tub tag"
    return f"tub {reading.tub}" if reading.tub is not None else skull


def _draw_reasons(draw: ImageDraw.ImageDraw, reasons: list[str], top: int) -> None:
    font = ImageFont.load_default(size=20)
    for row, reason in enumerate(reasons):
        at = (MARGIN_PX, top + MARGIN_PX // 2 + row * LINE_PX)
        draw.text(at, reason, font=font, fill=INK)


def water_words(water: WaterReading) -> str:
    """Say a water reading in a few words."""
    if water.bound is Bound.ABOVE:
        return f"water above {water.main_per_m:.0f} per m"
    if water.bound is Bound.BELOW:
        return f"water below {water.main_per_m:.1f} per m"
    return f"water {water.main_per_m:.1f} ± {water.std_per_m:.1f} per m"


def _bone_words(bone: BoneReading) -> str:
    share = patch_share_words(bone.yellow_patch_share, bone.yellow_share_std)
    return f"bone YI {bone.yi_e313:.0f} ± {bone.yi_std:.0f}, {share} in yellow patches"


def read_and_draw(
    photo: Path, settings: ReadSettings, overlay: Path | None = None
) -> tuple[Reading, ...]:
    """Read one photo and save its overlay into a folder; runs in a worker process."""
    view = view_photo(photo, settings)
    if overlay is not None:
        save_overlay(view, overlay)
    return view.readings
