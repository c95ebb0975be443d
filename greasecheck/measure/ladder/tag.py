"""Reads the tag of a ladder, whose place is known: small, flat and blurred as it may be."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.model import TagOwner
from greasecheck.reference.ladder.plate import dip_ladder
from greasecheck.reference.tags import TAG_DICTIONARY, tag_with

if TYPE_CHECKING:
    from greasecheck.measure.sheet.markers import Grey
    from greasecheck.model import FloatArray

CELLS = 6  # 4 x 4 bits and the black border, Garrido-Jurado et al. (2014)
CELL_PX = 12  # of the copy laid flat
MIDDLE = slice(CELL_PX // 4, CELL_PX - CELL_PX // 4)  # of a cell, where blur mixes in least
# Correlation with the best pattern, and how far it leads that of any other tub: one cell of 36
# that is read wrong costs about 0.1.
LEAST_LIKENESS, LEAST_LEAD = 0.75, 0.06


def read_tub(grey: Grey, homography: FloatArray) -> int | None:
    """Return the tub whose tag a ladder bears; None when it is not clear.

    Parameters
    ----------
    grey : ndarray, shape (height, width)
        The photo.
    homography : ndarray, shape (3, 3)
        From the plate [mm] to pixels.
    """
    cells = _cells(grey, homography)
    if np.ptp(cells) <= 0:
        return None
    seen = (cells - cells.mean()) / cells.std()
    tubs, patterns = _patterns()
    likeness = patterns @ seen / seen.size
    second, best = np.argsort(likeness)[-2:]
    sure = likeness[best] >= LEAST_LIKENESS and likeness[best] - likeness[second] >= LEAST_LEAD
    return tubs[best] if sure else None


def _cells(grey: Grey, homography: FloatArray) -> FloatArray:
    """Return the light of each cell, shape (36,)."""
    box = dip_ladder().tag_marker
    per_mm = CELLS * CELL_PX / box.width_mm
    scale = np.diag([1 / per_mm, 1 / per_mm, 1.0])
    corner = np.array([[1, 0, box.x_mm], [0, 1, box.y_mm], [0, 0, 1.0]])
    flat = cv2.warpPerspective(
        grey,
        homography @ corner @ scale,
        (CELLS * CELL_PX, CELLS * CELL_PX),
        flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
    )
    split = np.asarray(flat, dtype=np.float64).reshape(CELLS, CELL_PX, CELLS, CELL_PX)
    return np.asarray(split[:, MIDDLE][:, :, :, MIDDLE].mean(axis=(1, 3)).ravel())


@cache
def _patterns() -> tuple[tuple[int, ...], FloatArray]:
    """Return the tubs that have a tag, and the cells of each, of mean 0 and variance 1."""
    known = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, TAG_DICTIONARY))
    tubs: list[int] = []
    rows: list[FloatArray] = []
    for marker in range(len(known.bytesList)):
        tag = tag_with(marker)
        if tag is not None and tag.owner is TagOwner.TUB:
            cells = cv2.aruco.generateImageMarker(known, marker, CELLS).astype(np.float64).ravel()
            tubs.append(tag.number)
            rows.append((cells - cells.mean()) / cells.std())
    return tuple(tubs), np.stack(rows)
