"""Grows, shrinks and picks masks of a picture's samples."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import BoolArray


def grown(mask: BoolArray, reach: int) -> BoolArray:
    """Return what lies within so many samples of a mask, across and down."""
    return np.asarray(cv2.dilate(mask.astype(np.uint8), _square(reach)) > 0)


def shrunk(mask: BoolArray, reach: int) -> BoolArray:
    """Return what of a mask lies more than so many samples inside it."""
    return np.asarray(cv2.erode(mask.astype(np.uint8), _square(reach)) > 0)


def opened(mask: BoolArray) -> BoolArray:
    """Return a mask without what is narrower than three samples."""
    return np.asarray(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, _square(1)) > 0)


def holding(mask: BoolArray, core: BoolArray) -> BoolArray:
    """Return the connected parts of a mask that hold some of the core."""
    count, labels = cv2.connectedComponents(mask.astype(np.uint8))
    keep = np.zeros(count, bool)
    keep[labels[core & mask]] = True
    return np.asarray(keep[labels] & mask)


def _square(reach: int) -> NDArray[np.uint8]:
    return np.ones((2 * reach + 1,) * 2, np.uint8)
