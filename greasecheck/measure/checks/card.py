"""Judges a photo of bone beside a card."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.measure.bone.straight import outlines_beside, straightness
from greasecheck.measure.checks import card_limits, limits
from greasecheck.measure.checks.verdict import requirement
from greasecheck.model import TimeSource

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.card.look import CardView
    from greasecheck.model import Check, Drawn, Photo, Placement


def photo_checks(photo: Photo, placement: Placement, tub: int | None) -> tuple[Check, ...]:
    """Check the photo's time, and that a tag shows whose bone it is."""
    time = requirement("time_from_camera", photo.time_source is not TimeSource.FILE)
    if placement.geometry.tag is None:
        return (time,)
    tagged = tub is not None or placement.skull_tag is not None
    return (time, requirement("tub_tag_seen", tagged, note="card"))


def place_checks(placement: Placement) -> tuple[Check, ...]:
    """Check how the card lies in the picture."""
    rows = [
        card_limits.CARD_SCALE.check(placement.pixels_per_mm),
        card_limits.CARD_TILT.check(placement.tilt_deg),
    ]
    if placement.tag_scale is not None:
        rows.append(limits.PRINT_SCALE.check(abs(placement.tag_scale - 1)))
    return tuple(rows)


def bone_checks(view: CardView, placement: Placement, drawn: Sequence[Drawn]) -> tuple[Check, ...]:
    """Check what was taken for bone; what a person drew settles what would be asked.

    Last comes the share of patches, which all else makes unsure.
    """
    of_paper = view.paper_std**2 > card_limits.MOST_OF_IT * view.light_std**2
    light = (
        card_limits.CLIPPED_BONE.check(view.clipped_share),
        (card_limits.PAPER_HUES if of_paper else card_limits.BONE_LIGHT).check(view.light_std),
        card_limits.HARD_LIGHT.check(1.0 if view.shade_told else view.shadow_level),
        limits.LEAST_YELLOW.check(view.least_yellow),
    )
    share = card_limits.PATCH_SHARE.check(view.reading.yellow_share_std)
    if drawn:
        return (*light, share)
    seen = straightness(outlines_beside(placement, view.reading.pieces))
    return (
        *light,
        card_limits.PATTERN.check(float(view.runs_at_rim)),
        card_limits.UNEVEN_CLOTH.check(view.hidden_by_cloth),
        limits.REDDISH.check(view.reddish_share),
        card_limits.DARK_BONE.check(0.0 if view.shade_told else view.dark_share),
        card_limits.BROWN.check(view.brown_share),
        card_limits.SKULLS.check(float(view.likely_skulls)),
        limits.CORNERS.check(float(seen.outward)),
        limits.FULLNESS.check(seen.fullness),
        limits.ROUND.check(seen.roundest),
        share,
    )
