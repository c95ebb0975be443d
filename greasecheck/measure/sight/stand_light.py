"""How a stand's light falls on bars behind the water, as its clear-water photo shows.

In the light of one lamp the paper directly under the water's surface lies in shadow. Its reach
shows how high the lamp stands, its darkness whether a lamp lights the stand at all. The constants
of such a stand are printed by `tests/benchmarks/water_constants.py`: means of three path-traced
lamps, and beside them what six others have, from whose scatter the standard errors are.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, atan, degrees, sin
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greasecheck.measure.sight.shade import WaterShade

WATER_INDEX = 1.333  # of visible light at 20 degrees C (CRC Handbook, from memory)
WALLS_MM = 4.5  # gap and wall behind the water, which the shadow crosses too
SHADE, SHADE_STD = 1.106, 0.11
LOG_VEIL, LOG_VEIL_STD = -0.069, 0.14
COARSE, COARSE_STD = 0.85, 0.05
# From this reach on the shadow falls on the coarse bars themselves, and murk lights them instead.
ON_COARSE_MM, ON_COARSE_STD = 42.0, 0.4
UNKNOWN_STD = 0.3  # of S and of ln A where no reference shows the light


@dataclass(frozen=True, slots=True, kw_only=True)
class StandLight:
    """Constants of one stand's light, as in `spectral.py`.

    Attributes
    ----------
    shade, shade_std : float
        S: how readily murk takes the fine bars' light, and its standard error.
    coarse, coarse_std : float
        S of the coarse bars over that of the fine ones, and its standard error.
    log_veil, log_veil_std : float
        ln A: how brightly murk shines, paper white = 1, and its standard error.
    """

    shade: float = SHADE
    shade_std: float = SHADE_STD
    coarse: float = COARSE
    coarse_std: float = COARSE_STD
    log_veil: float = LOG_VEIL
    log_veil_std: float = LOG_VEIL_STD


UNKNOWN_LIGHT = StandLight(
    shade_std=UNKNOWN_STD, coarse_std=ON_COARSE_STD, log_veil_std=UNKNOWN_STD
)


def light_of(shade: WaterShade) -> StandLight:
    """Estimate a stand's constants from the shadow under the surface of clear water."""
    on_coarse = shade.reach_mm is None or shade.reach_mm > ON_COARSE_MM
    return StandLight(coarse_std=ON_COARSE_STD if on_coarse else COARSE_STD)


def lamp_elevation_deg(reach_mm: float, path_mm: float) -> float:
    """Height of a lamp over the horizon [degrees] whose shadow reaches down so far [mm].

    A ray that enters the front of water of depth L at the elevation e reaches the back
    L tan(asin(sin e / n)) lower (Snell's law). The largest such angle is 90 degrees.

    Examples
    --------
    >>> round(lamp_elevation_deg(40.5, 60.0))
    45
    """
    inside = atan(reach_mm / (path_mm + WALLS_MM))
    return degrees(asin(min(WATER_INDEX * sin(inside), 1.0)))
