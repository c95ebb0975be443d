"""From the contrast of the bars to the attenuation of the bath water."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.clear_water import unknown_jar
from greasecheck.measure.colorimetry import yellowness_e313
from greasecheck.measure.scatter import ApparentAttenuation, correct_scatter, usual_factor
from greasecheck.measure.sight_view import AS_PRINTED, look_at_sight
from greasecheck.measure.turbidity import ROUGH_SCALE
from greasecheck.model import Bound, WaterReading

if TYPE_CHECKING:
    from greasecheck.measure.clear_water import ClearWater, FieldReference
    from greasecheck.measure.colour import ColourModel
    from greasecheck.measure.sight import Alignment
    from greasecheck.measure.sight_view import FieldPair, SightView
    from greasecheck.measure.turbidity import TurbidityScale
    from greasecheck.model import FloatArray, Photo, Placement

WHITE_D65 = np.array([95.047, 100.0, 108.883])  # CIE XYZ, 2 degrees (IEC 61966-2-1)
WATER_INDEX = 1.333  # of visible light at 20 degrees C (CRC Handbook, from memory)
MAIN_CHANNEL = 0  # red: nearest to the 860 nm of ISO 7027-1:2016, least absorbed by blood
SEEN = 3.0
NOTHING_BETWEEN = 0.97
DETECTED = 2.0
WELL_KNOWN = 5.0
MURKY_PER_M = 60.0
# Errors of the transmittance that the scatter of pixels does not show, from path-traced stands:
# the jar set down anew, the tone curve's slope, and 8-bit coding of faint bars.
JAR_ERROR = 0.004
TONE_SLOPE_ERROR = 0.03
CODING_ERROR = 0.001


@dataclass(frozen=True, slots=True, kw_only=True)
class Jar:
    """The jar, its water and the scale that turbidity is given in.

    Attributes
    ----------
    clear : ClearWater or None
        The clear-water reference of this stand.
    path_mm : float
        Inner depth along the line of sight [mm]; that of the reference goes first.
    dilution : float
        Volume after over volume before dilution, at least 1.
    scale : TurbidityScale
        From attenuation to turbidity.
    """

    clear: ClearWater | None = None
    path_mm: float = 60.0
    dilution: float = 1.0
    scale: TurbidityScale = ROUGH_SCALE


class JarState(StrEnum):
    """What stands before the sight."""

    FILLED = "filled"
    EMPTY = "empty"
    ABSENT = "absent"


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterView:
    """A water reading with the bars it came from.

    Attributes
    ----------
    reading : WaterReading
        The result.
    sight : SightView
        The bars.
    clear : ClearWater
        The reference used.
    jar_state : JarState
        Filled, empty or absent; the reading holds for a filled jar only.
    displacement_mm : float
        Largest distance of a bar from where it appears through clear water [mm]; 0 when murk hides
        the bars.
    below_clear_std : float
        How far the attenuation lies below zero, in its standard errors; 0 when above zero.
    """

    reading: WaterReading
    sight: SightView
    clear: ClearWater
    jar_state: JarState
    displacement_mm: float
    below_clear_std: float


def measure_water(photo: Photo, placement: Placement, colour: ColourModel, jar: Jar) -> WaterView:
    """Measure the attenuation of the water in the jar, above that of clear water.

    Bars seen through water keep the share T of their contrast whatever veil of scattered light is
    added, so c = -ln(T) / path (Duntley 1948, eq. 1; Preisendorfer 1986), with T the wet over the
    dry contrast, divided by the same ratio in clear water.

    Parameters
    ----------
    photo, placement, colour
        The photo, where the sheet is in it, and its colour model.
    jar : Jar
        The jar and its reference.

    Returns
    -------
    WaterView
        The reading; a bound where the bars are lost or the water cannot be told from clear.

    References
    ----------
    Duntley, S. Q. (1948). The reduction of apparent contrast by the atmosphere. J. Opt. Soc. Am.
    38, 179. doi:10.1364/JOSA.38.000179
    Preisendorfer, R. W. (1986). Secchi disk science. Limnol. Oceanogr. 31, 909.
    doi:10.4319/lo.1986.31.5.0909
    """
    clear = jar.clear or unknown_jar(jar.path_mm, placement.geometry.version)
    expected = (clear.fine.alignment, clear.coarse.alignment) if jar.clear else None
    sight = look_at_sight(photo, placement, colour, expected)
    path_mm = slant_path(clear.path_mm, placement.tilt_deg)
    kept, std = _main_transmittance(sight.fine, clear.fine)
    return WaterView(
        reading=_reading(sight, clear, path_mm, jar, _tint(sight, colour)),
        sight=sight,
        clear=clear,
        jar_state=_jar_state(sight, clear),
        displacement_mm=_displacement(sight.fine, clear.fine.alignment),
        below_clear_std=max((kept - 1) / std, 0.0),
    )


def _jar_state(sight: SightView, clear: ClearWater) -> JarState:
    """Tell water from air by whether the bars appear displaced, as water makes them."""
    by_water = _edge_distance(clear.fine.alignment, AS_PRINTED, sight.fine)
    here = _displacement(sight.fine, AS_PRINTED)
    if not sight.fine.clearly_seen or here > by_water / 2:
        return JarState.FILLED
    ratio = float(sight.fine.ratio[MAIN_CHANNEL])
    return JarState.ABSENT if ratio > NOTHING_BETWEEN else JarState.EMPTY


def _displacement(pair: FieldPair, expected: Alignment) -> float:
    return _edge_distance(pair.wet.alignment, expected, pair) if pair.clearly_seen else 0.0


def _edge_distance(one: Alignment, other: Alignment, pair: FieldPair) -> float:
    """Largest distance between where two alignments put a bar of the field [mm]."""
    shift = one.shift_mm - other.shift_mm
    return abs(shift) + abs(one.stretch - other.stretch) * pair.width_mm / 2


def slant_path(path_mm: float, tilt_deg: float) -> float:
    """Length of a ray through the water that enters the jar at an angle.

    Examples
    --------
    >>> round(slant_path(60.0, 30.0), 2)
    64.73
    """
    sine = np.sin(np.radians(tilt_deg)) / WATER_INDEX
    return float(path_mm / np.sqrt(1 - sine**2))


def transmittance(pair: FieldPair, reference: FieldReference) -> tuple[FloatArray, FloatArray]:
    """Share of contrast kept by the water and its standard error, each of shape (3,)."""
    clear = np.array(reference.ratio)
    kept = pair.ratio / clear
    relative = np.array(reference.std) / clear
    return kept, np.hypot(pair.ratio_std / clear, kept * relative)


def _reading(
    sight: SightView, clear: ClearWater, path_mm: float, jar: Jar, tint_yi: float
) -> WaterReading:
    seen = _seen_widths(sight, clear, path_mm)
    if not seen:
        return _lost(sight, clear, path_mm, jar, tint_yi)
    beam = correct_scatter(seen, path_mm)
    value, std = beam.value_per_m * jar.dilution, beam.std_per_m * jar.dilution
    below = value < DETECTED * std
    turbidity = None if below else jar.scale.turbidity(value, std)
    return WaterReading(
        attenuation_per_m=_by_channel(sight, clear, path_mm, beam.factor / jar.dilution),
        main_per_m=max(value, 0.0) + DETECTED * std if below else value,
        std_per_m=std,
        bound=Bound.BELOW if below else None,
        forward_scatter=_forward_scatter(seen),
        tint_yi=tint_yi,
        path_mm=path_mm,
        dilution=jar.dilution,
        turbidity=turbidity.value if turbidity else None,
        turbidity_std=turbidity.std if turbidity else None,
        turbidity_unit=jar.scale.unit,
    )


def _lost(
    sight: SightView, clear: ClearWater, path_mm: float, jar: Jar, tint_yi: float
) -> WaterReading:
    """Read water so murky that no bars are seen as a bound from what could have hidden."""
    kept, std = _main_transmittance(sight.fine, clear.fine)
    hidden = min(max(kept, 0.0) + DETECTED * std, 1.0)
    factor = usual_factor(sight.fine.bar_mm, path_mm, MURKY_PER_M)
    bound = -np.log(hidden) / (path_mm / 1000) / factor * jar.dilution
    return WaterReading(
        attenuation_per_m=(None, None, None),
        main_per_m=float(bound),
        std_per_m=float(std / hidden / (path_mm / 1000) * jar.dilution),
        bound=Bound.ABOVE,
        forward_scatter=None,
        tint_yi=tint_yi,
        path_mm=path_mm,
        dilution=jar.dilution,
        turbidity=None,
        turbidity_std=None,
        turbidity_unit=jar.scale.unit,
    )


def _seen_widths(
    sight: SightView, clear: ClearWater, path_mm: float
) -> tuple[ApparentAttenuation, ...]:
    """Apparent attenuation from each field whose bars are seen, the finest first."""
    seen = []
    for pair, reference in ((sight.fine, clear.fine), (sight.coarse, clear.coarse)):
        kept, std = _main_transmittance(pair, reference)
        if kept > SEEN * std:
            path_m = path_mm / 1000
            seen.append(
                ApparentAttenuation(
                    bar_mm=pair.bar_mm,
                    value_per_m=-float(np.log(kept)) / path_m,
                    std_per_m=std / kept / path_m,
                )
            )
    return tuple(seen)


def _main_transmittance(pair: FieldPair, reference: FieldReference) -> tuple[float, float]:
    """Transmittance in the main channel, its standard error widened by what pixels cannot tell."""
    values, noise = transmittance(pair, reference)
    kept, std = float(values[MAIN_CHANNEL]), float(noise[MAIN_CHANNEL])
    slope = TONE_SLOPE_ERROR * kept * (1 - kept)
    return kept, float(np.sqrt(std**2 + (JAR_ERROR * kept) ** 2 + slope**2 + CODING_ERROR**2))


def _by_channel(
    sight: SightView, clear: ClearWater, path_mm: float, factor: float
) -> tuple[float | None, float | None, float | None]:
    kept, std = transmittance(sight.fine, clear.fine)
    seen = kept > SEEN * np.hypot(std, CODING_ERROR)
    red, green, blue = (
        -float(np.log(kept[c])) / (path_mm / 1000) / factor if seen[c] else None for c in range(3)
    )
    return red, green, blue


def _forward_scatter(seen: tuple[ApparentAttenuation, ...]) -> float | None:
    """Attenuation from the coarse over that from the fine bars, where both are well known."""
    if len(seen) < len(("fine", "coarse")):
        return None
    fine, coarse = seen
    if fine.value_per_m < WELL_KNOWN * fine.std_per_m:
        return None
    return coarse.value_per_m / fine.value_per_m


def _tint(sight: SightView, colour: ColourModel) -> float:
    """Yellowness of the white bars through the water, white being the same bars seen dry."""
    wet, dry = (colour.to_xyz(light) for light in (sight.coarse.wet.white, sight.coarse.dry.white))
    return float(yellowness_e313(wet / dry * WHITE_D65))
