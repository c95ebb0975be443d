"""Shapes that things have and bones have not: straight edges, square corners, no hollows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from greasecheck.model import BonePiece, BoolArray, FloatArray, Placement

STRAY_MM = 0.8  # of a straight edge, sampled and blurred; at 1.6 skulls have square corners too
BEVEL_MM = 2.5  # shorter edges are the bevels of sampled corners; longer, small things have none
LONG_MM, SHORT_MM = 12.0, 6.0  # edges that make a corner: a strip's end is as wide
SQUARE_DEG = 12.0  # from a right angle, seen a little from the side
ALONG_MM = 4.0  # from a corner, on the shorter edge, too


class SquareCorner(NamedTuple):
    """Where two straight edges meet at a right angle, and how they run.

    The turn of the longer from an axis is 0 to 90 degrees; a place on either edge is near the
    corner.
    """

    x_mm: float
    y_mm: float
    turned_deg: float
    one_x_mm: float
    one_y_mm: float
    other_x_mm: float
    other_y_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Straightness:
    """How straight, square and round the outlines of what was taken for bone are.

    Attributes
    ----------
    corners, outward : int
        Square corners between straight edges, and those of them that point outwards: things have
        such, the hollows of a skull have the others.
    longest : float
        Longest straight edge over the square root of all pieces' area.
    fullness : float
        Largest share of its smallest rectangle that a piece fills; an ellipse fills 0.785.
    roundest : float
        Largest share of its convex hull that a piece other than the largest fills; 0 of one alone.
    """

    corners: int
    outward: int
    longest: float
    fullness: float
    roundest: float


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
    by_area = sorted(outlines_mm, key=_area)
    longest_mm = float(_lengths(_edges(outlines_mm).ends).max(initial=0))
    corners = square_corners(outlines_mm)
    return Straightness(
        corners=sum(map(len, corners)),
        outward=sum(
            _points_outwards(corner, line)
            for line, own in zip(outlines_mm, corners, strict=True)
            for corner in own
        ),
        longest=longest_mm / max(sum(map(_area, outlines_mm)) ** 0.5, 1.0),
        fullness=max(map(fullness, outlines_mm), default=0.0),
        roundest=max(map(hull_share, by_area[:-1]), default=0.0),
    )


def outlines_beside(placement: Placement, pieces: Sequence[BonePiece]) -> tuple[FloatArray, ...]:
    """Return the outlines of pieces in a chart's plane [mm]; a lens's bending is left out."""
    to_mm = np.linalg.inv(placement.homography)
    flat = [np.array([(*point, 1.0) for point in piece.outline_px]) @ to_mm.T for piece in pieces]
    return tuple(points[:, :2] / points[:, 2:] for points in flat)


def fullness(outline_mm: FloatArray) -> float:
    """Return the share of its smallest rectangle that an outline, shape (n, 2) [mm], fills."""
    width, height = cv2.minAreaRect(outline_mm.astype(np.float32))[1]
    return _area(outline_mm) / max(width * height, 1.0)


def hull_share(outline_mm: FloatArray) -> float:
    """Return the share of its convex hull that an outline, shape (n, 2) [mm], fills."""
    hull = cv2.convexHull(outline_mm.astype(np.float32))
    return _area(outline_mm) / max(cv2.contourArea(hull), 1.0)


def _area(outline_mm: FloatArray) -> float:
    return cv2.contourArea(outline_mm.astype(np.float32))


def square_corners(outlines_mm: Sequence[FloatArray]) -> list[list[SquareCorner]]:
    """Return the square corners of each of some outlines, each of shape (n, 2) [mm]."""
    edges = _edges(outlines_mm)
    found: list[list[SquareCorner]] = [[] for _ in outlines_mm]
    following = edges.ends[_following(edges.outline)]
    for place in np.flatnonzero(_are_square(edges.ends, following)).tolist():
        found[edges.outline[place]].append(_corner(edges.ends[place], following[place]))
    return found


def _points_outwards(corner: SquareCorner, outline_mm: FloatArray) -> bool:
    """Return whether what the outline holds lies between the corner's edges."""
    between = (corner.one_x_mm + corner.other_x_mm) / 2, (corner.one_y_mm + corner.other_y_mm) / 2
    return cv2.pointPolygonTest(outline_mm.astype(np.float32), between, False) > 0


class _Edges(NamedTuple):
    """Straight edges: start and end of each, shape (n, 2, 2) [mm]; its outline's place, (n,)."""

    ends: FloatArray
    outline: NDArray[np.intp]


def _edges(outlines_mm: Sequence[FloatArray]) -> _Edges:
    """Return the straight edges of outlines; the bevel that sampling leaves at a corner is none."""
    bent = [
        cv2.approxPolyDP(line.astype(np.float32), STRAY_MM, closed=True)[:, 0]
        for line in outlines_mm
    ]
    corners = np.concatenate([*bent, np.zeros((0, 2))]).astype(np.float64)
    outline = np.repeat(np.arange(len(bent)), [len(each) for each in bent])
    ends = np.stack([corners, corners[_following(outline)]], axis=1)
    long = _lengths(ends) > BEVEL_MM
    return _Edges(ends=ends[long], outline=outline[long])


def _lengths(edges: FloatArray) -> FloatArray:
    return np.asarray(np.hypot(*(edges[:, 1] - edges[:, 0]).T))


def _following(outline: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return for each item of closed outlines the place of the next, the first for the last."""
    following = np.arange(1, len(outline) + 1)
    first, last = np.diff(outline, prepend=-1), np.diff(outline, append=-1)
    following[np.flatnonzero(last)] = np.flatnonzero(first)
    return following


def _are_square(edges: FloatArray, following: FloatArray) -> BoolArray:
    """Return whether edges meet those that follow them at a right angle, shape (n,)."""
    (ways, lengths), (next_ways, next_lengths) = (
        (each[:, 1] - each[:, 0], _lengths(each)) for each in (edges, following)
    )
    cosine = (ways * next_ways).sum(axis=1) / np.maximum(lengths * next_lengths, 1e-9)
    square = np.abs(cosine) < np.sin(np.radians(SQUARE_DEG))
    square &= np.maximum(lengths, next_lengths) > LONG_MM
    square &= np.minimum(lengths, next_lengths) > SHORT_MM
    return np.asarray(square & (np.hypot(*(following[:, 0] - edges[:, 1]).T) < 2 * BEVEL_MM))


def _corner(before: FloatArray, after: FloatArray) -> SquareCorner:
    """Return the corner between two edges, each as start and end."""
    one, other = before[1] - before[0], after[1] - after[0]
    one_mm, other_mm = np.hypot(*one), np.hypot(*other)
    turned = np.arctan2(*(one if one_mm > other_mm else other)[::-1])
    x, y = ((before[1] + after[0]) / 2).tolist()
    one_x, one_y = (before[1] - one * (ALONG_MM / one_mm)).tolist()
    other_x, other_y = (after[0] + other * (ALONG_MM / other_mm)).tolist()
    return SquareCorner(
        x_mm=x,
        y_mm=y,
        turned_deg=float(np.degrees(turned) % 90),
        one_x_mm=one_x,
        one_y_mm=one_y,
        other_x_mm=other_x,
        other_y_mm=other_y,
    )
