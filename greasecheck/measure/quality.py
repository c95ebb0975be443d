"""Judges a photo: check rows with limits, each failure with what to do, and the verdict."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

from greasecheck.model import Check, TimeSource, Verdict

if TYPE_CHECKING:
    from collections.abc import Iterable

    from greasecheck.measure.colour import ColourModel
    from greasecheck.measure.sight_view import SightView
    from greasecheck.measure.water import WaterView
    from greasecheck.model import Photo, Placement


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A two-step limit: past `doubtful` the reading weighs less, past `refused` it is refused.

    It is a maximum where `refused` is the larger of the two, otherwise a minimum.
    """

    name: str
    doubtful: float
    refused: float
    advice: str

    def check(self, value: float) -> Check:
        """Judge a value against the limit."""
        hard, soft = not self._keeps(value, self.refused), not self._keeps(value, self.doubtful)
        return Check(
            name=self.name,
            value=value if isfinite(value) else None,
            limit=self.refused if hard else self.doubtful,
            passed=not soft,
            hard=hard,
            advice=self.advice if soft else "",
        )

    def _keeps(self, value: float, limit: float) -> bool:
        """Whether a value keeps a limit; what is not a number keeps none."""
        return value <= limit if self.refused >= self.doubtful else value >= limit


SCALE = Limit(
    name="sheet_px_per_mm",
    doubtful=2.5,
    refused=1.8,
    advice="the sheet is too small in the picture: go closer or use more pixels",
)
TILT = Limit(
    name="tilt_deg",
    doubtful=25.0,
    refused=38.0,
    advice="the camera looks at the sheet from the side: face it squarely",
)
PRINT_SCALE = Limit(
    name="tag_to_sheet_scale_error",
    doubtful=0.025,
    refused=0.05,
    advice="tag and sheet are printed at different scales: print both at 100 % and check the ruler",
)
SHARPNESS = Limit(
    name="fine_bar_modulation",
    doubtful=0.90,
    refused=0.45,
    advice="the sheet is blurred: focus on it, hold the camera still, wipe the lens",
)
CLIPPING = Limit(
    name="clipped_share",
    doubtful=0.05,
    refused=0.30,
    advice="parts are burnt out or black: change the exposure, move the lamp to avoid glare",
)
EXPOSURE = Limit(
    name="paper_level",
    doubtful=0.12,
    refused=0.04,
    advice="the picture is too dark: add light or expose longer",
)
GRADIENT = Limit(
    name="light_gradient_ratio",
    doubtful=2.5,
    refused=5.0,
    advice="the light is uneven over the sheet: move the lamp back or to the front",
)
COLOUR = Limit(
    name="loo_delta_e00",
    doubtful=4.0,
    refused=9.0,
    advice="the colours do not fit the sheet: remove coloured light, print or clean the sheet anew",
)
PATCHES = Limit(
    name="patches_left_out",
    doubtful=4.0,
    refused=16.0,
    advice="patches are hidden, shaded or smudged: clear the view, move the lamp, clean the sheet",
)
USED_CELLS = Limit(
    name="sight_used_share",
    doubtful=0.85,
    refused=0.55,
    advice="foam, bubbles or drops hide the bars: let it settle, wipe the jar, fill it to the line",
)
EVENNESS = Limit(
    name="sight_unevenness",
    doubtful=0.025,
    refused=0.05,
    advice="foam or bubbles stand before the bars: let them settle, or skim them off, and stir",
)
JAR_PLACE = Limit(
    name="bar_displacement_mm",
    doubtful=1.2,
    refused=3.0,
    advice="the jar does not stand where it stood for the clear-water reference: put it square "
    "before the sight, or make a new reference",
)
CLEARER_THAN_CLEAR = Limit(
    name="below_clear_water_std",
    doubtful=3.0,
    refused=6.0,
    advice="the water looks clearer than the reference: fill the jar, or make a new reference",
)
BAR_AGREEMENT = Limit(
    name="fine_coarse_disagreement_std",
    doubtful=2.5,
    refused=5.0,
    advice="fine and coarse bars tell of different waters: let foam settle, stir, wipe the jar",
)
SIGHT_CLIPPING = Limit(
    name="sight_clipped_share",
    doubtful=0.02,
    refused=0.15,
    advice="the bars behind the jar are burnt out or black: remove the glare, change the exposure",
)


WATER_SHIFT = Limit(
    name="bar_shift_by_water_mm",
    doubtful=0.35,
    refused=0.2,
    advice="the bars are not shifted as water shifts them: fill the jar to the line and put it "
    "before the sight",
)
CLEAR_CONTRAST = Limit(
    name="clear_contrast_ratio",
    doubtful=0.45,
    refused=0.35,
    advice="the water or the jar is not clear: use clean tap water, wipe the jar",
)


def photo_checks(photo: Photo, tub: int | None) -> tuple[Check, ...]:
    """Check what the file itself says: its time and the tub's tag."""
    return (
        requirement(
            "time_from_camera",
            photo.time_source is not TimeSource.FILE,
            "the photo carries no time, so the file's was taken: set the camera's clock",
        ),
        requirement(
            "tub_tag_seen",
            tub is not None,
            "no tub tag is in the slot: hang it there, or name the tub with --tub",
        ),
    )


def sheet_checks(placement: Placement) -> tuple[Check, ...]:
    """Check how the sheet stands in the picture."""
    rows = [SCALE.check(placement.pixels_per_mm), TILT.check(placement.tilt_deg)]
    if placement.tag_scale is not None:
        rows.append(PRINT_SCALE.check(abs(placement.tag_scale - 1)))
    return tuple(rows)


def colour_checks(colour: ColourModel) -> tuple[Check, ...]:
    """Check light, exposure and the colour fit."""
    return (
        EXPOSURE.check(float(colour.white.max())),
        CLIPPING.check(colour.fit.clipped_share),
        GRADIENT.check(colour.fit.gradient_ratio),
        PATCHES.check(float(len(colour.dropped))),
        COLOUR.check(colour.fit.loo_delta_e00),
    )


def sight_checks(sight: SightView) -> tuple[Check, ...]:
    """Check the bars, wet and dry."""
    fine, coarse = sight.fine, sight.coarse
    return (
        SHARPNESS.check(float(fine.dry.contrast.max() / coarse.dry.contrast.max())),
        SIGHT_CLIPPING.check(max(fine.clipped_share, coarse.clipped_share)),
        USED_CELLS.check(min(fine.wet.used_share, coarse.wet.used_share)),
        EVENNESS.check(max(fine.wet.unevenness, coarse.wet.unevenness)),
    )


def water_checks(view: WaterView, camera: str, *, has_reference: bool) -> tuple[Check, ...]:
    """Check the bars and the jar."""
    rows = [
        *sight_checks(view.sight),
        BAR_AGREEMENT.check(view.disagreement_std),
        requirement(
            "fine_bars_seen_with_coarse",
            not view.fine_alone_lost,
            "only the coarse bars are seen: look for foam; dilute the water and tell --dilution",
        ),
        requirement(
            "clear_water_reference",
            has_reference,
            "there is no clear-water reference: photograph the jar with clean water and run "
            "'greasecheck clear'",
        ),
    ]
    if has_reference:
        rows.append(JAR_PLACE.check(view.displacement_mm))
        rows.append(CLEARER_THAN_CLEAR.check(view.below_clear_std))
        rows.append(
            requirement(
                "reference_camera",
                view.clear.camera == camera,
                f"the clear-water reference was made with {view.clear.camera}: make one with "
                "this camera",
            )
        )
    return tuple(rows)


def clear_water_checks(
    placement: Placement, colour: ColourModel, sight: SightView
) -> tuple[Check, ...]:
    """Check a photo that is to become the clear-water reference."""
    at = sight.fine.wet.alignment
    return (
        *sheet_checks(placement),
        *colour_checks(colour),
        *sight_checks(sight),
        WATER_SHIFT.check(abs(at.shift_mm) + abs(at.stretch - 1) * sight.fine.width_mm / 2),
        CLEAR_CONTRAST.check(float(sight.fine.ratio.min())),
    )


def requirement(name: str, met: bool, advice: str, *, hard: bool = False) -> Check:
    """Make the row of a plain yes-or-no requirement."""
    return Check(
        name=name,
        value=float(met),
        limit=1.0,
        passed=met,
        hard=hard and not met,
        advice="" if met else advice,
    )


def refusal(name: str, advice: str, *, hard: bool = True) -> Check:
    """Make the row of something that could not be measured at all."""
    return Check(name=name, value=None, limit=1.0, passed=False, hard=hard, advice=advice)


def verdict_of(checks: Iterable[Check]) -> Verdict:
    """Return refused when a hard check failed, doubtful when a soft one did, otherwise good."""
    failed = [check for check in checks if not check.passed]
    if any(check.hard for check in failed):
        return Verdict.REFUSED
    return Verdict.DOUBTFUL if failed else Verdict.GOOD
