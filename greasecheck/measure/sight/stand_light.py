"""How a stand's light falls on bars behind the water, as its clear-water photo shows.

In the light of one lamp the paper directly under the water's surface lies in shadow. Its reach
shows how high the lamp stands, its darkness whether a lamp lights the stand at all. What murk does
to the light on the bars goes with the light on the coarse bars in clear water: the jar gathers a
low lamp's light there, which murk scatters away; into the shadow of a high lamp it scatters light.
The constants are printed by `tests/benchmarks/water_constants.py`: lines through what path-traced
lamps have.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import asin, atan, degrees, sin

from greasecheck.reference.water import WATER_INDEX

WALLS_MM = 4.5  # gap and wall behind the water, which the shadow crosses too
# Each is a line over the logarithm of the light on the coarse bars in clear water: its value at 0,
# its slope, and how far a lamp lies from the line of the others.
SHADE, SHADE_STD = (1.249, 0.761), 0.197
COARSE, COARSE_STD = (1.003, 2.491), 0.193
ABSORBED, ABSORBED_STD = (1.245, -0.209), 0.074
LOG_VEIL, LOG_VEIL_STD = (-0.088, 0.362), 0.111
# Where no reference shows the light: a lamp in the middle of the README's range, and its errors.
USUAL_LIT = -0.1
# No source: some twice what lamps differ by about these lines.
UNKNOWN_STD = 0.3  # of S and of ln A
UNKNOWN_COARSE_STD = 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class StandLight:
    """Constants of one stand's light, as in `spectral.py`.

    Attributes
    ----------
    shade, shade_std : float
        S: how readily murk turns the fine bars' light aside, and its standard error.
    coarse, coarse_std : float
        S of the coarse bars, and its standard error.
    absorbed : float
        B: path of the light to the bars through the water, over its depth.
    log_veil, log_veil_std : float
        ln A: how brightly murk shines, paper white = 1, and its standard error.
    """

    shade: float
    shade_std: float
    coarse: float
    coarse_std: float
    absorbed: float
    log_veil: float
    log_veil_std: float


def light_of(lit: float) -> StandLight:
    """Estimate a stand's constants.

    Parameters
    ----------
    lit : float
        Natural logarithm of the light on the coarse bars behind clear water, paper far from the
        jar = 1.
    """
    shade, coarse, absorbed, log_veil = (
        start + slope * lit for start, slope in (SHADE, COARSE, ABSORBED, LOG_VEIL)
    )
    return StandLight(
        shade=shade,
        shade_std=SHADE_STD,
        coarse=coarse,
        coarse_std=COARSE_STD,
        absorbed=absorbed,
        log_veil=log_veil,
        log_veil_std=LOG_VEIL_STD,
    )


UNKNOWN_LIGHT = replace(
    light_of(USUAL_LIT),
    shade_std=UNKNOWN_STD,
    coarse_std=UNKNOWN_COARSE_STD,
    log_veil_std=UNKNOWN_STD,
)


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
