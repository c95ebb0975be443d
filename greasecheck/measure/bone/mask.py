"""Tells the bone from the dark rest, and its matt surface from glare and cavities."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.errors import BoneError
from greasecheck.measure.robust import percentiles

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import BoolArray, FloatArray

# Own choices, where nothing else is said.
LEAST_AREA_MM2 = 60.0  # anything smaller is debris; a mouse skull covers about 200 mm2
DEBRIS_SHARE = 0.05  # of the largest piece: smaller pieces are debris too
STRAY_SHARE = 0.2  # of a piece's surround along the zone's top and sides: no bone, background
LEAST_CONTRAST_L = 15.0  # between rest and bone, in CIELAB lightness
DARK_REST_L = 48.0  # a rest lighter than this (about 17 % reflectance) is not dark
LEAST_STEP_L = 10.0  # the bone's edge lies at least this far above the rest
EDGE_SHARES = (0.3, 0.5)  # and between these shares of the way from rest to bone
RING_MM = 4.0  # border of the zone that shows the rest
THIN_MM = 1.0  # threads thinner than twice this are no bone
EDGE_MM = 1.0  # rim of the bone left out of its colour
SHADOW_SHARE = 0.3  # of the bone's upper quartile: darker is a cavity or deep shadow
GLARE_REACH_MM = 8.0
GLARE_GAIN = 1.15  # glare is this much brighter than the bone within its reach,
GLARE_PALING_YI = 4.0  # this much less yellow,
GLARE_OVER_LIT = 1.05  # and brighter than the well lit bone (its upper quartile) elsewhere


def find_bone(lightness: FloatArray, seen: BoolArray, per_mm: float) -> BoolArray | None:
    """Find the bone on the dark rest.

    Parameters
    ----------
    lightness : ndarray, shape (rows, columns)
        CIELAB L* of the rest zone.
    seen : ndarray, shape (rows, columns), bool
        Pixels inside the photo.
    per_mm : float
        Sampling density [px/mm].

    Returns
    -------
    ndarray, shape (rows, columns), bool, or None
        The bone, its holes left open; None when the rest is empty.

    Raises
    ------
    BoneError
        When something lies there but the ground under it is not dark.
    """
    rest = float(np.median(lightness[_ring(seen, per_mm)]))
    if rest > DARK_REST_L:
        if _lies_within(np.abs(lightness - rest) > LEAST_CONTRAST_L, per_mm):
            raise BoneError(
                "the ground under the bone is not dark",
                hint="lay the bone on a dark, matt rest: black felt or card",
            )
        return None
    bone = float(np.sort(lightness[seen])[-_least_px(per_mm)])
    if bone - rest < LEAST_CONTRAST_L:
        return None
    low, high = (rest + max(LEAST_STEP_L, share * (bone - rest)) for share in EDGE_SHARES)
    threshold = float(np.clip(_otsu(lightness, seen), low, high))
    return _pieces((lightness > threshold) & seen, per_mm)


def matt_surface(
    bone: BoolArray, luminance: FloatArray, yellowness: FloatArray, per_mm: float
) -> BoolArray:
    """Return the part of the bone whose colour counts: no rim, no glare, no cavities.

    Parameters
    ----------
    bone : ndarray, shape (rows, columns), bool
        Where the bone is, unclipped.
    luminance, yellowness : ndarray, shape (rows, columns)
        CIE Y and yellowness index.
    per_mm : float
        Sampling density [px/mm].

    Raises
    ------
    BoneError
        When nothing is left.
    """
    inner = _morph(cv2.MORPH_ERODE, bone, EDGE_MM, per_mm)
    inner = inner if inner.sum() > bone.sum() / 2 else bone
    well_lit = percentiles(luminance[bone], [75])[0]
    lit = luminance > SHADOW_SHARE * well_lit
    glare = _glare(bone, luminance, yellowness, well_lit, per_mm)
    surface = inner & lit & ~glare
    if not surface.any():
        raise BoneError(
            "nothing of the bone but its rim and glare is lit",
            hint="turn the bone, or move the lamp, until its surface is lit softly",
        )
    return np.asarray(surface)


def outlines(bone: BoolArray) -> tuple[NDArray[np.int64], ...]:
    """Return the outer outline of each piece, shape (n, 2) as (column, row), largest first."""
    found, _ = cv2.findContours(bone.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    ordered = sorted(found, key=cv2.contourArea, reverse=True)
    return tuple(contour.reshape(-1, 2).astype(np.int64) for contour in ordered)


def drop_small(mask: BoolArray, least_px: float) -> BoolArray:
    """Return the mask without connected pieces smaller than `least_px` [px]."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    keep = stats[:, cv2.CC_STAT_AREA] >= least_px
    keep[0] = False
    return np.asarray(keep[labels])


def _pieces(bright: BoolArray, per_mm: float) -> BoolArray | None:
    """Keep what may be bone: no threads, no crumbs, nothing that comes in from top or sides."""
    whole = _morph(cv2.MORPH_OPEN, bright, THIN_MM, per_mm)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(whole.astype(np.uint8))
    edges = np.concatenate([labels[0], labels[:, 0], labels[:, -1]])
    contact = np.bincount(edges, minlength=count)
    around = 2 * (stats[:, cv2.CC_STAT_WIDTH] + stats[:, cv2.CC_STAT_HEIGHT])
    area = np.where(contact > STRAY_SHARE * around, 0, stats[:, cv2.CC_STAT_AREA])
    area[0] = 0
    keep = area >= max(_least_px(per_mm), DEBRIS_SHARE * float(area.max()))
    return np.asarray(keep[labels]) if keep.any() else None


def _lies_within(other: BoolArray, per_mm: float) -> bool:
    """Tell whether something as large as a bone lies apart from the zone's border."""
    whole = _morph(cv2.MORPH_OPEN, other, THIN_MM, per_mm)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(whole.astype(np.uint8))
    edges = np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])
    inner = ~np.isin(np.arange(len(stats)), edges)
    inner[0] = False
    return bool((stats[inner, cv2.CC_STAT_AREA] >= _least_px(per_mm)).any())


def _least_px(per_mm: float) -> int:
    return round(LEAST_AREA_MM2 * per_mm**2)


def _ring(seen: BoolArray, per_mm: float) -> BoolArray:
    """Return the seen part of the zone's border."""
    width = max(round(RING_MM * per_mm), 1)
    border = np.ones_like(seen)
    border[width:-width, width:-width] = False
    ring = border & seen
    return ring if ring.any() else seen


def _otsu(lightness: FloatArray, seen: BoolArray) -> float:
    """Otsu's threshold (1979) of the lightness."""
    levels = np.clip(lightness[seen] * 2, 0, 255).astype(np.uint8)
    return cv2.threshold(levels, 0, 255, cv2.THRESH_OTSU)[0] / 2


def _morph(operation: int, mask: BoolArray, radius_mm: float, per_mm: float) -> BoolArray:
    size = 2 * max(round(radius_mm * per_mm), 1) + 1
    element = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    return cv2.morphologyEx(mask.astype(np.uint8), operation, element).astype(bool)


def _glare(
    bone: BoolArray, luminance: FloatArray, yellowness: FloatArray, well_lit: float, per_mm: float
) -> BoolArray:
    """Brighter and paler than the bone around: mirror-like reflection of the lamp."""
    around = _local_mean(luminance, bone, per_mm)
    around_yi = _local_mean(yellowness, bone, per_mm)
    bright = luminance > np.maximum(GLARE_GAIN * around, GLARE_OVER_LIT * well_lit)
    core = bone & bright & (yellowness < around_yi - GLARE_PALING_YI)
    return _morph(cv2.MORPH_DILATE, core, 1 / per_mm, per_mm)


def _local_mean(values: FloatArray, where: BoolArray, per_mm: float) -> FloatArray:
    size = 2 * round(GLARE_REACH_MM * per_mm) + 1
    weight = where.astype(np.float64)
    total = cv2.blur(np.where(where, values, 0.0), (size, size))
    return np.asarray(total / np.maximum(cv2.blur(weight, (size, size)), 1e-9))
