"""The share of contrast that the water keeps, and what stands before the sight."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.sight.bars import AS_PRINTED
from greasecheck.measure.sight.view import MAIN_CHANNEL
from greasecheck.reference.water import WATER_INDEX

if TYPE_CHECKING:
    from greasecheck.measure.sight.bars import Alignment
    from greasecheck.measure.sight.view import FieldPair, SightView
    from greasecheck.measure.water.light import BarLight
    from greasecheck.measure.water.reference import ClearWater, FieldReference
    from greasecheck.model import FloatArray

# Without a source, where none is named; the comment beside each value states what it does.
NOTHING_BETWEEN = 0.97  # share of contrast seen beyond which no jar stands there
GLASS_KEEPS = 0.5  # of the contrast at least: four faces of glass leave 0.84 (Fresnel's equations)
SEEN = 3.0  # standard errors from zero beyond which bars are distinguished from noise
# Relative errors that the scatter of pixels does not show: the jar set down anew, and the slope of
# the tone curve, known worse from nominal patch values than from measured ones.
JAR_ERROR = 0.004
SLOPE_ERROR, NOMINAL_SLOPE_ERROR = 0.02, 0.04
CODING_ERROR = 0.001  # of faint bars in 8 bits, absolute


class JarState(StrEnum):
    """What stands before the sight."""

    FILLED = "filled"
    EMPTY = "empty"
    ABSENT = "absent"


@dataclass(frozen=True, slots=True, kw_only=True)
class Transmittance:
    """The water by one field of bars.

    Attributes
    ----------
    bar_mm : float
        Width of one bar [mm].
    clear_ratio : float
        Wet over dry contrast in clear water, in the main channel.
    veil : float
        Light added to black and white bars alike in the main channel, paper white = 1.
    kept, std : ndarray, shape (3,)
        Share of contrast kept, clear water keeping 1, and its standard error, for R, G, B.
    """

    bar_mm: float
    clear_ratio: float
    veil: float
    kept: FloatArray
    std: FloatArray

    @property
    def main(self) -> float:
        """Return the share kept in the main channel."""
        return float(self.kept[MAIN_CHANNEL])

    @property
    def main_std(self) -> float:
        """Return the standard error of `main`."""
        return float(self.std[MAIN_CHANNEL])

    @property
    def seen(self) -> tuple[bool, bool, bool]:
        """Return for R, G, B whether the bars are distinguished from noise."""
        red, green, blue = (bool(share) for share in self.kept > SEEN * self.std)
        return red, green, blue

    def attenuation_per_m(self, channel: int, path_mm: float) -> float:
        """Return the apparent attenuation [1/m] over a path [mm] in a channel that is seen."""
        return attenuation_from_contrast(float(self.kept[channel]), path_mm)

    def attenuation_std_per_m(self, channel: int, path_mm: float) -> float:
        """Return the standard error of `attenuation_per_m` [1/m]."""
        return float(self.std[channel] / self.kept[channel] / (path_mm / 1000))


def attenuation_from_contrast(kept: float, path_mm: float) -> float:
    """Attenuation [1/m] of water that keeps a share of the contrast over a path [mm].

    Parameters
    ----------
    kept : float
        Contrast seen over inherent contrast, above 0; above 1 gives a negative attenuation.
    path_mm : float
        Length of the line of sight through the water [mm].

    References
    ----------
    Duntley, S. Q. (1948). The reduction of apparent contrast by the atmosphere. J. Opt. Soc. Am.
    38, 179. doi:10.1364/JOSA.38.000179

    Examples
    --------
    >>> round(attenuation_from_contrast(0.5, 60.0), 2)
    11.55
    """
    return float(-np.log(kept) / (path_mm / 1000))


def slant_path(path_mm: float, tilt_deg: float) -> float:
    """Length [mm] of a ray through a jar of depth `path_mm` [mm], entered at an angle [degrees].

    Examples
    --------
    >>> round(slant_path(60.0, 30.0), 1)
    64.7
    """
    sine = np.sin(np.radians(tilt_deg)) / WATER_INDEX
    return float(path_mm / np.sqrt(1 - sine**2))


def transmittance(
    pair: FieldPair, reference: FieldReference, light: BarLight, *, nominal: bool
) -> Transmittance:
    """Add to the contrast kept what else makes it uncertain.

    Parameters
    ----------
    pair : FieldPair
        The field behind the jar and its dry twin, relative to clear water.
    reference : FieldReference
        The same field in clear water.
    light : BarLight
        How the light on the field departs from that in clear water.
    nominal : bool
        Whether the tone curve rests on nominal patch values.
    """
    slope = (NOMINAL_SLOPE_ERROR if nominal else SLOPE_ERROR) * (1 - pair.ratio)
    fixed = np.array(reference.relative_std) ** 2 + JAR_ERROR**2 + light.relative_std**2
    relative = np.sqrt(fixed + slope**2)
    std = np.sqrt(pair.ratio_std**2 + CODING_ERROR**2 + (pair.ratio * relative) ** 2)
    clear_ratio = reference.mean_ratio[MAIN_CHANNEL]
    return Transmittance(
        bar_mm=pair.bar_mm,
        clear_ratio=clear_ratio,
        veil=float(pair.veil[MAIN_CHANNEL]) * clear_ratio,
        kept=pair.ratio,
        std=std,
    )


def jar_state(sight: SightView, clear: ClearWater) -> JarState:
    """Distinguish water from air by whether the bars appear displaced, as water makes them.

    Faint bars tell nothing: what hides them, or a picture put together, moves them anywhere.
    """
    by_water = _edge_distance(clear.fine.alignment, AS_PRINTED, sight.fine)
    here = displacement_mm(sight.fine, AS_PRINTED)
    if not sight.fine.clearly_seen or here > by_water / 2:
        return JarState.FILLED
    between = sight.fine.ratio[MAIN_CHANNEL] * clear.fine.mean_ratio[MAIN_CHANNEL]
    if between < GLASS_KEEPS:
        return JarState.FILLED
    return JarState.ABSENT if between > NOTHING_BETWEEN else JarState.EMPTY


def displacement_mm(pair: FieldPair, expected: Alignment) -> float:
    """Largest distance [mm] of a bar from where it is expected; 0 when murk hides the bars."""
    return _edge_distance(pair.wet.alignment, expected, pair) if pair.clearly_seen else 0.0


def _edge_distance(one: Alignment, other: Alignment, pair: FieldPair) -> float:
    shift = abs(one.shift_mm - other.shift_mm)
    return shift + abs(one.stretch - other.stretch) * pair.width_mm / 2
