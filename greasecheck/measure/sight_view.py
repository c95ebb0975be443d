"""Compares the bars behind the jar with their dry twins."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.sight import Alignment, align, measure_contrast, take_strips

if TYPE_CHECKING:
    from greasecheck.measure.colour import ColourModel
    from greasecheck.measure.sight import FieldContrast, Strips
    from greasecheck.model import Box, FloatArray, Photo, Placement

CLEARLY_SEEN = 8.0
FINE_REACH_MM = 1.4
AS_PRINTED = Alignment(shift_mm=0.0, stretch=1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldPair:
    """One field of bars behind the jar and its dry twin.

    Attributes
    ----------
    bar_mm, width_mm : float
        Width of one bar and of the field [mm].
    wet, dry : FieldContrast
        Both fields.
    clipped_share : float
        Share of pixels of the wet field at either end of the scale, 0 to 1.
    """

    bar_mm: float
    width_mm: float
    wet: FieldContrast
    dry: FieldContrast
    clipped_share: float

    @property
    def ratio(self) -> FloatArray:
        """Return the wet over the dry contrast for R, G, B, shape (3,)."""
        return self.wet.contrast / self.dry.contrast

    @property
    def ratio_std(self) -> FloatArray:
        """Return the standard error of `ratio`, shape (3,)."""
        dry_share = self.ratio * self.dry.std
        std: FloatArray = np.hypot(self.wet.std, dry_share) / np.abs(self.dry.contrast)
        return std

    @property
    def clearly_seen(self) -> bool:
        """Return whether the wet bars stand out enough to be located by themselves."""
        return bool(np.max(self.wet.contrast / self.wet.std) > CLEARLY_SEEN)


@dataclass(frozen=True, slots=True, kw_only=True)
class SightView:
    """The fine and the coarse bars of one photo."""

    fine: FieldPair
    coarse: FieldPair


def look_at_sight(
    photo: Photo,
    placement: Placement,
    colour: ColourModel,
    expected: tuple[Alignment, Alignment] | None = None,
) -> SightView:
    """Measure the four fields of bars.

    Parameters
    ----------
    photo, placement, colour
        The photo, where the sheet is in it, and its colour model.
    expected : tuple of Alignment, optional
        Where the fine and the coarse bars appear through clear water in this stand; used where
        murky water hides them.
    """
    sight = placement.geometry.sight
    fine, coarse = expected or (AS_PRINTED, AS_PRINTED)

    def strips(box: Box, bar_mm: float) -> Strips:
        return take_strips(photo, placement, colour, box, bar_mm)

    coarse_pair = _pair(
        strips(sight.wet_coarse, sight.coarse_bar_mm),
        strips(sight.dry_coarse, sight.coarse_bar_mm),
        near=None,
        fallback=coarse,
    )
    near = coarse_pair.wet.alignment if coarse_pair.clearly_seen else fine
    fine_pair = _pair(
        strips(sight.wet_fine, sight.fine_bar_mm),
        strips(sight.dry_fine, sight.fine_bar_mm),
        near=near,
        fallback=near,
    )
    return SightView(fine=fine_pair, coarse=coarse_pair)


def _pair(wet: Strips, dry: Strips, near: Alignment | None, fallback: Alignment) -> FieldPair:
    """Measure a wet field where its bars are seen best, or at `fallback` when they are not."""
    found = FieldPair(
        bar_mm=wet.bar_mm,
        width_mm=wet.width_mm,
        wet=measure_contrast(wet, align(wet, near, FINE_REACH_MM)),
        dry=measure_contrast(dry, align(dry, AS_PRINTED)),
        clipped_share=wet.clipped_share,
    )
    return found if found.clearly_seen else replace(found, wet=measure_contrast(wet, fallback))
