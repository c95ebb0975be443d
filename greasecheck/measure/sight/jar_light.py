"""Finds a shadow or a reflection on the jar by the paper around it and the glass above the water.

What darkens or brightens the jar alone, a hand, a body, a mirror, looks to the bars behind it like
murk or its lack. Its edge is soft, as lamps are wide, and falls on what no water lies before: the
bars behind the empty glass and bare paper on both sides of the jar. Against the clear-water photo
of the same stand water changes there only the light that reaches a place through the jar. Of that
brown water takes more of the blue than of the red, as a shadow does not: how much is known from the
bars' contrast, and the difference of blue and red says how large that part of the light is.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import repeat
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
# Contrast is lost on the way of light to the bars and on the way back; light that leaves the jar
# for paper beside it has gone through the water about once, that for the glass above a little
# farther: these shares of the depth of contrast. They and what follows are printed for the lamps
# that constants are fitted to by `benchmarks.jar_shadow --limits`.
WAY_TO_PAPER, WAY_TO_GLASS = 0.5, 0.85
COLOUR_STD = 0.006  # of blue against red light at a place, from milky water to milky water
# Share of the light on the glass that comes up out of clear water.
FROM_WATER = 0.065
# The dimming without colour at places and glass, and the brightening by the light that milky water
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


@dataclass(frozen=True, slots=True, kw_only=True)
class ContrastLost:
    """What water takes of the contrast of the bars behind it, for R, G, B.

    Attributes
    ----------
    scattered : ndarray, shape (3,)
        Share that it may have scattered away by the veil that it sends back, 0 to 1.
    absorbed : ndarray, shape (3,)
        Optical depth of the rest.
    """

    scattered: FloatArray
    absorbed: FloatArray


NOTHING_LOST = ContrastLost(scattered=np.zeros(3), absorbed=np.zeros(3))


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


def jar_light_change(
    now: JarLight | None, then: JarLight | None, lost: ContrastLost
) -> JarLightChange:
    """Compare the light around the jar with that in the clear-water photo.

    Light reaches a place past the jar and through its water. Where the jar takes or adds a share,
    that much may come through the water; murk takes no more of it than of the bars' contrast.

    Parameters
    ----------
    now, then : JarLight or None
        Of this photo and of the reference; without either nothing is known to have changed.
    lost : ContrastLost
        What the water takes of the bars' contrast.

    Examples
    --------
    >>> then = JarLight(places=((1.0, 1.0, 1.0),), glass=(0.5, 0.5, 0.5))
    >>> now = JarLight(places=((0.9, 0.9, 0.9),), glass=(0.5, 0.5, 0.5))
    >>> round(jar_light_change(now, then, NOTHING_LOST).dimmed, 3)
    0.105
    """
    if now is None or then is None or len(now.places) != len(then.places):
        return SAME
    kept = [_kept(*pair) for pair in zip(now.places, then.places, strict=True)]
    murk = float(lost.scattered[RED])
    by_murk = [murk * through_jar(place) for place in then.places]
    spots = [*zip(kept, by_murk, repeat(WAY_TO_PAPER), strict=False)]
    spots.append((_kept(now.glass, then.glass), murk * FROM_WATER, WAY_TO_GLASS))
    dimmed = [shadow_depth(one, way * lost.absorbed) - most for one, most, way in spots]
    gains = [float(np.log(min(one[RED], one[BLUE]))) for one, *_ in spots]
    glows = [USUAL_GLOW * murk + most for most in (*by_murk, 0.0)]
    return JarLightChange(
        dimmed=max(0.0, *dimmed), brightened=max(0.0, *np.subtract(gains, glows).tolist())
    )


def through_jar(place: tuple[float, float, float]) -> float:
    """Return the share of a place's light that the jar takes or adds, paper far from it = 1."""
    level = max(float(np.mean(place)), LEAST_LIGHT)
    return 1 - min(level, 1 / level)


def shadow_depth(kept: FloatArray, absorbed: FloatArray) -> float:
    """Return the optical depth in red of a loss of light that coloured water does not explain.

    Parameters
    ----------
    kept : ndarray, shape (3,)
        Light at a place over that in clear water, for R, G, B.
    absorbed : ndarray, shape (3,)
        Optical depth of the water for that part of the light which goes through it.
    """
    left = np.exp(-absorbed)
    colour = float(left[RED] - left[BLUE])
    share = (kept[RED] - kept[BLUE]) * colour / (colour**2 + COLOUR_STD**2)
    by_water = float(np.clip(share, 0, 1) * (1 - left[RED]))
    return -float(np.log(kept[RED] + by_water))


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


def _kept(now: tuple[float, float, float], then: tuple[float, float, float]) -> FloatArray:
    return np.asarray(np.maximum(now, LEAST_LIGHT) / np.maximum(then, LEAST_LIGHT))
