"""Separates the bone from the dark rest, and its matt surface from glare and cavities."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np

from greasecheck.errors import BoneError
from greasecheck.measure.robust import percentiles
from greasecheck.model import Absent

if TYPE_CHECKING:
    from cv2.typing import MatLike

    from greasecheck.model import BoolArray, FloatArray

# Without a source, where none is named; the comment beside each value states what it does.
LEAST_AREA_MM2 = 60.0  # anything smaller is debris; a mouse skull covers about 200 mm2
DEBRIS_SHARE = 0.05  # of the largest piece: smaller pieces are debris too
DARK_SHARE = 0.05  # of the zone: less of it darker than its pale border is no dark rest covered
LEAST_CONTRAST_L = 15.0  # between rest and bone, in CIELAB lightness
DARK_REST_L = 48.0  # a rest lighter than this (about 17 % reflectance) is not dark
BLACK_REST_L = 36.0  # lighter than this (9 % reflectance), an even zone may as well be all bone
ALIKE_YI = 15.0  # between a bone and the part of it beyond the zone; a wall beside it is greyer
LEAST_STEP_L = 10.0  # the bone's edge lies at least this far above the rest
EDGE_SHARES = (0.3, 0.5)  # and between these shares of the way from rest to bone
RING_MM = 4.0  # border of the zone that shows the rest
THIN_MM = 1.0  # threads thinner than twice this are no bone
EDGE_MM = 1.0  # rim of the bone left out of its colour
SHADOW_SHARE = 0.3  # of the bone's upper quartile: darker is a cavity or deep shadow
# Bone in its own shade is as yellow as in the light, down to where flare and noise weigh as much.
DEEP_SHARE = 0.1
GLARE_REACH_MM = 8.0  # about the width of a highlight; doubled, a slope of the bone counts as glare
GLARE_GAIN = 1.15  # glare is this much brighter than the bone within its reach,
GLARE_PALING_YI = 4.0  # this much less yellow,
GLARE_OVER_LIT = 1.05  # and brighter than the well lit bone (its upper quartile) elsewhere


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What lies on the rest, each array shaped (rows, columns), bool.

    Attributes
    ----------
    bone : ndarray
        Pieces that lie within the zone, their holes left open.
    at_edge : ndarray
        Pieces that touch the zone's edge: cut off by it, or background.
    crumbs : ndarray
        Pieces too small to be bone.
    """

    bone: BoolArray
    at_edge: BoolArray
    crumbs: BoolArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """The rest zone and a strip around it, each array shaped (rows, columns).

    Attributes
    ----------
    lightness, yellowness : ndarray
        CIELAB L* and yellowness index.
    seen : ndarray, bool
        Inside the photo.
    inner : ndarray, bool
        Inside the rest zone; around it the ground may be of any colour.
    per_mm : float
        Sampling density [px/mm].
    """

    lightness: FloatArray
    yellowness: FloatArray
    seen: BoolArray
    inner: BoolArray
    per_mm: float


def find_bone(ground: Ground) -> Found | Absent:
    """Find the bone on the dark rest; it may end in the strip around, which no dark rest covers.

    Returns
    -------
    Found or Absent
        `Absent.BONE` when the rest is empty, `Absent.DARK_REST` when there is none.

    Raises
    ------
    BoneError
        When something lies there but the ground under it is not dark.
    """
    lightness, seen, per_mm = ground.lightness, ground.seen & ground.inner, ground.per_mm
    rest = _rest_lightness(lightness[_ring(seen, per_mm)])
    if rest > DARK_REST_L:
        return _on_pale_border(lightness, seen, rest, per_mm)
    bone = float(np.sort(lightness[seen])[-_least_px(per_mm)])
    if bone - rest < LEAST_CONTRAST_L:
        return Absent.BONE if rest < BLACK_REST_L else Absent.DARK_REST
    low, high = (rest + max(LEAST_STEP_L, share * (bone - rest)) for share in EDGE_SHARES)
    threshold = float(np.clip(_otsu(lightness, seen), low, high))
    bright = (lightness > threshold) & ground.seen
    found = _pieces(bright & (ground.inner | _alike(ground, bright & seen)), per_mm)
    return found if (found.bone | found.at_edge).any() else Absent.BONE


def _alike(ground: Ground, bright: BoolArray) -> BoolArray:
    """Return what is as yellow as the bright parts of the zone: their rest beyond its edge."""
    usual = percentiles(ground.yellowness[bright], [50])[0]
    return np.asarray(np.abs(ground.yellowness - usual) < ALIKE_YI)


def _rest_lightness(ring: FloatArray) -> float:
    """Return the rest's lightness from the zone's border, half of which a large bone may cover."""
    low, middle = percentiles(ring, [10, 50])
    return low if middle - low > LEAST_CONTRAST_L else middle


def _on_pale_border(
    lightness: FloatArray, seen: BoolArray, border: float, per_mm: float
) -> Found | Absent:
    """Distinguish a large bone that covers the dark rest's edge from ground that is pale anyway."""
    if _lies_within(np.abs(lightness - border) > LEAST_CONTRAST_L, per_mm):
        raise BoneError(
            "the ground under the bone is not dark",
            hint="lay the bone on a dark, matt rest: black felt or card",
        )
    dark = seen & (lightness < min(DARK_REST_L, border - LEAST_CONTRAST_L))
    if dark.sum() < DARK_SHARE * seen.sum():
        return Absent.DARK_REST
    none = np.zeros_like(seen)
    return Found(bone=none, at_edge=seen & ~dark, crumbs=none)


class Matt(NamedTuple):
    """The bone without rim and glare: what is well lit, and that with its shaded sides."""

    lit: BoolArray
    seen: BoolArray


def matt_surface(
    bone: BoolArray, luminance: FloatArray, yellowness: FloatArray, per_mm: float
) -> Matt:
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
    matt = inner & ~_glare(bone, luminance, yellowness, well_lit, per_mm)
    surface = matt & (luminance > SHADOW_SHARE * well_lit)
    if not surface.any():
        raise BoneError(
            "nothing of the bone but its rim and glare is lit",
            hint="turn the bone, or move the lamp, until its surface is lit softly",
        )
    return Matt(lit=surface, seen=matt & (luminance > DEEP_SHARE * well_lit))


def open_mask(mask: BoolArray, radius_mm: float, per_mm: float) -> BoolArray:
    """Return the mask without what is thinner than twice the radius."""
    return _morph(cv2.MORPH_OPEN, mask, radius_mm, per_mm)


def drop_small(mask: BoolArray, least_px: float) -> BoolArray:
    """Return the mask without connected pieces smaller than `least_px` [px]."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    keep = stats[:, cv2.CC_STAT_AREA] >= least_px
    keep[0] = False
    return np.asarray(keep[labels])


def _pieces(bright: BoolArray, per_mm: float) -> Found:
    """Sort what is bright: no threads, which are lint, and no crumbs."""
    whole = open_mask(bright, THIN_MM, per_mm)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(whole.astype(np.uint8))
    area = stats[:, cv2.CC_STAT_AREA].copy()
    area[0] = 0
    at_edge = np.isin(np.arange(count), _edge_labels(labels)) & (area >= _least_px(per_mm))
    inner = np.where(at_edge, 0, area)
    large = inner >= max(_least_px(per_mm), DEBRIS_SHARE * float(inner.max()))
    crumbs = (area > 0) & ~large & ~at_edge
    return Found(bone=large[labels], at_edge=at_edge[labels], crumbs=crumbs[labels])


def _edge_labels(labels: MatLike) -> MatLike:
    """Return the labels along the edge of a map."""
    return np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])


def _lies_within(other: BoolArray, per_mm: float) -> bool:
    """Return whether something as large as a bone lies apart from the zone's border."""
    whole = open_mask(other, THIN_MM, per_mm)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(whole.astype(np.uint8))
    inner = ~np.isin(np.arange(len(stats)), _edge_labels(labels))
    inner[0] = False
    return bool((stats[inner, cv2.CC_STAT_AREA] >= _least_px(per_mm)).any())


def _least_px(per_mm: float) -> int:
    return round(LEAST_AREA_MM2 * per_mm**2)


def _ring(seen: BoolArray, per_mm: float) -> BoolArray:
    """Return the border of what is seen of the zone."""
    inside = seen.copy()
    inside[[0, -1]] = inside[:, [0, -1]] = False
    ring = seen & ~_morph(cv2.MORPH_ERODE, inside, RING_MM, per_mm)
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
