"""Turns the printed sheet and tags into rasters of reflectance."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import Tag
from greasecheck.print.sheet import draw_sheet_png, draw_tag_png
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import nominal_values
from greasecheck.reference.srgb import linear_of_srgb

if TYPE_CHECKING:
    import numpy.typing as npt

    Raster = npt.NDArray[np.float32]

DPI = 254.0  # 10 px per mm
MARGIN_MM = 6.0  # bare paper left and right of the printed area and above it
INK_REFLECTANCE = 0.03
PAPER_REFLECTANCE = 0.88


def printed_reflectance(code: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Return the reflectance [0..1] of a printed 8-bit sRGB code (IEC 61966-2-1).

    Ink is never black and paper never white: 0.03 + 0.85 x linear light.
    """
    linear = linear_of_srgb(np.asarray(code, dtype=float) / 255.0)
    return INK_REFLECTANCE + (PAPER_REFLECTANCE - INK_REFLECTANCE) * linear


def sheet_raster() -> Raster:
    """Return the sheet's reflectance, shape (rows, columns, 3), trimmed at its lower edge."""
    geometry = known_sheets()[0]
    codes = draw_sheet_png(geometry, nominal_values(geometry), DPI)
    margin = round(MARGIN_MM * DPI / 25.4)
    paper = np.pad(codes, ((margin, 0), (margin, margin), (0, 0)), constant_values=255)
    return printed_reflectance(paper).astype(np.float32)


def tag_raster(tub: int) -> Raster:
    """Return the reflectance of a tub's tag, shape (rows, columns, 3)."""
    return printed_reflectance(draw_tag_png(known_sheets()[0], Tag(number=tub), DPI)).astype(
        np.float32
    )
