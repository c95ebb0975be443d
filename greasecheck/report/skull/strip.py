"""Draws a skull's looks side by side: each cut out, turned alike, as large as the others."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from greasecheck.model import BoolArray

SIDE_PX = 320  # of a look's square; the skull's longer side fills most of it
FILL = 0.9
CAPTION_PX = 74
GAP_PX = 12
GROUND = (28, 29, 32)
INK = (240, 238, 230)
MOST_LOOKS = 12  # side by side; of more, evenly chosen ones with the first and the last


@dataclass(frozen=True, slots=True, kw_only=True)
class StripLook:
    """A look as the strip shows it.

    Attributes
    ----------
    rgb : ndarray, shape (rows, columns, 3), uint8, or None
        The picture; None when there is none any more.
    mask : ndarray, shape (rows, columns), bool, or None
        Where the bone is in it.
    lines : tuple of str
        What stands below it.
    """

    rgb: NDArray[np.uint8] | None
    mask: BoolArray | None
    lines: tuple[str, ...]


def draw_strip(looks: Sequence[StripLook]) -> Image.Image:
    """Draw looks side by side, oldest first; at least one."""
    shown = _chosen(looks)
    width = len(shown) * (SIDE_PX + GAP_PX) + GAP_PX
    page = Image.new("RGB", (width, SIDE_PX + CAPTION_PX + 2 * GAP_PX), GROUND)
    before: BoolArray | None = None
    for place, look in enumerate(shown):
        left = GAP_PX + place * (SIDE_PX + GAP_PX)
        if look.rgb is not None and look.mask is not None:
            square, before = _turned_alike(look.rgb, look.mask, before)
            page.paste(Image.fromarray(square), (left, GAP_PX))
        _caption(ImageDraw.Draw(page), left, look.lines)
    return page


def strip_png(looks: Sequence[StripLook]) -> bytes:
    """Return the strip as a PNG file's content."""
    content = BytesIO()
    draw_strip(looks).save(content, format="PNG")
    return content.getvalue()


def _chosen(looks: Sequence[StripLook]) -> list[StripLook]:
    places = np.linspace(0, len(looks) - 1, min(len(looks), MOST_LOOKS))
    return [looks[round(place)] for place in places.tolist()]


def _turned_alike(
    rgb: NDArray[np.uint8], mask: BoolArray, before: BoolArray | None
) -> tuple[NDArray[np.uint8], BoolArray]:
    """Turn a skull's longest axis level, its ends as in the look before."""
    square, shape = _level(rgb, mask, 0.0)
    if before is not None:
        other, turned = _level(rgb, mask, np.pi)
        if (turned & before).sum() > (shape & before).sum():
            return other, turned
    return square, shape


def _level(
    rgb: NDArray[np.uint8], mask: BoolArray, more: float
) -> tuple[NDArray[np.uint8], BoolArray]:
    rows, columns = np.nonzero(mask)
    centre = np.array([columns.mean(), rows.mean()])
    spread = np.linalg.eigh(np.cov(np.stack([columns, rows]) - centre[:, np.newaxis]))
    along = spread.eigenvectors[:, 1]
    angle = np.arctan2(along[1], along[0]) + more
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    placed = turn @ (np.stack([columns, rows]) - centre[:, np.newaxis])
    low, high = placed.min(axis=1), placed.max(axis=1)
    scale = FILL * SIDE_PX / float((high - low).max())
    shift = SIDE_PX / 2 - scale * ((low + high) / 2 + turn @ centre)
    warp = np.column_stack([scale * turn, shift])
    size = (SIDE_PX, SIDE_PX)
    picture = np.asarray(cv2.warpAffine(rgb, warp, size, flags=cv2.INTER_AREA))
    soft = cv2.warpAffine(mask.astype(np.float32), warp, size, flags=cv2.INTER_LINEAR)
    share = np.asarray(soft)[..., np.newaxis]
    cut = picture * share + np.array(GROUND) * (1 - share)
    return np.rint(cut).astype(np.uint8), np.asarray(soft > 0.5)


def _caption(draw: ImageDraw.ImageDraw, left: int, lines: Sequence[str]) -> None:
    font = ImageFont.load_default(size=19)
    for row, line in enumerate(lines):
        draw.text((left, SIDE_PX + GAP_PX + 8 + 22 * row), line, font=font, fill=INK)
