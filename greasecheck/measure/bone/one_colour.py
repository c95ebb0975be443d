"""Regions of one colour within a bone's outline: a card or strip laid on bone shows by its edges.

An evenly coloured thing has the same chromaticity in light and shadow, so that clusters of like
chromaticity trace its edges where its outline with the bone shows few of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.bone.mask import LEAST_AREA_MM2, THIN_MM, open_mask
from greasecheck.measure.bone.pieces import outlines
from greasecheck.measure.bone.straight import straightness
from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.measure.robust import percentiles

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from greasecheck.measure.bone.straight import Straightness
    from greasecheck.model import BoolArray, FloatArray

BLUR_MM = 0.5  # standard deviation, a sample: it quiets noise and rounds corners less than STRAY_MM
CLUSTERS = range(3, 8, 2)  # a thing, bone, yellow patches, cavities, and mixtures of them at edges
ENOUGH = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 20, 1e-3)  # rounds; change of a centre
FEW = 2000  # samples, evenly spread, that find the centres; all are judged by the nearest of these
LEAST_SPREAD = 1e-3  # of a chromaticity that is divided by its spread


def one_colour_regions(xyz: FloatArray, bone: BoolArray, per_mm: float) -> tuple[Straightness, ...]:
    """Return how straight and square the outlines of a bone and its regions of one colour are.

    Regions overlap: each number of clusters gives its own. The bone itself comes first.

    Parameters
    ----------
    xyz : ndarray, shape (rows, columns, 3)
        CIE XYZ (D65/2), Y of the perfect diffuser = 100.
    bone : ndarray, shape (rows, columns), bool
        What was taken for bone.
    per_mm : float
        Sampling density [px/mm].
    """
    blurred = cv2.GaussianBlur(xyz.astype(np.float32), (0, 0), BLUR_MM * per_mm)
    least_px = LEAST_AREA_MM2 * per_mm**2
    found = [straightness([line / per_mm for line in outlines(bone)])]
    for points in _chromaticities(np.asarray(blurred[bone], np.float64)):
        for region in _clusters(points, bone):
            lines = outlines(open_mask(region, THIN_MM, per_mm), least_px)
            found += [straightness([line / per_mm]) for line in lines]
    return tuple(found)


def _chromaticities(xyz: FloatArray) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return yellowness and redness as they are, where yellowness leads, and by their spreads."""
    redness = 100 * xyz[:, 0] / xyz[:, 1]
    plain = np.column_stack([yellowness_e313(xyz), redness])
    quartiles = np.array([percentiles(channel, [25, 75]) for channel in plain.T])
    spread = np.maximum(quartiles[:, 1] - quartiles[:, 0], LEAST_SPREAD)
    return plain.astype(np.float32), (plain / spread).astype(np.float32)


def _clusters(points: NDArray[np.float32], bone: BoolArray) -> Iterator[BoolArray]:
    """Yield the clusters of k-means (Lloyd 1982) as masks; the same ones each time."""
    inside = np.flatnonzero(bone)
    some = np.ascontiguousarray(points[:: max(len(points) // FEW, 1)])
    for count in CLUSTERS:
        if len(some) < count:
            return
        cv2.setRNGSeed(count)
        blank = np.zeros(len(some), np.int32)
        _, _, centres = cv2.kmeans(some, count, blank, ENOUGH, 1, cv2.KMEANS_PP_CENTERS)
        away = (centres**2).sum(axis=1) / 2 - points @ centres.T  # and half the point's own square
        labels = np.full(bone.shape, -1, np.int8)
        np.put(labels, inside, away.argmin(axis=1))
        yield from (labels == place for place in range(count))
