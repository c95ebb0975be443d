"""How much faster contrast of narrow stripes decays than that of wide ones, told by brightness."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from greasecheck.reference.folder import data_folder
from greasecheck.reference.lookup import read_lookup

TABLE = "ladder_colour.csv"
COLOURS = ("red", "green", "blue")
BLURS = ("red_blur", "green_blur", "blue_blur")
USUAL_STRIPE_PX = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourLaw:
    """The derived constants; a loss is the logarithm of the decay of 3 mm over that of 8 mm.

    Attributes
    ----------
    factors : tuple of float
        The loss in R, G, B over that in brightness.
    bright_std : float
        Error of the loss told by brightness.
    own_std, own_power : float
        Error of the loss by the colour's own contrast, where a stripe of 3 mm is
        `USUAL_STRIPE_PX` wide; it grows with that power of narrower stripes.
    light_std, own_light_std : float
        What light that changes down the plate adds to the decay of white, in all colours alike and
        in each by itself [1/m].
    blurs_per_m : tuple of float
        By how much faster contrast of 3 mm than of 8 mm decays in R, G, B of clear water for its
        blur, which grows with the distance, where a stripe is `USUAL_STRIPE_PX` wide [1/m].
    """

    factors: tuple[float, ...]
    bright_std: float
    own_std: float
    own_power: float
    light_std: float
    own_light_std: float
    blurs_per_m: tuple[float, ...]

    def own_std_at(self, stripe_px: float) -> float:
        """Return the standard error of the loss by the colour's own contrast."""
        return float(self.own_std * (USUAL_STRIPE_PX / stripe_px) ** self.own_power)

    def blur_at(self, stripe_px: float, channel: int) -> float:
        """Return what blur adds to the decay of 3 mm in R, G or B of clear water [1/m].

        The share of contrast that blur takes goes with the inverse square of a stripe's width.
        """
        return float(self.blurs_per_m[channel] * (USUAL_STRIPE_PX / stripe_px) ** 2)


@cache
def colour_law() -> ColourLaw:
    """Return the constants of calibration/ladder_colour.csv."""
    values = read_lookup(data_folder("calibration") / TABLE).values()
    return ColourLaw(
        factors=tuple(values[colour] for colour in COLOURS),
        bright_std=values["bright_std"],
        own_std=values["own_std"],
        own_power=values["own_power"],
        light_std=values["light_std"],
        own_light_std=values["own_light_std"],
        blurs_per_m=tuple(values[blur] for blur in BLURS),
    )
