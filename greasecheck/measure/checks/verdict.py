"""Judges a photo: check rows by the limits of `limits.py`, and the verdict."""

from __future__ import annotations

from dataclasses import replace
from math import log
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.bone.straight import straightness
from greasecheck.measure.checks import limits
from greasecheck.measure.photo.exif import UNKNOWN_CAMERA
from greasecheck.measure.photo.file import printable
from greasecheck.measure.sight.stand_light import lamp_elevation_deg
from greasecheck.measure.sight.veil_edge import veil_edge
from greasecheck.model import Check, TimeSource, Verdict

if TYPE_CHECKING:
    from collections.abc import Iterable

    from greasecheck.errors import GreasecheckError
    from greasecheck.measure.bone.look import BoneView
    from greasecheck.measure.bone.one_colour import OneColour
    from greasecheck.measure.bone.straight import Straightness
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.measure.sight.view import SightView
    from greasecheck.measure.water.attenuation import WaterView
    from greasecheck.measure.water.jar_depth import PathByBars
    from greasecheck.measure.water.light import BarLight
    from greasecheck.model import Photo, Placement, SheetGeometry

OVERHEAD_DEG = 90.0  # of a lamp whose shadow under the water's surface has no end
LEAST_MODULATION = 1e-3
PLAIN_LIFT = -0.01  # of plain cameras: the jar shades the ladder by so much (path-traced stands)
ALL_BARE = 0.98  # share of the cells; a reflection may spoil one


def photo_checks(photo: Photo, tub: int | None, *, tag_slot: bool = True) -> tuple[Check, ...]:
    """Check what comes with the file: its time and the tub's tag.

    A chart without a `tag_slot` is not blamed for the tag it does not show.
    """
    return (
        requirement("time_from_camera", photo.time_source is not TimeSource.FILE),
        requirement("tub_tag_seen", tub is not None or not tag_slot),
    )


def sheet_checks(placement: Placement) -> tuple[Check, ...]:
    """Check how the sheet stands in the picture."""
    rows = [limits.SCALE.check(placement.pixels_per_mm), limits.TILT.check(placement.tilt_deg)]
    if placement.tag_scale is not None:
        rows.append(limits.PRINT_SCALE.check(abs(placement.tag_scale - 1)))
    return tuple(rows)


def colour_checks(colour: ColourModel, geometry: SheetGeometry) -> tuple[Check, ...]:
    """Check light, exposure and the colour fit."""
    low = geometry.bars is not None and geometry.bars.glass is not None
    return (
        limits.EXPOSURE.check(float(colour.white.max())),
        limits.CLIPPING.check(colour.fit.clipped_share),
        (limits.LOW_GRADIENT if low else limits.GRADIENT).check(colour.fit.gradient_ratio),
        limits.SHADOWS.check(colour.misfit.level),
        limits.TWINS.check(colour.misfit.twins),
        limits.MIXED_LIGHT.check(colour.misfit.hue),
        limits.HUE_SLOPE.check(colour.misfit.largest_hue_slope),
        limits.PATCHES.check(float(len(colour.dropped))),
        limits.COLOUR.check(colour.fit.loo_delta_e00),
    )


def sight_checks(sight: SightView) -> tuple[Check, ...]:
    """Check the bars, wet and dry."""
    fine, coarse = sight.fine, sight.coarse
    return (
        limits.SHARPNESS.check(float(fine.dry.contrast.max() / coarse.dry.contrast.max())),
        *_edge_checks(sight),
        limits.HOLE.check(sight.hole),
        limits.GRAIN.check(sight.grain),
        limits.SMEAR.check(sight.colour_lost),
        limits.SIGHT_CLIPPING.check(max(fine.clipped_share, coarse.clipped_share)),
        limits.USED_CELLS.check(min(fine.wet.used_share, coarse.wet.used_share)),
        (limits.EVENNESS if sight.glass is None else limits.LOW_EVENNESS).check(
            max(fine.wet.unevenness, coarse.wet.unevenness)
        ),
        *ladder_checks(sight),
    )


def _edge_checks(sight: SightView) -> tuple[Check, ...]:
    """Check by the edges of the fine bars that nothing but water blurs or sharpens them."""
    fine = sight.fine
    if fine.edges is None or not fine.clearly_seen:
        return ()
    kept = float(np.clip(fine.ratio.mean(), LEAST_MODULATION, 1.0))
    return (
        limits.EDGES.check(fine.edges.at_most / kept**limits.EDGES_FADE),
        limits.SHARPENED.check(fine.edges.at_least),
    )


def water_checks(view: WaterView, camera: str, *, has_reference: bool) -> tuple[Check, ...]:
    """Check the bars and the jar; last stands what follows from faults that others name."""
    agreement = limits.BAR_AGREEMENT if view.sight.glass is None else limits.LOW_AGREEMENT
    # Where bars appear through water is known from clear water alone.
    filled = (limits.ABOVE_WATER.check(view.sight.above_mm),) if has_reference else ()
    return (
        *filled,
        *sight_checks(view.sight),
        requirement("fine_bars_seen_with_coarse", not view.fine_alone_lost),
        requirement(
            "coarse_bars_seen_with_fine",
            view.sight.coarse.clearly_seen or not view.sight.fine.clearly_seen,
        ),
        requirement("clear_water_reference", has_reference),
        *(_reference_checks(view, camera) if has_reference else ()),
        agreement.check(view.disagreement_std),
    )


def _reference_checks(view: WaterView, camera: str) -> tuple[Check, ...]:
    """Check jar, light and sheet against those of the clear-water reference."""
    depth = () if view.depth is None else (limits.JAR_DEPTH.check(view.depth.departure),)
    other = UNKNOWN_CAMERA if camera == UNKNOWN_CAMERA else view.clear.camera
    return (
        requirement("reference_camera", view.clear.camera == camera, note=other),
        limits.JAR_PLACE.check(view.displacement_mm),
        *depth,
        *_glass_checks(view),
        *_veil_checks(view),
        *_light_checks(view.light),
        limits.NEW_SHADOWS.check(view.changes.paper),
        limits.MOVED_LAMP.check(abs(view.changes.light_ratio)),
        limits.WORSE_COLOUR.check(view.changes.loo_delta_e00),
        limits.WHITE_BALANCE.check(view.changes.balance),
        limits.SATURATION.check(abs(view.changes.saturation)),
        limits.JAR_LIGHT.check(view.changes.jar.largest),
        limits.BRIGHTENED.check(view.brightened_std),
        limits.CLEARER_THAN_CLEAR.check(view.below_clear_std),
    )


def _glass_checks(view: WaterView) -> tuple[Check, ...]:
    """Check the glass against that of the clear-water reference, where the sheet shows it.

    Bars behind it that gain on the bare ones tell of these: no glass becomes clearer than clean.
    """
    glass, usual = view.sight.glass, view.clear.glass_modulation
    if glass is None or usual is None:
        return ()
    gain = log(max(glass.modulation, LEAST_MODULATION) / usual)
    return ((limits.BARE_CHANGE if gain > 0 else limits.GLASS_CHANGE).check(abs(gain)),)


def _veil_checks(view: WaterView) -> tuple[Check, ...]:
    """Check the veil down the jar against that in clear water, where the sheet shows it."""
    now, then = view.sight.veil_down, view.clear.veil_down
    return () if now is None or then is None else (limits.VEIL_EDGE.check(veil_edge(now, then)),)


def ladder_checks(sight: SightView) -> tuple[Check, ...]:
    """Check what the camera makes of faint contrast, where the sheet shows it."""
    if sight.ladder is None:
        return ()
    return (
        limits.FAINT_GAIN.check(abs(sight.ladder.faint_gain)),
        limits.FINE_LOSS.check(abs(sight.ladder.fine_loss)),
        limits.DARK_LIFT.check(abs(sight.ladder.dark_lift - PLAIN_LIFT)),
        *(() if sight.lift is None else (limits.WIDE_LIFT.check(sight.lift),)),
    )


def lamp_checks(sight: SightView, path_mm: float) -> tuple[Check, ...]:
    """Check in clear water how the lamp lights the bars, where the sheet shows it."""
    shade, glass = sight.shade, sight.glass
    if shade is None or glass is None:
        return ()
    shaded = shade.dark < limits.LAMP_SHADOW.doubtful
    overhead = OVERHEAD_DEG if shaded else 0.0
    reach = shade.reach_mm
    height = overhead if reach is None else lamp_elevation_deg(reach, path_mm)
    return (
        limits.LAMP_SHADOW.check(shade.dark),
        limits.LAMP_HEIGHT.check(height),
        limits.CLEAR_GLASS.check(glass.modulation),
    )


def _light_checks(light: tuple[BarLight, BarLight]) -> tuple[Check, ...]:
    """Check the light on the bars against that of the clear-water reference."""
    _, coarse = light  # of fine bars blur alone lightens the black ones
    return (
        limits.DRY_BARS.check(max(field.dry_level for field in light)),
        limits.DRY_BLACK.check(coarse.dry_black),
        limits.DIM_JAR.check(max(field.dim_share for field in light)),
        limits.BRIGHT_JAR.check(max(field.white_gain for field in light)),
        limits.FROTH.check(max(field.bright_depth for field in light)),
        limits.LEAN.check(max(field.lean for field in light)),
        limits.STEP.check(max(field.step for field in light)),
    )


def bare_sight_checks(sight: SightView) -> tuple[Check, ...]:
    """Check that bars which seem to be before no jar are all bare."""
    bare = min(sight.fine.wet.used_share, sight.coarse.wet.used_share) > ALL_BARE
    return (requirement("left_bars_bare", bare),)


def bone_checks(view: BoneView) -> tuple[Check, ...]:
    """Check what was taken for the bone."""
    seen = straightness(view.outlines_mm)
    return (
        limits.REDDISH.check(view.reddish_share),
        limits.LEAST_YELLOW.check(view.least_yellow),
        limits.REST_HUE.check(view.hue_off_sheet),
        limits.REST_GAIN.check(view.ground_gain),
        limits.REST_PATCH_SHARE.check(view.reading.yellow_share_std),
        limits.STRAIGHT.check(seen.longest),
        *foreign_checks(seen),
        *laid_on_checks(view.one_colour),
    )


def laid_on_checks(seen: OneColour) -> tuple[Check, ...]:
    """Check that no card or strip of wood lies on the bone, by the edges of its colour."""
    return (
        limits.COLOUR_CORNERS.check(seen.corners_yi),
        limits.COLOUR_FULLNESS.check(seen.filled_yi),
    )


def foreign_checks(seen: Straightness) -> tuple[Check, ...]:
    """Check that no card, strip of wood or stone was taken for bone, by its corners and sides."""
    return (
        limits.CORNERS.check(float(seen.corners)),
        limits.FULLNESS.check(seen.fullness),
        limits.ROUND.check(seen.roundest),
    )


def path_check(seen: PathByBars, path_mm: float) -> Check:
    """Check the stated depth of the jar [mm] against that by the bars, which the note holds.

    Where the camera's distance is a guess, another depth is asked about and never refused.
    """
    limit = limits.JAR_PATH if seen.distance_known else limits.JAR_PATH_GUESSED
    return replace(limit.check(abs(log(path_mm / seen.path_mm))), note=f"{seen.path_mm:.0f}")


def clear_water_checks(
    placement: Placement, colour: ColourModel, sight: SightView, path_mm: float
) -> tuple[Check, ...]:
    """Check a photo that is to become the clear-water reference, in a jar of that depth [mm].

    The lamp comes first: what it does wrong spoils the rest.
    """
    at = sight.fine.wet.alignment
    shift_mm = abs(at.shift_mm) + abs(at.stretch - 1) * sight.fine.width_mm / 2
    shift = limits.WATER_SHIFT.check(shift_mm)
    # Bars that nothing shifts show an empty jar or none, not one filled too low.
    filled = (limits.ABOVE_WATER.check(sight.above_mm),) if shift.passed else ()
    return (
        *sheet_checks(placement),
        *filled,
        *lamp_checks(sight, path_mm),
        *colour_checks(colour, placement.geometry),
        *sight_checks(sight),
        shift,
        limits.CLEAR_CONTRAST.check(float(sight.fine.ratio.min())),
        limits.CLEAR_VEIL.check(float(sight.coarse.veil.max())),
    )


def requirement(name: str, met: bool, *, hard: bool = False, note: str = "") -> Check:
    """Make the row of a plain yes-or-no requirement."""
    return Check(
        name=name,
        value=float(met),
        limit=1.0,
        passed=met,
        hard=hard and not met,
        note="" if met else note,
    )


def refusal(name: str, *, hard: bool = True, note: str = "") -> Check:
    """Make the row of something that could not be measured at all."""
    return Check(name=name, value=None, limit=1.0, passed=False, hard=hard, note=note)


def failure(error: GreasecheckError, *, hard: bool = True) -> Check:
    """Make the row of a step that an error ended; the error's words go with it."""
    note = printable(f"{error.problem}: {error.hint}")
    return refusal(error.code, hard=hard, note=note)


def verdict_of(checks: Iterable[Check]) -> Verdict:
    """Return refused when a hard check failed, doubtful when a soft one did, otherwise good."""
    failed = [check for check in checks if not check.passed]
    if any(check.hard for check in failed):
        return Verdict.REFUSED
    return Verdict.DOUBTFUL if failed else Verdict.GOOD
