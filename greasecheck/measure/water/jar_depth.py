"""Estimates the depth of the jar from how far the water displaces the bars behind it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greasecheck.measure.sight.view import SightView
    from greasecheck.measure.water.reference import ClearWater

# Without a source, where none is named; the comment beside each value states what it does.
WELL_SEEN = 0.15  # relative standard error of a depth that is worth a word
SURE = 2.0  # standard errors that are put down to noise


@dataclass(frozen=True, slots=True, kw_only=True)
class JarDepth:
    """Depth of the water in the jar over that of the reference, with its standard error."""

    ratio: float
    std: float

    @property
    def departure(self) -> float:
        """Return how far the depth surely departs from that of the reference, relative."""
        return max(abs(self.ratio - 1) - SURE * self.std, 0.0)


def jar_depth(sight: SightView, clear: ClearWater, distance_ratio: float) -> JarDepth | None:
    """Estimate the jar's depth by the stretch of the fine bars.

    Behind a depth d of water of index n, seen from a distance D, bars are stretched by
    1 + d (1 - 1/n) / D.

    Parameters
    ----------
    sight : SightView
        The bars.
    clear : ClearWater
        The reference.
    distance_ratio : float
        Distance of the camera over that of the reference.

    Returns
    -------
    JarDepth or None
        None when murk hides the bars, or the reference shows them unmoved.
    """
    usual, stretch = clear.fine.stretch - 1, sight.fine.stretch
    if usual <= 0 or not sight.fine.clearly_seen:
        return None
    per_stretch = distance_ratio / usual
    std = stretch.std * per_stretch
    if std > WELL_SEEN:
        return None
    return JarDepth(ratio=(stretch.value - 1) * per_stretch, std=std)
