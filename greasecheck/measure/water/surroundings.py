"""What should be as it was for the clear-water reference: distance, light, the sheet's colours."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.sight.jar_light import (
    NOTHING_LOST,
    SAME,
    jar_light_change,
    look_beside_jar,
)

if TYPE_CHECKING:
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.measure.sight.jar_light import ContrastLost, JarLight, JarLightChange
    from greasecheck.measure.sight.view import SightView
    from greasecheck.model import Photo, Placement

# From water to water the jar's own light changes that on the paper around by less: own
# measurement on path-traced stands, from clear to 150 per metre and brown.
USUAL_PAPER_CHANGE = 0.01
USUAL_LIGHT_CHANGE = 0.04
# The share of a change of light on jar against dry bars that may be misjudged.
LIGHT_BELIEF = 0.5
LEAST_LIGHT = 1e-3  # keeps logarithms finite; paper = 1
LEAST_SATURATION = 1e-3  # likewise


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """Distance, light and colours of one photo.

    Attributes
    ----------
    span_mm : float
        Length on the sheet that the picture's longest side spans [mm]: grows with the distance.
    light_ratio : float
        Logarithm of the fitted red light on the bars behind the jar over that on the dry ones.
    paper : tuple of float or None
        Light of the paper windows, as in `LightMisfit`.
    loo_delta_e00 : float
        How well the sheet's colours fit, as in `ColourFit`.
    balance : tuple of float
        Logarithms of bare paper's red and blue light over its green light.
    jar : JarLight or None
        Light around the jar; None on sheets that have no places for it.
    saturation : float or None
        How far the camera's channels lie apart, as in `ColourModel`.
    """

    span_mm: float
    light_ratio: float
    paper: tuple[float | None, ...]
    loo_delta_e00: float
    balance: tuple[float, float] | None = None
    jar: JarLight | None = None
    saturation: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """How the surroundings differ from those of the clear-water reference.

    Attributes
    ----------
    distance_ratio : float
        Distance of the camera over that of the reference.
    light_ratio : float
        Change of the logarithm of light on the wet bars over that on the dry ones.
    paper : float
        Root mean square change of light on the paper that no smooth light explains, relative.
    loo_delta_e00 : float
        How much worse the sheet's colours fit.
    balance : float
        Largest change of the paper's red or blue over its green, as a logarithm.
    jar : JarLightChange
        Change of the light around the jar.
    saturation : float
        Change of how far the camera's channels lie apart, as a logarithm.
    """

    distance_ratio: float
    light_ratio: float
    paper: float
    loo_delta_e00: float
    balance: float
    jar: JarLightChange = SAME
    saturation: float = 0.0

    @property
    def depth_std(self) -> float:
        """Return the standard error of the water's optical depth by light misjudged."""
        lamp = LIGHT_BELIEF * max(abs(self.light_ratio) - USUAL_LIGHT_CHANGE, 0.0)
        paper = max(self.paper - USUAL_PAPER_CHANGE, 0.0)
        return float(np.linalg.norm((lamp, paper, self.jar.depth_std)))


def look_around(
    photo: Photo, placement: Placement, colour: ColourModel, sight: SightView
) -> Surroundings:
    """Take distance, light and colours from a photo of which the bars were measured."""
    place = placement.geometry.sight
    bars = (place.wet_fine, place.wet_coarse, place.dry_fine, place.dry_coarse)
    light = np.log(colour.illuminance(np.array([box.centre_mm for box in bars]))[:, 0])
    red, green, blue = np.maximum(colour.white, LEAST_LIGHT)
    return Surroundings(
        span_mm=float(np.max(photo.pixels.shape[:2]) / placement.pixels_per_mm),
        light_ratio=float(light[:2].mean() - light[2:].mean()),
        paper=colour.misfit.windows,
        loo_delta_e00=colour.fit.loo_delta_e00,
        balance=(float(np.log(red / green)), float(np.log(blue / green))),
        jar=look_beside_jar(photo, placement, colour, sight.level),
        saturation=colour.saturation,
    )


def changes(now: Surroundings, then: Surroundings, lost: ContrastLost = NOTHING_LOST) -> Changes:
    """Compare the surroundings of a photo with those of the clear-water reference.

    The water takes what is `lost` of the bars' contrast.
    """
    pairs = zip(now.paper, then.paper, strict=False)
    paper = [one - other for one, other in pairs if one is not None and other is not None]
    return Changes(
        distance_ratio=now.span_mm / then.span_mm,
        light_ratio=now.light_ratio - then.light_ratio,
        paper=float(np.sqrt(np.mean(np.square(paper)))) if paper else 0.0,
        loo_delta_e00=now.loo_delta_e00 - then.loo_delta_e00,
        balance=_largest_change(now.balance, then.balance),
        jar=jar_light_change(now.jar, then.jar, lost),
        saturation=_saturation_change(now.saturation, then.saturation),
    )


def _saturation_change(now: float | None, then: float | None) -> float:
    """Logarithm of the change; 0 where an older reference lacks it."""
    if now is None or then is None:
        return 0.0
    return float(np.log(max(now, LEAST_SATURATION) / max(then, LEAST_SATURATION)))


def _largest_change(now: tuple[float, float] | None, then: tuple[float, float] | None) -> float:
    """Largest change of white balance; 0 where an older reference lacks it."""
    if now is None or then is None:
        return 0.0
    return float(np.abs(np.subtract(now, then)).max())
