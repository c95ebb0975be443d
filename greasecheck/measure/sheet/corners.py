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
LINE_ROUNDS = 2  # of weighing profiles
CUT_CELLS = 2.0  # around a marker: more than profiles reach and its corners may move
AFTER, BEFORE = [1, 2, 3, 0], [3, 0, 1, 2]  # corners
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
    pictures, starts = zip(*(_cut_out(grey, marker) for marker in markers), strict=True)
    origins = np.stack(starts)[:, :, np.newaxis]
    quads = np.stack([marker.corners_px.T for marker in markers]) - origins
    for _ in range(ROUNDS):
        quads = _meeting_points(*_edges_seen(pictures, quads))
    return [
        replace(marker, corners_px=quad) if _is_near(quad, marker) else marker
        for marker, quad in zip(markers, (quads + origins).swapaxes(1, 2), strict=True)
    ]


def _cut_out(grey: Brightness, marker: SeenMarker) -> tuple[NDArray[np.float32], FloatArray]:
    """Cut a marker out of a photo, with what profiles reach; and where its first pixel lies."""
    margin, size = CUT_CELLS * marker.side_px / MARKER_CELLS, np.array(grey.shape[::-1])
    low = np.clip(marker.corners_px.min(axis=0) - margin, 0, size - 1).astype(int)
    high = np.clip(marker.corners_px.max(axis=0) + margin, low + 1, size).astype(int)
    return grey[low[1] : high[1], low[0] : high[0]].astype(np.float32), low.astype(np.float64)


def _is_near(quad: FloatArray, marker: SeenMarker) -> bool:
    return bool(np.abs(quad - marker.corners_px).max() < marker.side_px / MARKER_CELLS)


def _meeting_points(starts: FloatArray, ends: FloatArray) -> FloatArray:
    """Where each edge's line, shapes (n, 2, 4), meets that of the edge before; else its start."""
    along, before = ends - starts, starts[..., BEFORE]
    along_before = along[..., BEFORE]
    turn = _cross(along_before, along)
    parallel = turn == 0
    share = _cross(starts - before, along) / np.where(parallel, 1, turn)
    return np.where(parallel, starts, before + share * along_before)


def _cross(one: FloatArray, other: FloatArray) -> FloatArray:
    """Signed area that two directions, shapes (n, 2, 4), span, shape (n, 1, 4)."""
    return np.asarray(one[:, :1] * other[:, 1:] - one[:, 1:] * other[:, :1])


def _edges_seen(
    pictures: Sequence[NDArray[np.float32]], quads: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Where the edges of dark quadrangles, each in its picture, begin and end, shapes (n, 2, 4).

    Their corners, shape (n, 2, 4), run clockwise.
    """
    after = quads[..., AFTER]
    sides = after - quads
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    outward = np.stack([sides[:, 1], -sides[:, 0]], axis=1) / lengths[:, np.newaxis]
    reach = np.clip(REACH_CELLS * lengths.mean(axis=1) / MARKER_CELLS, *REACH_PX)
    steps = int(np.ceil(2 * reach.max() / PROFILE_STEP_PX))
    offsets = reach[:, np.newaxis] * np.linspace(-1, 1, steps + 1)
    places = quads[..., np.newaxis] + sides[..., np.newaxis] * ALONG
    across = outward[..., np.newaxis] * offsets[:, np.newaxis, np.newaxis]
    start, end = _line(*_centroids(_profiles(pictures, places, across), offsets))
    return quads + start * outward, after + end * outward


def _profiles(
    pictures: Sequence[NDArray[np.float32]], places: FloatArray, across: FloatArray
) -> NDArray[np.float32]:
    """Values, shape (n, 4, profiles, k), of profiles through `places`, k steps `across`."""
    middles, steps = places.astype(np.float32), across.astype(np.float32)
    points = middles[..., np.newaxis] + steps[:, :, :, np.newaxis]
    x, y = points.reshape(len(points), 2, -1, points.shape[-1]).swapaxes(0, 1)
    seen = [
        cv2.remap(*one, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        for one in zip(pictures, x, y, strict=True)
    ]
    return np.asarray(seen, dtype=np.float32).reshape(len(points), *points.shape[2:])


def _centroids(profiles: NDArray[np.float32], offsets: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Where profiles rise, along them, and which show an edge at all, shapes (n, 4, profiles)."""
    rise = np.maximum(np.diff(profiles, axis=-1), 0)
    weight = rise.sum(axis=-1)
    shown = weight > np.sort(weight)[..., len(ALONG) // 2, np.newaxis] / 2
    middles = (offsets[:, 1:] + offsets[:, :-1]) / 2
    pull = (rise @ middles[:, np.newaxis, :, np.newaxis])[..., 0]
    return pull / np.where(shown, weight, 1), shown


def _line(shift: FloatArray, shown: BoolArray) -> tuple[FloatArray, FloatArray]:
    """Shift of an edge's start and end, shapes (n, 1, 4), by a line through those of profiles."""
    weights = shown.astype(np.float64)
    for _ in range(LINE_ROUNDS):
        total = np.maximum(weights.sum(axis=-1), TINY)
        middle, mean = weights @ ALONG / total, (weights * shift).sum(axis=-1) / total
        place = ALONG - middle[..., np.newaxis]
        pull = weights * place
        slope = (pull * shift).sum(axis=-1) / np.maximum(pull @ ALONG, TINY)
        off = shift - mean[..., np.newaxis] - slope[..., np.newaxis] * place
        weights = shown * (HUBER_PX / np.maximum(np.abs(off), HUBER_PX))
    start = mean - slope * middle
    return start[:, np.newaxis], (start + slope)[:, np.newaxis]
