"""All checks of a ladder's picture: each sign against its limit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.ladder import limits
from greasecheck.measure.ladder.signs.edges import edges_ratio
from greasecheck.measure.ladder.signs.picture import (
    aside_deg,
    black_shift,
    clipped_share,
    colour_detail,
    dry_contrasts,
    grey_misfit,
    veil_share,
    wing_ratio,
)
from greasecheck.measure.ladder.signs.stripes import (
    contrast_step,
    decay_misfit,
    faint_fading,
    fields_step,
    first_contrast,
    uneven_share,
)
from greasecheck.measure.ladder.signs.surface import lost_step, surface_miss_mm
from greasecheck.model import Bound
from greasecheck.reference.ladder.plate import dip_ladder

if TYPE_CHECKING:
    from greasecheck.measure.ladder.haze import HazeEstimate
    from greasecheck.measure.ladder.light import Greys, Picture
    from greasecheck.measure.ladder.profile import Sampled
    from greasecheck.measure.ladder.refraction import Eye
    from greasecheck.measure.ladder.waterline import Waterline
    from greasecheck.model import Check


def all_signs(
    picture: Picture,
    greys: Greys,
    eye: Eye,
    waterline: Waterline,
    sampled: Sampled,
    haze: HazeEstimate,
) -> tuple[Check, ...]:
    """Return all checks of a ladder whose waterline was found, and its haze estimated."""
    surface = waterline.surface
    view = float(np.degrees(np.arccos(sampled.view_cos)))
    dry = surface.level_mm - dip_ladder().stripes.fine.y_mm
    fine, coarse = dry_contrasts(picture, eye)
    lost = lost_step(eye, waterline, haze.haze_per_m) if haze.bound is Bound.ABOVE else 0.0
    return (
        limits.STRIPE_SIZE.check(sampled.stripe_px),
        limits.STEEPEST.check(view),
        limits.FLATTEST.check(view),
        limits.ASIDE.check(aside_deg(eye)),
        limits.EXPOSURE.check(float(picture.white.max())),
        limits.CLIPPING.check(clipped_share(picture, sampled)),
        limits.COLOUR.check(picture.colourless_share),
        limits.COLOUR_DETAIL.check(colour_detail(picture, sampled)),
        limits.SHARPNESS.check(fine / max(coarse, 1e-6)),
        limits.STEAM.check(coarse),
        limits.VEIL.check(veil_share(greys)),
        limits.TONES.check(black_shift(greys)),
        limits.GREYS.check(grey_misfit(picture, greys)),
        limits.WINGS.check(wing_ratio(greys)),
        limits.STRIPES_DRY.check(max(dry, 0.0)),
        limits.WAVES.check(waterline.misfit_mm),
        limits.BENT.check(sampled.bent_mm),
        limits.SURFACE.check(surface_miss_mm(picture, eye, waterline)),
        limits.FIELDS_ASIDE.check(sampled.coarse_aside_mm),
        limits.LEAN.check(float(np.degrees(max(abs(surface.lean_rad), abs(surface.roll_rad))))),
        limits.UNEVEN.check(uneven_share(sampled)),
        limits.FIRST_BARS.check(first_contrast(sampled)),
        limits.DECAY_FIT.check(decay_misfit(sampled)),
        limits.STEP.check(max(contrast_step(sampled, haze.haze_per_m), lost)),
        limits.FIELDS.check(fields_step(sampled, haze.haze_per_m)),
        limits.FADING.check(faint_fading(sampled, haze.haze_per_m)),
        limits.EDGES.check(edges_ratio(picture, eye, surface, sampled)),
    )
