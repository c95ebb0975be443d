"""Straight edges and square corners in an outline, which cards and strips of wood have."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from greasecheck.model import BonePiece, FloatArray, Placement

STRAY_MM = 0.8  # of a straight edge, sampled and blurred; at 1.6 skulls have square corners too
BEVEL_MM = 2.5  # shorter edges are the bevels of sampled corners; longer, small things have none
LONG_MM, SHORT_MM = 12.0, 6.0  # edges that make a corner: a strip's end is as wide
SQUARE_DEG = 12.0  # from a right angle, seen a little from the side
ALIKE_DEG = 8.0  # corners of one rectangle are turned alike within this, for the same reason


class SquareCorner(NamedTuple):
    """Where two straight edges meet at a right angle, and the turn of the longer from an axis."""

    x_mm: float
    y_mm: float
    turned_deg: float  # 0 to 90


@dataclass(frozen=True, slots=True, kw_only=True)
class Straightness:
    """How straight and square the outlines of what was taken for bone are.

    Attributes
    ----------
    square : tuple of SquareCorner
        Square corners between straight edges.
    longest : float
        Longest straight edge over the square root of all pieces' area.
    fullness : float
        Largest share of its smallest rectangle that a piece fills; an ellipse fills 0.785.
    """

    square: tuple[SquareCorner, ...]
    longest: float
    fullness: float

    @property
    def corners(self) -> int:
        """Return how many square corners there are."""
        return len(self.square)


def straightness(outlines_mm: Sequence[FloatArray]) -> Straightness:
    """Measure the outlines of pieces.

    Parameters
    ----------
    outlines_mm : sequence of ndarray, each of shape (n, 2)
        Closed outlines [mm].

    Examples
    --------
    >>> import numpy as np
    >>> card = np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 30.0], [0.0, 30.0]])
    >>> angle = np.linspace(0, 2 * np.pi, 200)
    >>> bone = 30 * np.column_stack([np.cos(angle), np.sin(angle)])
    >>> straightness([card]).corners, straightness([bone]).corners
    (4, 0)
    """
    lines = [line.astype(np.float32) for line in outlines_mm]
    edges = [_edges(line) for line in lines]
    area_mm2 = sum(cv2.contourArea(line) for line in lines)
    longest_mm = max((float(_lengths(each).max(initial=0)) for each in edges), default=0.0)
    return Straightness(
        square=tuple(corner for each in edges for corner in _corners(each)),
        longest=longest_mm / max(float(np.sqrt(area_mm2)), 1.0),
        fullness=max((_fullness(line) for line in lines), default=0.0),
    )


def corners_turned_alike(outlines: Sequence[Straightness]) -> int:
    """Return the most square corners at different places that may be those of one rectangle.

    Each outline of a thing may show some of its corners and hide the others.

    Examples
    --------
    >>> import numpy as np
    >>> card = np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 30.0], [0.0, 30.0]])
    >>> corners_turned_alike([straightness([card]), straightness([card + 1])])
    4
    """
    corners = np.array([corner for one in outlines for corner in one.square]).reshape(-1, 3)
    places, turned = corners[:, :2], corners[:, 2]
    apart = np.abs(turned[:, np.newaxis] - turned)
    alike = np.minimum(apart, 90 - apart) < ALIKE_DEG
    return max((_places_apart(places[row]) for row in alike), default=0)


def _places_apart(places: FloatArray) -> int:
    """Count places, those that lie within two bevels of an earlier one left out."""
    kept: list[FloatArray] = []
    for place in places:
        if all(np.linalg.norm(place - other) > 2 * BEVEL_MM for other in kept):
            kept.append(place)
    return len(kept)


def outlines_beside(placement: Placement, pieces: Sequence[BonePiece]) -> tuple[FloatArray, ...]:
    """Return the outlines of pieces in a chart's plane [mm]; a lens's bending is left out."""
    to_mm = np.linalg.inv(placement.homography)
    flat = [np.array([(*point, 1.0) for point in piece.outline_px]) @ to_mm.T for piece in pieces]
    return tuple(points[:, :2] / points[:, 2:] for points in flat)


def _fullness(outline_mm: NDArray[np.float32]) -> float:
    width, height = cv2.minAreaRect(outline_mm)[1]
    return cv2.contourArea(outline_mm) / max(width * height, 1.0)


def _edges(outline_mm: NDArray[np.float32]) -> FloatArray:
    """Return the straight edges of an outline, each as start and end, shape (n, 2, 2) [mm].

    The bevel that sampling leaves at a corner is no edge.
    """
    corners = cv2.approxPolyDP(outline_mm, STRAY_MM, closed=True)[:, 0]
    edges = np.stack([corners, np.roll(corners, -1, axis=0)], axis=1).astype(np.float64)
    return np.asarray(edges[_lengths(edges) > BEVEL_MM])


def _lengths(edges: FloatArray) -> FloatArray:
    return np.asarray(np.linalg.norm(edges[:, 1] - edges[:, 0], axis=1))


def _corners(edges: FloatArray) -> list[SquareCorner]:
    following = np.roll(edges, -1, axis=0)
    one, other = _lengths(edges), _lengths(following)
    meet = np.linalg.norm(following[:, 0] - edges[:, 1], axis=1) < 2 * BEVEL_MM
    long = (np.maximum(one, other) > LONG_MM) & (np.minimum(one, other) > SHORT_MM)
    ways = (edges[:, 1] - edges[:, 0]), (following[:, 1] - following[:, 0])
    cosine = np.sum(ways[0] * ways[1], axis=1) / np.maximum(one * other, 1e-9)
    square = np.abs(cosine) < np.sin(np.radians(SQUARE_DEG))
    places = (edges[:, 1] + following[:, 0]) / 2
    longer = np.where((one > other)[:, np.newaxis], *ways)
    turned = np.degrees(np.arctan2(longer[:, 1], longer[:, 0])) % 90
    found = np.column_stack([places, turned])[long & square & meet]
    return [SquareCorner(*corner) for corner in found.tolist()]
