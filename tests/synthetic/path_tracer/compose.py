"""Composes a linear picture of the stand from what the path tracer rendered."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from greasecheck.model import Tag
from greasecheck.print.sheet import draw_sheet_png, draw_tag_png
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import nominal_values
from greasecheck.reference.srgb import linear_of_srgb
from tests.synthetic.path_tracer.stand import (
    BANDS,
    COLUMN_MM,
    COLUMNS_FROM_MM,
    EYE,
    JAR,
    PRINT,
    SURFACE_Y,
    WALL_MM,
    Rendered,
    combined_light,
)
from tests.synthetic.path_tracer.tracer import FloatArray, Medium, Texture, Vector

PX_PER_MM = 4.5
FRAME = (-14.0, 274.0, -14.0, 204.0)  # x0, x1, y0, y1 of the picture on the sheet's plane [mm]
PAPER_MM = 8.0  # bare margin of the paper around the print
PRINT_PX_PER_MM = 9.0
TEXTURE_PX_PER_MM = 6.0
BOARD_CODE = 130
TUB = 12
SUBPIXELS = 3
MARGIN_MM = 20.0  # around the jar, that its picture may reach
WALL_INDEX, WATER_INDEX = 1.49, 1.333


def reflectances() -> FloatArray:
    """Return the reflectance of each print code: ink of 3 %, paper of 88 %."""
    code = np.arange(256) / 255
    return np.asarray(0.03 + 0.85 * linear_of_srgb(code))


@cache
def printed_codes(px_per_mm: float) -> NDArray[np.uint8]:
    """Return the print on its board, over `PRINT`."""
    x0, x1, y0, y1 = PRINT
    geometry = known_sheets()[-1]
    dpi = px_per_mm * 25.4
    shape = round((y1 - y0) * px_per_mm), round((x1 - x0) * px_per_mm), 3
    codes = np.full(shape, BOARD_CODE, np.uint8)
    sheet = draw_sheet_png(geometry, nominal_values(geometry), dpi)
    _paste(codes, np.full_like(sheet, 255), -PAPER_MM, -PAPER_MM, px_per_mm)
    _paste(codes, np.full_like(sheet, 255), PAPER_MM, -PAPER_MM, px_per_mm)
    _paste(codes, sheet, 0.0, 0.0, px_per_mm)
    slot = geometry.tag_slot
    _paste(codes, draw_tag_png(geometry, Tag(number=TUB), dpi), slot.x_mm, slot.y_mm, px_per_mm)
    return codes


def texture() -> Texture:
    """Return the print for the path tracer."""
    return Texture(codes=printed_codes(TEXTURE_PX_PER_MM), reflectance=reflectances())


def _paste(codes: NDArray[np.uint8], part: NDArray[np.uint8], x: float, y: float, k: float) -> None:
    top, left = round((y - PRINT[2]) * k), round((x - PRINT[0]) * k)
    area = codes[top : top + part.shape[0], left : left + part.shape[1]]
    area[...] = part[: area.shape[0], : area.shape[1]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """Where the rays of pixels reach the sheet's plane and what share of their light does."""

    x_mm: FloatArray
    y_mm: FloatArray
    share: FloatArray  # rows x columns x 3
    through: NDArray[np.bool_]  # behind the jar


def compose(rendered: Rendered, medium: Medium, eye: Vector = EYE) -> NDArray[np.float32]:
    """Return the picture in linear light, shape (rows, columns, 3)."""
    light = combined_light(rendered.far.astype(np.float64), rendered.near.astype(np.float64))
    fine = _lit_print(light)
    left, top = (round((FRAME[k] - PRINT[k]) * PRINT_PX_PER_MM) for k in (0, 2))
    rows, columns = (round(n * PRINT_PX_PER_MM / PX_PER_MM) for n in _size())
    below = cv2.copyMakeBorder(fine, 0, rows, 0, 0, cv2.BORDER_REPLICATE)  # the table, unread
    framed = below[top : top + rows, left : left + columns]
    picture = cv2.resize(framed, _size()[::-1], interpolation=cv2.INTER_AREA)
    area = _jar_area()
    places = [_pixel_places(area, (np.array(divmod(k, SUBPIXELS)) + 0.5) / SUBPIXELS)
              for k in range(SUBPIXELS**2)]  # fmt: skip
    seen = sum(_passed(fine, passage(x, y, medium, eye)) for x, y in places) / len(places)
    x, y = _pixel_places(area, np.array([0.5, 0.5]))
    behind = passage(x, y, medium, eye).through[..., None]
    shown = np.where(behind, seen + _scattered(rendered.scattered, x, y), picture[area])
    picture[area] = shown
    return np.asarray(picture, dtype=np.float32)


def _size() -> tuple[int, int]:
    x0, x1, y0, y1 = FRAME
    return round((y1 - y0) * PX_PER_MM), round((x1 - x0) * PX_PER_MM)


def _jar_area() -> tuple[slice, slice]:
    """Pixels that may look through the jar."""
    left, right = JAR[0] - MARGIN_MM, JAR[1] + MARGIN_MM
    top, bottom = JAR[2] - MARGIN_MM, FRAME[3]
    across = [round((x - FRAME[0]) * PX_PER_MM) for x in (left, right)]
    down = [round((y - FRAME[2]) * PX_PER_MM) for y in (top, bottom)]
    return slice(*down), slice(*across)


def _pixel_places(area: tuple[slice, slice], offset: FloatArray) -> tuple[FloatArray, FloatArray]:
    x = FRAME[0] + (np.arange(area[1].start, area[1].stop) + offset[1]) / PX_PER_MM
    y = FRAME[2] + (np.arange(area[0].start, area[0].stop) + offset[0]) / PX_PER_MM
    across, down = np.meshgrid(x, y)
    return across, down


def _lit_print(light: FloatArray) -> NDArray[np.float32]:
    """Radiance of the print over `PRINT`, at the print's resolution."""
    codes = printed_codes(PRINT_PX_PER_MM)
    size = codes.shape[1], codes.shape[0]
    lit = cv2.resize(light.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
    seen = np.asarray(cv2.LUT(codes, (reflectances() / np.pi).astype(np.float32)))
    return np.asarray(lit * seen, dtype=np.float32)


def _passed(fine: NDArray[np.float32], at: Passage) -> NDArray[np.float32]:
    columns = ((at.x_mm - PRINT[0]) * PRINT_PX_PER_MM - 0.5).astype(np.float32)
    rows = ((at.y_mm - PRINT[2]) * PRINT_PX_PER_MM - 0.5).astype(np.float32)
    seen = cv2.remap(fine, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(seen * at.share, dtype=np.float32)


def passage(x: FloatArray, y: FloatArray, medium: Medium, eye: Vector) -> Passage:
    """Follow rays from the eye towards points of the sheet's plane, straight or refracted."""
    to = np.stack([x - eye[0], y - eye[1], np.full_like(x, -eye[2])])
    to /= np.linalg.norm(to, axis=0)
    front = JAR[5]
    reach = (eye[2] - front) / -to[2]
    px, py = eye[0] + reach * to[0], eye[1] + reach * to[1]
    through = (px > JAR[0]) & (px < JAR[1]) & (py > JAR[2]) & (py < JAR[3])
    wet = through & (py > SURFACE_Y)
    inside = JAR[5] - JAR[4] - 2 * WALL_MM
    index = np.where(wet, WATER_INDEX, 1.0)
    lengths = [_length(to, WALL_INDEX, WALL_MM), _length(to, index, inside),
               _length(to, WALL_INDEX, WALL_MM), _length(to, 1.0, JAR[4])]  # fmt: skip
    for length, n in zip(lengths, (WALL_INDEX, index, WALL_INDEX, 1.0), strict=True):
        px, py = px + length * to[0] / n, py + length * to[1] / n
    sine = np.sqrt(1 - to[2] ** 2)
    let_in = _let_through(sine, 1.0, WALL_INDEX) ** 2 * _let_through(sine, WALL_INDEX, index) ** 2
    depth = np.array(medium.extinction_per_m) / 1000 * np.where(wet, lengths[1], 0.0)[..., None]
    share = np.where(through[..., None], let_in[..., None] * np.exp(-depth), 1.0)
    return Passage(
        x_mm=np.where(through, px, x), y_mm=np.where(through, py, y), share=share, through=through
    )


def _length(to: FloatArray, index: FloatArray | float, depth_mm: float) -> FloatArray:
    """Length of a ray through a layer, entered from air in the direction `to`."""
    sine2 = (1 - to[2] ** 2) / np.square(index)
    return np.asarray(depth_mm / np.sqrt(1 - sine2))


def _let_through(sine: FloatArray, one: FloatArray | float, two: FloatArray | float) -> FloatArray:
    """Share of light that a boundary lets through (Fresnel); `sine` is that in air."""
    a, b = np.sqrt(1 - np.square(sine / one)), np.sqrt(1 - np.square(sine / two))
    s = (one * a - two * b) / (one * a + two * b)
    p = (two * a - one * b) / (two * a + one * b)
    return np.asarray(1 - (np.square(s) + np.square(p)) / 2)


def _scattered(bands: NDArray[np.float32], x: FloatArray, y: FloatArray) -> NDArray[np.float32]:
    middles = (BANDS[:-1] + BANDS[1:]) / 2
    row = np.interp(y[:, 0], middles, np.arange(len(middles)))
    column = (x[0] - COLUMNS_FROM_MM) / COLUMN_MM - 0.5
    grid = np.meshgrid(np.clip(column, 0, bands.shape[1] - 1), row)
    maps = [one.astype(np.float32) for one in grid]
    return np.asarray(cv2.remap(bands, maps[0], maps[1], cv2.INTER_LINEAR), dtype=np.float32)
