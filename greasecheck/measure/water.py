"""From the contrast of the bars to the attenuation of the bath water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.clear_water import unknown_jar
from greasecheck.measure.colorimetry import yellowness_index
from greasecheck.measure.scatter import ApparentAttenuation, correct_scatter
from greasecheck.measure.sight_view import look_at_sight
from greasecheck.measure.turbidity import ROUGH_SCALE
from greasecheck.model import Bound, WaterReading

if TYPE_CHECKING:
    from greasecheck.measure.clear_water import ClearWater, FieldReference
    from greasecheck.measure.colour import ColourModel
    from greasecheck.measure.scatter import BeamAttenuation
    from greasecheck.measure.sight_view import FieldPair, SightView
    from greasecheck.measure.turbidity import TurbidityScale
    from greasecheck.model import FloatArray, Photo, Placement

WATER_INDEX = 1.333  # of visible light at 20 degrees C (CRC Handbook, from memory)
MAIN_CHANNEL = 0  # red: nearest to the 860 nm of ISO 7027-1:2016, least absorbed by blood
SEEN = 3.0
TRANSMITTANCE_FLOOR = 0.003
SLOPE_FLOOR = 0.03


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


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterView:
    """A water reading with the bars it came from."""

    reading: WaterReading
    sight: SightView
    clear: ClearWater


def measure_water(
    photo: Photo, placement: Placement, colour: ColourModel, jar: Jar
) -> WaterView:
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
    return WaterView(
        reading=_reading(sight, clear, path_mm, jar, _tint(sight, colour)), sight=sight, clear=clear
    )


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
