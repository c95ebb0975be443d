"""From the contrast of the bars to the attenuation of the bath water."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import WaterError
from greasecheck.measure.colorimetry import LEAST_LUMINANCE, yellowness_e313
from greasecheck.measure.sight.view import MAIN_CHANNEL, look_at_sight
from greasecheck.measure.turbidity import ROUGH_SCALE
from greasecheck.measure.water.albedo import albedo_from_veil
from greasecheck.measure.water.depths import low_bars
from greasecheck.measure.water.jar_depth import jar_depth
from greasecheck.measure.water.light import contrast_lost, light_on_sight
from greasecheck.measure.water.reference import unknown_jar
from greasecheck.measure.water.scatter import ApparentAttenuation, correct_scatter, usual_factor
from greasecheck.measure.water.surroundings import changes, look_around
from greasecheck.measure.water.transmittance import (
    attenuation_from_contrast,
    displacement_mm,
    jar_state,
    slant_path,
    transmittance,
)
from greasecheck.model import Bound, WaterReading
from greasecheck.reference.cie import WHITES

if TYPE_CHECKING:
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.measure.sight.view import SightView
    from greasecheck.measure.turbidity import TurbidityScale
    from greasecheck.measure.water.albedo import Albedo
    from greasecheck.measure.water.jar_depth import JarDepth
    from greasecheck.measure.water.light import BarLight
    from greasecheck.measure.water.reference import ClearWater
    from greasecheck.measure.water.scatter import BeamAttenuation
    from greasecheck.measure.water.surroundings import Changes
    from greasecheck.measure.water.transmittance import JarState, Transmittance
    from greasecheck.model import Photo, Placement

# Without a source, where none is named; the comment beside each value states what it does.
DETECTED = 2.0  # standard errors from zero within which a value is only a bound
WELL_KNOWN = 5.0  # standard errors from zero beyond which two attenuations have a ratio
MURKY_PER_M = 60.0  # attenuation at which bars are about to be lost [1/m]


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
    """A water reading with the bars it came from.

    Attributes
    ----------
    reading : WaterReading
        The result.
    sight : SightView
        The bars.
    clear : ClearWater
        The reference used.
    light : tuple of BarLight
        How the light on the fine and on the coarse bars departs from the reference's.
    changes : Changes
        How distance and light differ from the reference's.
    depth : JarDepth or None
        Depth of the jar over that of the reference; None where it cannot be found.
    jar_state : JarState
        Filled, empty or absent; the reading holds for a filled jar only.
    displacement_mm : float
        Largest distance of a bar from where it appears through clear water [mm]; 0 when murk hides
        the bars.
    below_clear_std : float
        How far the attenuation lies below zero, in its standard errors; 0 when above zero.
    disagreement_std : float
        How far fine and coarse bars are from agreeing on one water, in standard errors.
    fine_alone_lost : bool
        Whether the coarse bars are seen and the fine ones are not.
    brightened_std : float
        How much better light added to the jar explains low bars, in standard errors.
    """

    reading: WaterReading
    sight: SightView
    clear: ClearWater
    light: tuple[BarLight, BarLight]
    changes: Changes
    depth: JarDepth | None
    jar_state: JarState
    displacement_mm: float
    below_clear_std: float
    disagreement_std: float
    fine_alone_lost: bool
    brightened_std: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """The two fields' measurements, and what it takes to turn them into a reading."""

    fine: Transmittance
    coarse: Transmittance
    light_std: float  # of the optical depth, by light that falls otherwise on the jar alone
    path_mm: float
    tint_yi: float
    jar: Jar
    beams: tuple[BeamAttenuation | None, ...] | None  # of bars that lie below the water's shadow

    @property
    def albedo(self) -> Albedo:
        """Return the water's albedo by its veil."""
        return albedo_from_veil(self.fine.veil, self.fine.main)

    @property
    def brightened_std(self) -> float:
        """Return how much better light added to the jar explains low bars, in standard errors."""
        main = self.beams[MAIN_CHANNEL] if self.beams else None
        return main.brightened_std if main else 0.0

    @property
    def fine_alone_lost(self) -> bool:
        """Return whether the coarse bars are seen and the fine ones are not."""
        return self.coarse.seen[MAIN_CHANNEL] and not self.fine.seen[MAIN_CHANNEL]


def measure_water(photo: Photo, placement: Placement, colour: ColourModel, jar: Jar) -> WaterView:
    """Measure the attenuation of the water in the jar, above that of clear water.

    Bars seen through water keep the share T of their contrast whatever veil of scattered light is
    added, so c = -ln(T) / path, with T the wet over the dry contrast, divided by the same ratio in
    clear water. Bars of two widths show how much light is scattered forward, which is corrected.

    Parameters
    ----------
    photo, placement, colour
        The photo, where the sheet is in it, and its colour model.
    jar : Jar
        The jar and its reference.

    Returns
    -------
    WaterView
        The reading; a bound where the bars are lost or the water looks clear.

    Raises
    ------
    WaterError
        When the bars beside the jar cannot be seen, or the reference was made with another version
        of the sheet.

    References
    ----------
    Preisendorfer, R. W. (1986). Secchi disk science. Limnol. Oceanogr. 31, 909.
    doi:10.4319/lo.1986.31.5.0909
    """
    clear = jar.clear or unknown_jar(jar.path_mm, placement.geometry.version)
    _refuse_other_sheet(clear, placement.geometry.version)
    expected = clear.fine.expected, clear.coarse.expected
    sight = look_at_sight(photo, placement, colour, expected)
    light = light_on_sight(sight, clear)
    now, then = look_around(photo, placement, colour, sight), clear.surroundings
    changed = changes(now, then or now, contrast_lost(sight.fine, clear.fine))
    nominal = not colour.fit.absolute
    fine = transmittance(sight.fine, clear.fine, light[0], nominal=nominal)
    coarse = transmittance(sight.coarse, clear.coarse, light[1], nominal=nominal)
    low = None if sight.glass is None else low_bars(sight, clear, fine, coarse)
    path_mm = slant_path(clear.path_mm, placement.tilt_deg)
    seen = _Seen(
        fine=low.fine if low else fine,
        coarse=low.coarse if low else coarse,
        light_std=float(np.hypot(light[0].depth_std, changed.depth_std)),
        path_mm=path_mm,
        tint_yi=_tint(sight, colour),
        jar=jar,
        beams=low.beams(path_mm) if low else None,
    )
    return WaterView(
        reading=_reading(seen),
        sight=sight,
        clear=clear,
        light=light,
        changes=changed,
        depth=jar_depth(sight, clear, changed.distance_ratio) if then else None,
        jar_state=jar_state(sight, clear),
        displacement_mm=displacement_mm(sight.fine, clear.fine.alignment),
        below_clear_std=max((seen.fine.main - 1) / seen.fine.main_std, 0.0),
        disagreement_std=_disagreement(seen),
        fine_alone_lost=seen.fine_alone_lost,
        brightened_std=seen.brightened_std,
    )


def _refuse_other_sheet(clear: ClearWater, version: int) -> None:
    if clear.sheet_version != version:
        raise WaterError(
            f"the clear-water reference was made with sheet version {clear.sheet_version}, "
            f"this photo shows version {version}",
            hint="photograph the jar with clean tap water before this sheet: a new reference",
        )


def _reading(seen: _Seen) -> WaterReading:
    """Read the water from each field whose bars are seen, the finest first."""
    fields = [field for field in (seen.fine, seen.coarse) if field.seen[MAIN_CHANNEL]]
    if not fields:
        return _lost(seen)
    apparent = tuple(_of_field(seen, field) for field in fields)
    if seen.beams is not None:
        return _of_low_bars(seen, apparent, seen.beams)
    return _measured(seen, apparent, correct_scatter(apparent, seen.path_mm, seen.albedo))


def _of_field(seen: _Seen, field: Transmittance) -> ApparentAttenuation:
    return ApparentAttenuation(
        bar_mm=field.bar_mm,
        clear_ratio=field.clear_ratio,
        value_per_m=field.attenuation_per_m(MAIN_CHANNEL, seen.path_mm),
        std_per_m=field.attenuation_std_per_m(MAIN_CHANNEL, seen.path_mm),
    )


def _disagreement(seen: _Seen) -> float:
    """Judge both widths together; lost fine bars count as the least murk that loses them."""
    if seen.beams is not None:
        main = seen.beams[MAIN_CHANNEL]
        return 0.0 if main is None else main.misfit_std
    if not seen.coarse.seen[MAIN_CHANNEL]:
        return 0.0
    coarse = _of_field(seen, seen.coarse)
    if seen.fine.seen[MAIN_CHANNEL]:
        fine = _of_field(seen, seen.fine)
    else:
        hidden = replace(seen.fine, kept=np.full(3, _hidden_contrast(seen.fine)))
        least = _of_field(seen, hidden)
        fine = replace(least, value_per_m=max(least.value_per_m, coarse.value_per_m))
    return correct_scatter((fine, coarse), seen.path_mm, seen.albedo).misfit_std


def _hidden_contrast(field: Transmittance) -> float:
    """Largest share of contrast that may hide in the noise of a field."""
    return min(max(field.main, 0.0) + DETECTED * field.main_std, 1.0)


def _measured(
    seen: _Seen, apparent: tuple[ApparentAttenuation, ...], beam: BeamAttenuation
) -> WaterReading:
    dilution, scale = seen.jar.dilution, seen.jar.scale
    by_light = float(np.hypot(seen.light_std, beam.brightened_depth)) / (seen.path_mm / 1000)
    value = beam.value_per_m * dilution
    errors = (beam.std_per_m, by_light / beam.factor, min(beam.value_per_m, 0.0))
    std = float(np.linalg.norm(errors)) * dilution  # what lies below zero is an error of its size
    below = value < DETECTED * std
    turbidity = None if below else scale.turbidity(value, std)
    return WaterReading(
        attenuation_rgb_per_m=_by_channel(seen, beam.factor / dilution),
        main_per_m=max(value, 0.0) + DETECTED * std if below else value,
        std_per_m=std,
        bound=Bound.BELOW if below else None,
        forward_scatter=_forward_scatter(apparent),
        tint_yi=seen.tint_yi,
        path_mm=seen.path_mm,
        dilution=dilution,
        turbidity=turbidity.value if turbidity else None,
        turbidity_std=turbidity.std if turbidity else None,
        turbidity_unit=scale.unit,
    )


def _of_low_bars(
    seen: _Seen,
    apparent: tuple[ApparentAttenuation, ...],
    beams: tuple[BeamAttenuation | None, ...],
) -> WaterReading:
    main = beams[MAIN_CHANNEL]
    assert main is not None  # a field whose bars are seen in the main channel was found
    values = [None if one is None else one.value_per_m * seen.jar.dilution for one in beams]
    red, green, blue = values
    return replace(_measured(seen, apparent, main), attenuation_rgb_per_m=(red, green, blue))


def _lost(seen: _Seen) -> WaterReading:
    """Read water so murky that no bars are seen: a bound from the contrast that may hide there."""
    dilution, fine = seen.jar.dilution, seen.fine
    hidden = _hidden_contrast(fine)
    factor = usual_factor(fine.bar_mm, seen.path_mm, MURKY_PER_M, fine.clear_ratio)
    return WaterReading(
        attenuation_rgb_per_m=(None, None, None),
        main_per_m=attenuation_from_contrast(hidden, seen.path_mm) / factor * dilution,
        std_per_m=fine.main_std / hidden / (seen.path_mm / 1000) / factor * dilution,
        bound=Bound.ABOVE,
        forward_scatter=None,
        tint_yi=seen.tint_yi,
        path_mm=seen.path_mm,
        dilution=dilution,
        turbidity=None,
        turbidity_std=None,
        turbidity_unit=seen.jar.scale.unit,
    )


def _by_channel(seen: _Seen, factor: float) -> tuple[float | None, float | None, float | None]:
    red, green, blue = (
        seen.fine.attenuation_per_m(channel, seen.path_mm) / factor if visible else None
        for channel, visible in enumerate(seen.fine.seen)
    )
    return red, green, blue


def _forward_scatter(apparent: tuple[ApparentAttenuation, ...]) -> float | None:
    """Attenuation from the coarse over that from the fine bars, where both are well known."""
    finest, coarsest = apparent[0], apparent[-1]
    if finest is coarsest or finest.value_per_m < WELL_KNOWN * finest.std_per_m:
        return None
    return coarsest.value_per_m / finest.value_per_m


def _tint(sight: SightView, colour: ColourModel) -> float:
    """Yellowness of the white bars through the water, white being the same bars seen dry."""
    wet, dry = (colour.to_xyz(light) for light in (sight.coarse.wet.white, sight.coarse.dry.white))
    x, y, z = (wet / dry * WHITES["D65"]).tolist()
    return float(yellowness_e313(np.array([x, max(y, LEAST_LUMINANCE), z])))
