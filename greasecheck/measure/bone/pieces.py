"""Traces the pieces of a mask of bone: outlines, holes, areas."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.model import BonePiece

if TYPE_CHECKING:
    from collections.abc import Callable

    from cv2.typing import MatLike

    from greasecheck.model import BoolArray, FloatArray

FINEST_STEP = 0.5  # samples that a traced outline may stray, to save corners; 1 would round tips
FINER = 3  # traced on samples so much smaller, since a trace runs through the rim's middle
DIGITS = 1  # of a pixel, in the outlines kept


def outlines(bone: BoolArray, least_px: float = 0.0) -> tuple[FloatArray, ...]:
    """Return the outer outline of each piece, shape (n, 2) as (column, row), largest first.

    Pieces that enclose less than `least_px` [px] between their outermost samples are left out.
    """
    found, _ = cv2.findContours(bone.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    sized = ((cv2.contourArea(contour), contour) for contour in found)
    large = [pair for pair in sized if pair[0] >= least_px]
    ordered = sorted(large, key=lambda pair: pair[0], reverse=True)
    return tuple(_points(contour) for _, contour in ordered)


def bone_pieces(
    bone: BoolArray, sample_mm2: FloatArray, to_px: Callable[[FloatArray], FloatArray]
) -> tuple[BonePiece, ...]:
    """Describe each piece of a mask, largest first.

    Parameters
    ----------
    bone : ndarray, shape (rows, columns), bool
        The mask, its holes left open.
    sample_mm2 : ndarray, shape (rows, columns)
        Area that each sample stands for [mm2].
    to_px : callable
        Takes samples at (column, row), shape (n, 2), to pixels of the photo.
    """
    fine = np.repeat(np.repeat(bone.astype(np.uint8), FINER, axis=0), FINER, axis=1)
    found, tree = cv2.findContours(fine, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    labels = np.asarray(cv2.connectedComponents(bone.astype(np.uint8))[1])
    areas = np.bincount(labels.ravel(), weights=sample_mm2.ravel())
    parents = np.reshape(tree, (-1, 4))[:, 3].tolist() if len(found) else []
    pieces = [
        BonePiece(
            area_mm2=float(areas[labels[outer[0, 0, 1] // FINER, outer[0, 0, 0] // FINER]]),
            outline_px=_traced(outer, to_px),
            holes_px=tuple(
                _traced(hole, to_px)
                for hole, parent in zip(found, parents, strict=True)
                if parent == place
            ),
        )
        for place, outer in enumerate(found)
        if parents[place] < 0
    ]
    return tuple(sorted(pieces, key=lambda piece: piece.area_mm2, reverse=True))


def _traced(
    contour: MatLike, to_px: Callable[[FloatArray], FloatArray]
) -> tuple[tuple[float, float], ...]:
    corners = _points(cv2.approxPolyDP(contour, FINER * FINEST_STEP, closed=True))
    corners = (corners + 0.5) / FINER - 0.5
    return tuple((round(x, DIGITS), round(y, DIGITS)) for x, y in to_px(corners).tolist())


def _points(contour: MatLike) -> FloatArray:
    return np.asarray(contour, dtype=np.float64).reshape(-1, 2)
