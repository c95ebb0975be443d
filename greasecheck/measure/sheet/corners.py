"""Puts markers' corners where lines fitted to their edges meet."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.sheet.markers import MARKER_CELLS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from greasecheck.measure.sheet.markers import SeenMarker
    from greasecheck.model import BoolArray, FloatArray

    Brightness = NDArray[np.uint8] | NDArray[np.float32]

# Without a source, where none is named; the comment beside each value states what it does.
PROFILE_STEP_PX = 0.5  # at most, between samples across an edge
ALONG = np.linspace(0.12, 0.88, 24)  # where a marker's side is looked at, away from its corners
REACH_PX = (2.0, 8.0)  # least and most of a profile to either side of an edge
REACH_CELLS = 0.45  # between these: stays within the black border and the white gap around it
ROUNDS = 3  # of settling corners
HUBER_PX = 1.345  # from an edge, beyond which a profile weighs less (OpenCV's DIST_HUBER)
LINE_ROUNDS = 3  # of weighing profiles
TINY = 1e-9  # keeps an edge without profiles where it is


def refine(grey: Brightness, markers: Sequence[SeenMarker]) -> list[SeenMarker]:
    """Put markers' corners where lines fitted to their edges meet.

    Each edge is sampled by profiles across it; the centroid of a profile's rise from ink to
    paper does not move with blur. It is repeated, as profiles must lie evenly about the edge.

    Parameters
    ----------
    grey : ndarray, shape (height, width), uint8 or float32
        The photo at full resolution, in device values or linear light.
    markers : sequence of SeenMarker
        At least one; corners good to about a third of a cell.

    Returns
    -------
    list of SeenMarker
        The markers with corners good to about 0.1 px, or as they were where edges are unclear.
    """
    quads = np.stack([marker.corners_px for marker in markers])
    for _ in range(ROUNDS):
        quads = _meeting_points(*_edges_seen(grey, quads))
    return [
        replace(marker, corners_px=quad) if _is_near(quad, marker) else marker
        for marker, quad in zip(markers, quads, strict=True)
    ]


def _is_near(quad: FloatArray, marker: SeenMarker) -> bool:
    return bool(np.abs(quad - marker.corners_px).max() < marker.side_px / MARKER_CELLS)


def _meeting_points(starts: FloatArray, ends: FloatArray) -> FloatArray:
    """Where each edge's line, shapes (n, 4, 2), meets that of the edge before; else its start."""
    along, before = ends - starts, np.roll(starts, 1, axis=1)
    along_before = np.roll(along, 1, axis=1)
    turn = _cross(along_before, along)
    parallel = turn == 0
    share = _cross(starts - before, along) / np.where(parallel, 1, turn)
    return np.where(parallel, starts, before + share * along_before)


def _cross(one: FloatArray, other: FloatArray) -> FloatArray:
    """Signed area that two directions, shapes (..., 2), span, shape (..., 1)."""
    area = one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0]
    return np.asarray(area[..., np.newaxis])


def _edges_seen(grey: Brightness, quads: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where the edges of dark quadrangles that run clockwise begin and end, shapes (n, 4, 2)."""
    after = np.roll(quads, -1, axis=1)
    sides = after - quads
    lengths = np.hypot(sides[..., 0], sides[..., 1])
    outward = np.stack([sides[..., 1], -sides[..., 0]], axis=-1) / lengths[..., np.newaxis]
    reach = np.clip(REACH_CELLS * lengths.mean(axis=1) / MARKER_CELLS, *REACH_PX)
    steps = int(np.ceil(2 * reach.max() / PROFILE_STEP_PX))
    offsets = reach[:, np.newaxis, np.newaxis] * np.linspace(-1, 1, steps + 1)
    places = quads[:, :, np.newaxis] + ALONG[:, np.newaxis] * sides[:, :, np.newaxis]
    across = offsets[..., np.newaxis] * outward[:, :, np.newaxis]
    start, end = _line(*_centroids(_profiles(grey, places, across), offsets))
    return quads + start * outward, after + end * outward


def _profiles(grey: Brightness, places: FloatArray, across: FloatArray) -> NDArray[np.float32]:
    """Grey values, shape (n, 4, profiles, k), of profiles through `places`, k steps `across`."""
    starts, steps = places.astype(np.float32)[:, :, :, np.newaxis], across.astype(np.float32)
    points = starts + steps[:, :, np.newaxis]
    return np.stack([_sampled(grey, of_marker) for of_marker in points])


def _centroids(profiles: NDArray[np.float32], offsets: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Where profiles rise, along them, and which show an edge at all, shapes (n, 4, profiles)."""
    rise = np.maximum(np.diff(profiles, axis=-1), 0)
    weight = rise.sum(axis=-1)
    shown = weight > np.sort(weight)[..., len(ALONG) // 2, np.newaxis] / 2
    middles = (offsets[..., 1:] + offsets[..., :-1]) / 2
    pull = (rise @ middles.swapaxes(1, 2)[:, np.newaxis])[..., 0]
    return pull / np.where(shown, weight, 1), shown


def _line(shift: FloatArray, shown: BoolArray) -> tuple[FloatArray, FloatArray]:
    """Shift of an edge's start and end, shapes (n, 4, 1), by a line through those of profiles."""
    weights = shown.astype(np.float64)
    for _ in range(LINE_ROUNDS):
        total = np.maximum(weights.sum(axis=-1, keepdims=True), TINY)
        middle = weights @ ALONG[:, np.newaxis] / total
        mean = (weights * shift).sum(axis=-1, keepdims=True) / total
        pull = weights * (ALONG - middle)
        spread = np.maximum((pull * ALONG).sum(axis=-1, keepdims=True), TINY)
        slope = (pull * shift).sum(axis=-1, keepdims=True) / spread
        off = shift - mean - slope * (ALONG - middle)
        weights = shown * (HUBER_PX / np.maximum(np.abs(off), HUBER_PX))
    return mean - slope * middle, mean + slope * (1 - middle)


def _sampled(grey: Brightness, points: NDArray[np.float32]) -> NDArray[np.float32]:
    """Grey values at profiles along edges, shape (edges, profiles, points, 2) [px].

    Only the part of the photo that they touch is looked at; its bounds are those of the outermost.
    """
    count, profiles, length, _ = points.shape
    ends = points[:, :: profiles - 1, :: length - 1].reshape(-1, 2)
    size = np.array(grey.shape[::-1])
    low = np.clip(ends.min(axis=0).astype(int) - 1, 0, size - 1)
    high = np.maximum(ends.max(axis=0).astype(int) + 3, low + 1)
    crop = grey[low[1] : high[1], low[0] : high[0]].astype(np.float32)
    places = points.reshape(-1, length, 2) - low.astype(np.float32)
    sampled = cv2.remap(crop, places, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)  # type: ignore[call-overload]  # without a second map
    return np.asarray(sampled.reshape(count, profiles, length), dtype=np.float32)
