"""Finds a shadow or a reflection on the jar by the paper around it and the glass above the water.

What darkens or brightens the jar alone, a hand, a body, a mirror, looks to the bars behind it like
murk or its lack. Its edge is soft, as lamps are wide, and falls on what no water lies before: the
bars behind the empty glass and bare paper on both sides of the jar. Against the clear-water photo
of the same stand water changes little there, and brown water takes more of the blue than of the
red, as a shadow does not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.sheet.samples import boxes_points, sample_points

if TYPE_CHECKING:
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.model import FloatArray, Photo, Placement

RED, BLUE = 0, 2
# What bath water absorbs (blood, fat) it absorbs in blue twice as much as in red, or more; light
# that is lost alike in all colours may as well be lost to a shadow on the jar.
BLUE_OVER_RED = 2.0
# From water to water, in the lamps that constants are fitted to (`benchmarks.jar_shadow --limits`):
# the dimming without colour at places and glass, and the brightening by the light that milky water
# sends around, for each share of contrast lost.
USUAL_DIMMING, USUAL_GLOW = 0.01, 0.09
# A place beside the jar may lie anywhere in a shadow's soft edge: half of them see less than half
# of the shadow. So much more is its standard error.
EDGE_FACTOR = 2.0
ACROSS, DOWN = 24, 8  # points on each place: one on each bar of the glass field
LEAST_LIGHT = 1e-3  # keeps logarithms finite; paper = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class JarLight:
    """Light around the jar for R, G, B, bare paper far from it = 1.

    Attributes
    ----------
    places : tuple of tuple of float
        On bare paper beside the jar.
    glass : tuple of float
        Mean over the bars behind the empty glass, about half of what white paper has there.
    """

    places: tuple[tuple[float, float, float], ...]
    glass: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class JarLightChange:
    """How the light around the jar differs from that of the clear-water reference.

    Attributes
    ----------
    dimmed : float
        Largest loss of light without colour at a place or the glass beyond what the jar's own
        shadow makes of murk, as an optical depth.
    brightened : float
        Largest gain of light beyond that and what milky water sends there, likewise.
    """

    dimmed: float
    brightened: float

    @property
    def largest(self) -> float:
        """Return the larger of the two."""
        return max(self.dimmed, self.brightened)

    @property
    def depth_std(self) -> float:
        """Return the standard error of the water's optical depth by light on the jar."""
        return EDGE_FACTOR * max(self.largest - USUAL_DIMMING, 0.0)


SAME = JarLightChange(dimmed=0.0, brightened=0.0)


def look_beside_jar(
    photo: Photo, placement: Placement, colour: ColourModel, level: FloatArray | None
) -> JarLight | None:
    """Measure the light around the jar; None on sheets without places for it.

    Parameters
    ----------
    photo, placement, colour
        The photo, where the sheet is in it, and its colour model.
    level : ndarray, shape (3,), or None
        Scene light of bare paper far from the jar, as in `SightView`.
    """
    jar, glass = placement.geometry.jar, placement.geometry.sight.glass
    if jar is None or glass is None or level is None or not jar.beside:
        return None
    boxes = (*jar.beside, glass)
    points = boxes_points(boxes, ACROSS, DOWN)
    samples = sample_points(photo, placement, points.reshape(len(boxes), -1, 2))
    light = colour.scene_linear(samples.linear.astype(np.float64)).mean(axis=1)
    rows = [(float(red), float(green), float(blue)) for red, green, blue in light / level]
    return JarLight(places=tuple(rows[:-1]), glass=rows[-1])


def jar_light_change(now: JarLight | None, then: JarLight | None, lost: float) -> JarLightChange:
    """Compare the light around the jar with that in the clear-water photo.

    Light reaches a place past the jar and through its water. Where the jar takes a share of it,
    that much may come through the water, of which murk takes no more than of the bars' contrast.

    Parameters
    ----------
    now, then : JarLight or None
        Of this photo and of the reference; without either nothing is known to have changed.
    lost : float
        Share of the bars' contrast that the water scatters away, 0 to 1.

    Examples
    --------
    >>> then = JarLight(places=((1.0, 1.0, 1.0),), glass=(0.5, 0.5, 0.5))
    >>> now = JarLight(places=((0.9, 0.9, 0.9),), glass=(0.5, 0.5, 0.5))
    >>> round(jar_light_change(now, then, 0.2).dimmed, 3)
    0.105
    """
    if now is None or then is None or len(now.places) != len(then.places):
        return SAME
    through = [lost * max(1 - float(np.mean(place)), 0.0) for place in then.places]
    pairs = zip((*now.places, now.glass), (*then.places, then.glass), (*through, 0.0), strict=True)
    changed = [(_depths(one, other), most) for one, other, most in pairs]
    glow = USUAL_GLOW * lost
    return JarLightChange(
        dimmed=max(0.0, *(colourless(depth) - most for depth, most in changed)),
        brightened=max(
            0.0, *(float(min(-depth[RED], -depth[BLUE])) - most - glow for depth, most in changed)
        ),
    )


def colourless(depths: FloatArray) -> float:
    """Return the part of a dimming in red that is no part of a yellow or brown colour.

    Parameters
    ----------
    depths : ndarray, shape (3,)
        Optical depths for R, G, B; negative for a gain of light, of which nothing is returned.
    """
    red, _, blue = depths.tolist()
    if red <= 0:
        return 0.0
    return float(red * np.clip(BLUE_OVER_RED - blue / red, 0, 1))


def _depths(now: tuple[float, float, float], then: tuple[float, float, float]) -> FloatArray:
    return np.asarray(-np.log(np.maximum(now, LEAST_LIGHT) / np.maximum(then, LEAST_LIGHT)))
