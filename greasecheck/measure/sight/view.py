"""Compares the bars behind the jar with their dry twins."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import WaterError
from greasecheck.measure.colour.smear import colour_lost
from greasecheck.measure.sheet.samples import boxes_points, sample_points
from greasecheck.measure.sight.bars import (
    AS_PRINTED,
    BAND_MM,
    DRY_MARGIN_MM,
    SIDE_MARGIN_MM,
    Alignment,
    BarField,
    align,
    flatten,
    take_strips,
)
from greasecheck.measure.sight.cells import measure_contrast
from greasecheck.measure.sight.contrast_ladder import climb_ladder
from greasecheck.measure.sight.glass import look_through_glass, modulation
from greasecheck.measure.sight.holes import contrast_grain, contrast_hole
from greasecheck.measure.sight.phase import as_printed, edges_kept, measure_stretch
from greasecheck.measure.sight.shade import look_at_shade
from greasecheck.measure.sight.veil_edge import veil_down
from greasecheck.measure.sight.wide_mapping import wide_lift

if TYPE_CHECKING:
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.measure.sight.bars import Strips
    from greasecheck.measure.sight.cells import FieldContrast
    from greasecheck.measure.sight.contrast_ladder import LadderView
    from greasecheck.measure.sight.glass import GlassView
    from greasecheck.measure.sight.phase import Edges, Stretch
    from greasecheck.measure.sight.shade import WaterShade
    from greasecheck.measure.sight.veil_edge import VeilDown
    from greasecheck.model import Box, FloatArray, Photo, Placement, Sight

MAIN_CHANNEL = 0  # red: nearest to the 860 nm of ISO 7027-1:2016, least absorbed by blood
CLEARLY_SEEN = 8.0  # standard errors from zero for bars to be located by themselves
FINE_REACH_MM = 1.4  # from where the coarse bars lie: within one fine bar
LEAST_DRY_CONTRAST = 1e-3  # paper white = 1: printed bars have 0.8 and more
WINDOW_INSET_MM = 0.75  # of a paper window, left out on each side


def rgb_tuple(values: FloatArray) -> tuple[float, float, float]:
    """Return the values of the three channels, shape (3,), as plain numbers."""
    red, green, blue = (float(value) for value in values)
    return red, green, blue


@dataclass(frozen=True, slots=True, kw_only=True)
class BarLevels:
    """Light on one field of bars, for R, G, B.

    Attributes
    ----------
    white_kept : tuple of float
        Light of the white bars behind the jar, that of the dry ones = 1.
    dry_white, dry_black : tuple of float
        Light of the dry bars, paper at the field's middle = 1.
    dry_lean : tuple of float
        How the dry contrast leans, as in `FieldContrast`.
    wet_lean : float or None
        How the contrast behind the jar leans across; None where the bars are not clearly seen.
    """

    white_kept: tuple[float, float, float]
    dry_white: tuple[float, float, float]
    dry_black: tuple[float, float, float]
    dry_lean: tuple[float, float]
    wet_lean: float | None = None


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
        Share of the bars' pixels at either end of the scale, of the worse field, 0 to 1.
    stretch : Stretch
        Magnification of the wet bars, more exactly than their alignment; noise where murk hides
        them.
    edges : Edges or None
        Sharpness of the wet bars' edges, by `edges_kept`.
    """

    bar_mm: float
    width_mm: float
    wet: FieldContrast
    dry: FieldContrast
    clipped_share: float
    stretch: Stretch
    edges: Edges | None

    @property
    def ratio(self) -> FloatArray:
        """Return the wet over the dry contrast for R, G, B, shape (3,)."""
        return self.wet.contrast / self.dry.contrast

    @property
    def profile(self) -> FloatArray:
        """Return `ratio` for each horizontal band from the top, shape (bands, 3)."""
        return self.wet.bands / self.dry.contrast

    @property
    def ratio_std(self) -> FloatArray:
        """Return the standard error of `ratio`, shape (3,)."""
        dry_share = self.ratio * self.dry.std
        std: FloatArray = np.hypot(self.wet.std, dry_share) / np.abs(self.dry.contrast)
        return std

    @property
    def veil(self) -> FloatArray:
        """Return the light added to black and white alike, dry white = 1, shape (3,)."""
        return self._added(self.wet.black, self.wet.contrast)

    @property
    def veil_bands(self) -> FloatArray:
        """Return `veil` for each horizontal band from the top, shape (bands, 3)."""
        return self._added(self.wet.black_bands, self.wet.bands)

    def _added(self, black: FloatArray, contrast: FloatArray) -> FloatArray:
        black_share = self.dry.black / (self.dry.white - self.dry.black)
        return np.asarray((black - black_share * contrast) / self.dry.white)

    @property
    def levels(self) -> BarLevels:
        """Return the light on the bars."""
        return BarLevels(
            white_kept=rgb_tuple(self.wet.white / self.dry.white),
            dry_white=rgb_tuple(self.dry.white),
            dry_black=rgb_tuple(self.dry.black),
            dry_lean=self.dry.lean,
            wet_lean=self.wet.lean[0] if self.clearly_seen else None,
        )

    @property
    def clearly_seen(self) -> bool:
        """Return whether the wet bars stand out enough to be located by themselves."""
        return bool((self.wet.contrast > CLEARLY_SEEN * self.wet.std).any())


@dataclass(frozen=True, slots=True, kw_only=True)
class SightView:
    """The fine and the coarse bars of one photo.

    `glass` holds the bars behind the jar above the water, `ladder` what the camera makes of faint
    contrast, `shade` how light falls through the water, `level` the scene light of bare paper far
    from the jar, shape (3,), `lift` how much paper lightens among what is dark, as by `wide_lift`,
    `veil_down` the light added to the bars; None on sheets that do not show them. `hole` is what a
    spot takes of the fine bars' contrast, as by `contrast_hole`, `grain` how far it scatters, as by
    `contrast_grain`, `colour_lost` what the camera smears, as by `measure.colour.smear`, `above_mm`
    the height of the bars behind the jar that are seen above its water.
    """

    fine: FieldPair
    coarse: FieldPair
    glass: GlassView | None = None
    ladder: LadderView | None = None
    shade: WaterShade | None = None
    level: FloatArray | None = None
    lift: float | None = None
    veil_down: VeilDown | None = None
    hole: float = 0.0
    grain: float = 0.0
    colour_lost: float = 0.0
    above_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What a field of bars looks like through clear water.

    Attributes
    ----------
    alignment : Alignment
        Where the bars appear.
    profile : ndarray, shape (bands, 3)
        Wet over dry contrast of each horizontal band.
    """

    alignment: Alignment
    profile: FloatArray


def look_at_sight(
    photo: Photo,
    placement: Placement,
    colour: ColourModel,
    expected: tuple[Expected, Expected] | None = None,
) -> SightView:
    """Measure the four fields of bars.

    Parameters
    ----------
    photo, placement, colour
        The photo, where the sheet is in it, and its colour model.
    expected : tuple of Expected, optional
        The fine and the coarse bars through clear water. Their profile is divided out, so that
        the ratios found are relative to clear water; their place is used where murk hides the bars.

    Raises
    ------
    WaterError
        When the dry bars show nothing to compare with.
    """
    sight = placement.geometry.sight
    level = None if sight.glass is None else _paper_level(photo, placement, colour)

    def strips(box: Box, bar_mm: float, margin_mm: float = DRY_MARGIN_MM) -> Strips:
        field = BarField(box=box, bar_mm=bar_mm, margin_mm=margin_mm)
        return take_strips(photo, placement, colour, field, level)

    wet_fine = strips(sight.wet_fine, sight.fine_bar_mm, SIDE_MARGIN_MM)
    wet_coarse = strips(sight.wet_coarse, sight.coarse_bar_mm, SIDE_MARGIN_MM)
    dry_fine, dry_coarse = (
        _dry(strips(box, bar_mm), own_light=level is not None)
        for box, bar_mm in (
            (sight.dry_fine, sight.fine_bar_mm),
            (sight.dry_coarse, sight.coarse_bar_mm),
        )
    )
    fine_at = coarse_at = AS_PRINTED
    if expected:
        fine_at, coarse_at = (field.alignment for field in expected)
        wet_fine = flatten(wet_fine, expected[0].profile)
        wet_coarse = flatten(wet_coarse, expected[1].profile)
    coarse = _pair(wet_coarse, dry_coarse, None, coarse_at, columns_differ=level is not None)
    near = coarse.wet.alignment if coarse.clearly_seen else fine_at
    fine = _pair(wet_fine, dry_fine, near, near, columns_differ=level is not None)
    return SightView(
        fine=fine,
        coarse=coarse,
        glass=look_through_glass(photo, placement, colour, fine.dry),
        ladder=climb_ladder(photo, placement, colour, (fine.dry, coarse.dry)),
        shade=None if level is None else look_at_shade(photo, placement, colour, level),
        level=level,
        lift=None if level is None else wide_lift(photo, placement, colour),
        veil_down=None if level is None else _veil_down(sight, coarse, fine, expected),
        hole=contrast_hole(wet_fine, fine.wet.alignment),
        grain=contrast_grain(wet_fine, fine.wet.alignment, dry_fine.strips, fine.dry.alignment),
        colour_lost=colour_lost(photo, placement, colour),
        above_mm=_above_mm(((wet_fine, fine), (wet_coarse, coarse)), expected),
    )


def _above_mm(
    fields: tuple[tuple[Strips, FieldPair], tuple[Strips, FieldPair]],
    expected: tuple[Expected, Expected] | None,
) -> float:
    """Return the height of both fields' bands that no water moves [mm].

    Where they appear through water is known from clear water, or else by the fine bars' own place.
    """
    fine = fields[0][1]
    own = replace(fine.wet.alignment, stretch=fine.stretch.value)
    through_water = expected[0].alignment if expected else own
    dry = [as_printed(wet, through_water, modulation(pair.dry)).sum() for wet, pair in fields]
    return BAND_MM * float(sum(dry))


def _veil_down(
    sight: Sight, coarse: FieldPair, fine: FieldPair, expected: tuple[Expected, Expected] | None
) -> VeilDown:
    """Take the veil of both fields as it is seen, not over the contrast in clear water."""
    profiles = (expected[1].profile, expected[0].profile) if expected else (1.0, 1.0)
    veils = coarse.veil_bands * profiles[0], fine.veil_bands * profiles[1]
    return veil_down((sight.wet_coarse, sight.wet_fine), veils)


def _paper_level(photo: Photo, placement: Placement, colour: ColourModel) -> FloatArray:
    """Return the scene light of bare paper far from the jar, shape (3,).

    The geometric mean of all windows changes little when one of them does; what does is checked by
    `surroundings.py`.
    """
    windows = placement.geometry.paper_windows
    points = boxes_points([window.inset(WINDOW_INSET_MM) for window in windows], 8, 8)
    samples = sample_points(photo, placement, points.reshape(len(windows), -1, 2))
    light = colour.scene_linear(samples.linear.mean(axis=1, dtype=np.float64))
    return np.asarray(np.exp(np.log(np.maximum(light, LEAST_DRY_CONTRAST)).mean(axis=0)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Dry:
    """A field of dry bars, and what was measured of it."""

    strips: Strips
    contrast: FieldContrast


def _dry(strips: Strips, *, own_light: bool) -> _Dry:
    """Measure dry bars; in their `own_light`, scaled to a white of 1.

    The jar's light and shade on them change from water to water. What is left then is the print's
    contrast as this camera shows it.
    """
    seen = measure_contrast(strips, align(strips, AS_PRINTED))
    if own_light:
        white = np.maximum(seen.white, LEAST_DRY_CONTRAST)
        strips = flatten(strips, np.tile(white, (len(strips.light), 1)))
        seen = seen.relative_to(white)
    _refuse_unseen(seen)
    return _Dry(strips=strips, contrast=seen)


def _pair(
    wet: Strips,
    dry: _Dry,
    near: Alignment | None,
    fallback: Alignment,
    *,
    columns_differ: bool,
) -> FieldPair:
    """Measure a wet field where its bars are seen best, or at `fallback` when they are not."""
    at, bare = align(wet, near, FINE_REACH_MM), dry.contrast
    clipped = wet.clipped_share(at), dry.strips.clipped_share(bare.alignment)
    found = FieldPair(
        bar_mm=wet.bar_mm,
        width_mm=wet.width_mm,
        wet=measure_contrast(wet, at, columns_differ=columns_differ),
        dry=bare,
        clipped_share=max(clipped),
        stretch=measure_stretch(wet, at),
        edges=edges_kept(wet, at, dry.strips, bare.alignment),
    )
    if found.clearly_seen:
        return found
    return replace(found, wet=measure_contrast(wet, fallback, columns_differ=columns_differ))


def _refuse_unseen(dry: FieldContrast) -> None:
    if dry.contrast.min() < LEAST_DRY_CONTRAST:
        raise WaterError(
            "the bars beside the jar cannot be told from their ground",
            hint="uncover the right-hand bars, keep glare and shadows off them",
        )
