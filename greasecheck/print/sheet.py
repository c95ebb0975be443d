"""The sheet as a PNG or a PDF."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.print.layout import sheet_drawing
from greasecheck.print.raster import draw_pixels

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from greasecheck.model import PatchValues, SheetGeometry


def draw_sheet_png(geometry: SheetGeometry, values: PatchValues, dpi: float) -> NDArray[np.uint8]:
    """Return the printed area of the sheet as sRGB pixels, shape (height, width, 3)."""
    return draw_pixels(sheet_drawing(geometry, values), dpi)
