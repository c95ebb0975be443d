"""Corrects what was found as bone on the rest by what a person drew."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.bone.zone import fill_outline
from greasecheck.model import Stroke

if TYPE_CHECKING:
    from greasecheck.measure.bone.mask import Found
    from greasecheck.measure.bone.zone import Zone
    from greasecheck.model import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A loop around what is no bone, or a tap on a piece; on the sheet, shape (n, 2) [mm]."""

    stroke: Stroke
    places_mm: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnBone:
    """What a person drew.

    Attributes
    ----------
    outline_mm : ndarray, shape (n, 2), or None
        Outline in sheet coordinates [mm]; None to find the bone on the dark rest.
    marks : tuple of Mark
        Corrections of what is bone, in their order.
    """

    outline_mm: FloatArray | None = None
    marks: tuple[Mark, ...] = ()


def corrected(found: Found, drawn: DrawnBone, zone: Zone) -> Found:
    """Apply corrections: a loop leaves out what lies in it, a tap takes a piece out or in."""
    bone = found.bone
    for one in drawn.marks:
        if one.stroke is Stroke.LEAVE_OUT:
            bone = bone & ~fill_outline(one.places_mm, zone)
        else:
            bone = _tapped(bone, found, zone, one.places_mm[0])
    return replace(found, bone=bone)


def _tapped(bone: BoolArray, found: Found, zone: Zone, place_mm: FloatArray) -> BoolArray:
    """Take the piece under a tap out when it is in, else in."""
    corner = np.array([zone.box.x_mm, zone.box.y_mm])
    limits = np.array(bone.shape[::-1]) - 1
    place = np.rint((place_mm - corner) * zone.per_mm - 0.5)
    column, row = np.clip(place, 0, limits).astype(int)
    standing = bone if bone[row, column] else (found.bone | found.crumbs | found.at_edge) & ~bone
    labels = np.asarray(cv2.connectedComponents(standing.astype(np.uint8))[1])
    piece = np.asarray((labels == labels[row, column]) & standing)
    return np.asarray(bone & ~piece if bone[row, column] else bone | piece)
