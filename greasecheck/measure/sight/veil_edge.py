"""Finds the upper edge of a veil that lies on the lower part of the jar alone.

A film or mist on the glass, a reflection on it or glare add light to black and white bars alike,
as murk does, and end within some millimetres. The light that murk sends back changes smoothly down
the jar. Against the clear-water photo of the same stand the black bars show which it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import erf, sqrt
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.sight.bars import BAND_MM, EDGE_MARGIN_MM

if TYPE_CHECKING:
    from greasecheck.model import Box, FloatArray

EDGE_MM = 2.0  # standard deviation of the veil's edge, as bands of 3 mm show it
STEP_MM = 0.75  # from edge to edge that is tried
LEAST_SEEN = 0.3  # length of a step that no smooth light describes: less tells of noise alone
# Of fine bars, whose uppermost band has some of the paper above them, as refraction moves it.
MOVED_BANDS = 1
EDGE_STD = 4.0  # standard errors that an edge may have, as a step of contrast may
# Murk's own light bends down the jar by less than this share of what it has where it has least, in
# the lamps that constants are fitted to.
MURK_BEND = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class VeilDown:
    """Light added to black and white bars alike, from the top of the coarse bars down.

    Attributes
    ----------
    y_mm : tuple of float
        Middles of the bands of coarse and then of fine bars, on the sheet [mm].
    light : tuple of float
        Mean of the channels, paper white = 1.
    fine_from : int
        Which band is the first of the fine bars.
    """

    y_mm: tuple[float, ...]
    light: tuple[float, ...]
    fine_from: int


def veil_down(boxes: tuple[Box, Box], veils: tuple[FloatArray, FloatArray]) -> VeilDown:
    """Join the veil of coarse and fine bars.

    Parameters
    ----------
    boxes : tuple of Box
        The coarse bars' field and the fine bars' below it, on the sheet [mm].
    veils : tuple of ndarray, shape (bands, 3)
        Light added in each of their bands, paper white = 1.
    """
    places = [
        box.y_mm + EDGE_MARGIN_MM + BAND_MM * (np.arange(len(veil)) + 0.5)
        for box, veil in zip(boxes, veils, strict=True)
    ]
    coarse, fine = (veil.mean(axis=-1) for veil in veils)
    y_mm, light = (
        np.concatenate([above, below[MOVED_BANDS:]]).tolist()
        for above, below in (places, (coarse, fine))
    )
    return VeilDown(y_mm=tuple(y_mm), light=tuple(light), fine_from=len(coarse))


def veil_edge(now: VeilDown, then: VeilDown) -> float:
    """Return the light that a veil adds below an edge, beyond what noise and murk make.

    The change since the clear-water photo is described by a parabola down the jar, by what lets
    fine bars differ from coarse ones, as blur and the jar's light do, and by one edge.

    Parameters
    ----------
    now, then : VeilDown
        Of this photo and of the clear-water photo, on sheets of one version.

    Returns
    -------
    float
        Paper white = 1; 0 where there may be no edge.
    """
    model = _edges(now.y_mm, now.fine_from)
    left = np.subtract(now.light, then.light)
    left = left - model.smooth @ (left @ model.smooth)
    sizes = model.edges @ left
    rest = np.maximum(left @ left - sizes**2, 0)
    std = np.sqrt(rest / (len(left) - model.smooth.shape[1] - 1))
    best = int(np.argmin(rest + np.where(sizes > 0, 0, np.inf)))
    added = (sizes[best] - EDGE_STD * std[best]) / model.lengths[best]
    return max(float(added) - MURK_BEND * max(min(now.light), 0.0), 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Edges:
    """An orthonormal base of smooth changes, and edges without these, of length 1 and as it was."""

    smooth: FloatArray
    edges: FloatArray
    lengths: FloatArray


@lru_cache(maxsize=2)  # the same in all photos of a sheet
def _edges(y_mm: tuple[float, ...], fine_from: int) -> _Edges:
    places = np.array(y_mm)
    x = (places - places.mean()) / np.ptp(places)
    fine = np.arange(len(places)) >= fine_from
    smooth, _ = np.linalg.qr(np.stack([x**0, x, x**2, fine], axis=1))
    at = np.arange(places[0], places[-1], STEP_MM)
    whole = np.array(
        [[1 + erf((y - edge) / (EDGE_MM * sqrt(2))) for y in y_mm] for edge in at]
    ) / 2  # fmt: skip
    edges = whole - whole @ smooth @ smooth.T
    lengths = np.linalg.norm(edges, axis=1)
    seen = lengths > LEAST_SEEN
    return _Edges(
        smooth=smooth, edges=edges[seen] / lengths[seen, np.newaxis], lengths=lengths[seen]
    )
