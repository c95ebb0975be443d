"""Finds what grows on a bone or sticks to it and is none: blood and tissue, antler and horn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.bone.mask import drop_small
from greasecheck.measure.bone.yellowness import is_reddish
from greasecheck.measure.card.masks import opened
from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.measure.robust import percentiles

if TYPE_CHECKING:
    from greasecheck.model import BoolArray, FloatArray

# Antler and horn are this much darker than bone is where it is lit best, which most of a mask of
# antlers or of shade does not show, and browner than its usual tone. Grease patches of bone seldom
# are: the darkest bone tone of the card has 0.25 of the lightness of clean bone, the next 0.35. At
# 0.5 greasy patches are taken for antler.
WELL_LIT = 90  # percentile of the mask's luminance
DARK_SHARE = 0.36
BROWN_YI = 12.0
LIT_SHARE = 0.5  # of that lightness that the crest of an antler does not reach
# Antlers stand off the bone: so much of their outline is against the cloth. Grease and shade lie
# on the bone, with half of their outline or less at its rim.
BROWN_FREE, DARK_FREE = 0.62, 0.78  # where browner than the bone, and where only darker
LEAST_SHARE = 0.02  # of the bone's area, in one place
SMOOTHING = 1.6  # samples


@dataclass(frozen=True, slots=True, kw_only=True)
class NotBone:
    """Parts of a mask that are no bone, each shaped (rows, columns), bool."""

    reddish: BoolArray
    brown: BoolArray


def find_not_bone(xyz: FloatArray, mask: BoolArray) -> NotBone:
    """Find blood and tissue by their redness, antler and horn by their brown darkness.

    Parameters
    ----------
    xyz : ndarray, shape (rows, columns, 3)
        CIE XYZ (D65/2), Y of the perfect diffuser = 100.
    mask : ndarray, shape (rows, columns), bool
        What was taken for bone.
    """
    soft = _within(xyz, mask)
    yellowness = yellowness_e313(soft)
    well_lit = percentiles(soft[mask, 1], [WELL_LIT])[0]
    usual = percentiles(yellowness[mask], [30])[0]
    least = LEAST_SHARE * float(mask.sum())
    reddish = drop_small(opened(mask & is_reddish(soft)), least / 4)
    bone_or_brown, luminance = mask & ~reddish, soft[..., 1] / well_lit
    dark = bone_or_brown & (luminance < DARK_SHARE)
    browner = yellowness > usual + BROWN_YI
    brown = np.zeros_like(mask)
    for which, free in ((dark & browner, BROWN_FREE), (dark, DARK_FREE)):
        core = drop_small(opened(which & ~brown), least)
        brown |= _standing_off(_filled_out(core, bone_or_brown & ~brown, luminance), mask, free)
    return NotBone(reddish=reddish, brown=brown)


def _within(xyz: FloatArray, mask: BoolArray) -> FloatArray:
    """Smooth within the mask alone."""
    weight = mask.astype(np.float64)
    total = cv2.GaussianBlur(xyz * weight[..., np.newaxis], (0, 0), SMOOTHING)
    share = cv2.GaussianBlur(weight, (0, 0), SMOOTHING)
    return np.where(mask[..., np.newaxis], total / np.maximum(share, 1e-6)[..., np.newaxis], 1e-3)


def _standing_off(parts: BoolArray, mask: BoolArray, free: float) -> BoolArray:
    """Keep the parts of whose outline at least a share runs against the cloth."""
    count, labels = cv2.connectedComponents(parts.astype(np.uint8))
    rest = (mask & ~parts).astype(np.uint8)
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    rim = parts & (cv2.erode(parts.astype(np.uint8), cross) == 0)
    on_bone = rim & (cv2.dilate(rest, np.ones((3, 3), np.uint8)) > 0)
    whole, joined = (np.bincount(labels[which], minlength=count) for which in (rim, on_bone))
    keep = joined < (1 - free) * np.maximum(whole, 1)
    keep[0] = False
    return np.asarray(keep[labels])


def _filled_out(core: BoolArray, mask: BoolArray, luminance: FloatArray) -> BoolArray:
    """Take the crests and the rims of an antler to its dark core, unless they are lit as bone."""
    if not core.any():
        return core
    width = max(round(0.12 * np.sqrt(float(core.sum()))), 2)
    near = cv2.dilate(core.astype(np.uint8), np.ones((2 * width + 1,) * 2, np.uint8)) > 0
    rest = mask & ~core
    count, labels = cv2.connectedComponents(rest.astype(np.uint8))
    inside = np.bincount(labels[near & rest], minlength=count)
    whole = np.bincount(labels[rest], minlength=count)
    bright = np.bincount(labels[rest & (luminance > LIT_SHARE)], minlength=count)
    swallowed = (inside > 0.7 * np.maximum(whole, 1)) & (bright < 0.5 * whole)
    swallowed[0] = False
    return np.asarray(core | swallowed[labels])
