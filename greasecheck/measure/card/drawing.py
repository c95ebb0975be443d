"""Corrects what was found as bone by what a person drew: outlines, loops, taps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.sheet.samples import sheet_to_pixels
from greasecheck.model import Stroke

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.card.pieces import Piece
    from greasecheck.measure.card.surroundings import Surroundings
    from greasecheck.model import BoolArray, Drawn, FloatArray, Placement


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """What is bone after correction, and what a person took out of it."""

    mask: BoolArray
    taken_out: BoolArray


def corrected(
    mask: BoolArray,
    pieces: Sequence[Piece],
    drawn: Sequence[Drawn],
    around: Surroundings,
    placement: Placement,
) -> Correction:
    """Apply corrections in the order they were drawn.

    The first outline replaces what was found, further ones add to it; a loop leaves out what lies
    in it; a tap takes the piece under it out, or in again.
    """
    bone, outlined = mask, False
    for one in drawn:
        places = _samples(one, around, placement)
        if one.stroke is Stroke.TAP:
            bone = _tapped(bone, pieces, places[0])
        elif one.stroke is Stroke.LEAVE_OUT:
            bone = bone & ~_filled(places, mask.shape)
        else:
            bone = _filled(places, mask.shape) | (bone if outlined else np.zeros_like(bone))
            outlined = True
    return Correction(mask=bone, taken_out=mask & ~bone if drawn else np.zeros_like(mask))


def _samples(one: Drawn, around: Surroundings, placement: Placement) -> FloatArray:
    """Return the points of a correction as (column, row) among the samples, shape (n, 2)."""
    points = np.array(one.points, dtype=np.float64)
    if one.in_px:
        return np.asarray((points + 0.5) / around.whole_px - 0.5)
    return np.asarray((sheet_to_pixels(placement, points) + 0.5) / around.step_px - 0.5)


def _filled(places: FloatArray, shape: tuple[int, ...]) -> BoolArray:
    canvas = np.zeros(shape, np.uint8)
    return np.asarray(cv2.fillPoly(canvas, [np.rint(places).astype(np.int32)], (1,)) > 0)


def _tapped(bone: BoolArray, pieces: Sequence[Piece], place: FloatArray) -> BoolArray:
    """Take the piece under a tap out when it is in, else in."""
    limits = np.array(bone.shape[::-1]) - 1
    column, row = np.clip(np.rint(place), 0, limits).astype(int)
    if bone[row, column]:
        labels = np.asarray(cv2.connectedComponents(bone.astype(np.uint8))[1])
        return np.asarray(bone & (labels != labels[row, column]))
    touched = [piece.mask for piece in pieces if piece.mask[row, column]]
    return np.asarray(bone | touched[0]) if touched else bone
