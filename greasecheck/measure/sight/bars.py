"""Measures the contrast of upright bars, through the water or dry, cell by cell."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.robust import MAD_TO_STD, medians
from greasecheck.measure.sheet.samples import boxes_points, sample_points
from greasecheck.model import Box

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.model import BoolArray, FloatArray, Photo, Placement

# Without a source, where none is named; the comment beside each value states what it does.
SIDE_MARGIN_MM = 8.0  # of paper on either side, which refraction may move bars onto
DRY_MARGIN_MM = 2.0  # of bars that no water moves: more than `align` looks to either side of them
EDGE_MARGIN_MM = 1.5  # left out above and below
BAND_MM = 3.0  # height over which cells are averaged: a shadow's edge shows within one
ROWS_PER_BAND = 12  # samples; doubled, neighbours share pixels and add nothing
COLUMNS_PER_MM = 6  # samples: 12 on a fine bar
# Less than half the pitch of coarse bars, so that none is taken for its neighbour
MAX_SHIFT_MM = 7.0
STRETCHES = np.arange(0.98, 1.0801, 0.005)  # to a depth of 12 cm seen from 40 cm
CENTRAL_HALF = (0.25, 0.75)  # of a bar's width: without its blurred edges
WHOLE_BAR = (0.0, 1.0)
# Mean of alternating second differences of n values with independent errors: the variance of the
# mean is 4 s2 / n where that of one difference is 1.5 s2, so the usual s2 / n is 8/3 too small.
DIFFERENCE_VARIANCE_FACTOR = 8 / 3
OUTLIER_MADS = 5.0  # standard deviations, by the MAD, that an odd cell stands apart, and
CONTRAST_TOLERANCE = 0.15  # this share of the usual contrast, or
LEVEL_TOLERANCE = 0.04  # this share of the usual brightness
MIN_CELLS = 6  # with fewer left, none is rejected
TRACE = 1e-9  # weight of a rejected cell, so that a half without others has a mean; least light


@dataclass(frozen=True, slots=True, kw_only=True)
class Alignment:
    """Where bars appear: a bar at x from the field's centre is seen at stretch * x + shift.

    Attributes
    ----------
    shift_mm : float
        Sideways displacement [mm].
    stretch : float
        Magnification; about 1 + d (1 - 1/n) / D behind a depth d of water of index n seen from a
        distance D, exactly 1 without water.
    """

    shift_mm: float
    stretch: float


AS_PRINTED = Alignment(shift_mm=0.0, stretch=1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Strips:
    """A field of bars averaged into horizontal bands, in scene-linear light.

    Attributes
    ----------
    light : ndarray, shape (bands, columns, 3)
        Light relative to paper white at the sheet's centre.
    x_mm : ndarray, shape (columns + 1,)
        Edges of the columns from the field's centre [mm].
    clipped_share : float
        Share of pixels at either end of the scale, 0 to 1.
    bar_mm, width_mm : float
        Width of one bar and of the field [mm].
    """

    light: FloatArray
    x_mm: FloatArray
    clipped_share: float
    bar_mm: float
    width_mm: float

    @property
    def bars(self) -> int:
        """Return how many bars the field has."""
        return round(self.width_mm / self.bar_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldContrast:
    """White minus black of a field of bars.

    Attributes
    ----------
    contrast, std : ndarray, shape (3,)
        Contrast and its standard error, scene-linear, for R, G, B.
    white, black : ndarray, shape (3,)
        Light of the white and of the black bars.
    alignment : Alignment
        Where the bars were taken to be.
    bands : ndarray, shape (bands, 3)
        Contrast of each horizontal band, from the top.
    used_share : float
        Share of the cells that were not rejected (bubbles, foam, drops), 0 to 1.
    unevenness : float
        Spread of brightness from cell to cell that no smooth light explains, relative.
    lean : tuple of float
        How much more contrast the right half has than the left one, and the lower than the upper
        one, as shares of the mean contrast.
    """

    contrast: FloatArray
    std: FloatArray
    bands: FloatArray
    white: FloatArray
    black: FloatArray
    alignment: Alignment
    used_share: float
    unevenness: float
    lean: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class BarField:
    """A field of bars in sheet coordinates, and what is sampled beside it.

    Attributes
    ----------
    box : Box
        The field [mm].
    bar_mm : float
        Width of one bar [mm].
    margin_mm : float
        Paper to sample on either side [mm].
    """

    box: Box
    bar_mm: float
    margin_mm: float = DRY_MARGIN_MM


def take_strips(
    photo: Photo,
    placement: Placement,
    colour: ColourModel,
    field: BarField,
    level: FloatArray | None = None,
) -> Strips:
    """Sample a field of bars with some paper on both sides and average it into bands.

    Parameters
    ----------
    photo, placement, colour
        The photo, where the sheet is in it, and its colour model.
    field : BarField
        The field of bars.
    level : ndarray, shape (3,), optional
        Scene light that counts as 1; by default the fitted light at the field's middle.
    """
    return take_alike(photo, placement, colour, [field], level)[0]


def take_alike(
    photo: Photo,
    placement: Placement,
    colour: ColourModel,
    fields: Sequence[BarField],
    level: FloatArray | None = None,
) -> list[Strips]:
    """Do the same with several fields of one size at once."""
    boxes = [_sampled_box(field) for field in fields]
    box, count = boxes[0], len(boxes)
    bands = round(box.height_mm / BAND_MM)
    columns = round(box.width_mm * COLUMNS_PER_MM)
    points = boxes_points(boxes, columns, bands * ROWS_PER_BAND)
    samples = sample_points(photo, placement, points.reshape(-1, columns, 2))
    rows = samples.linear.reshape(count, bands, ROWS_PER_BAND, columns, 3)
    light = colour.scene_linear(rows.mean(axis=2, dtype=np.float64))
    centres = np.array([field.box.centre_mm for field in fields])
    middles = colour.illuminance(centres) if level is None else np.tile(level, (count, 1))
    clipped = 1 - samples.unclipped.reshape(count, -1).mean(axis=1)
    return [
        Strips(
            light=light[k] / middles[k],
            x_mm=np.linspace(-box.width_mm / 2, box.width_mm / 2, columns + 1),
            clipped_share=float(clipped[k]),
            bar_mm=field.bar_mm,
            width_mm=field.box.width_mm,
        )
        for k, field in enumerate(fields)
    ]


def _sampled_box(field: BarField) -> Box:
    return Box(
        x_mm=field.box.x_mm - field.margin_mm,
        y_mm=field.box.y_mm + EDGE_MARGIN_MM,
        width_mm=field.box.width_mm + 2 * field.margin_mm,
        height_mm=field.box.height_mm - 2 * EDGE_MARGIN_MM,
    )


def align(strips: Strips, near: Alignment | None = None, reach_mm: float = 1.0) -> Alignment:
    """Find where the bars appear by the largest contrast of whole bars.

    Parameters
    ----------
    strips : Strips
        The field.
    near : Alignment, optional
        Where to look, within `reach_mm` and 1 % of stretch; anywhere plausible without it.
    reach_mm : float
        How far from `near` to look [mm].
    """
    centre = near or Alignment(shift_mm=0.0, stretch=1.0)
    reach = reach_mm if near else MAX_SHIFT_MM
    stretches = centre.stretch + np.linspace(-0.01, 0.01, 9) if near else STRETCHES
    shifts = centre.shift_mm + np.arange(-reach, reach + 0.01, strips.bar_mm / 20)
    stretch, shift = (axis.ravel() for axis in np.meshgrid(stretches, shifts))
    profile = strips.light.mean(axis=(0, 2), keepdims=True)
    bars = _bar_light(profile, strips, stretch[:, None], shift[:, None], WHOLE_BAR)
    best = int(np.argmax(_signed_differences(bars[0]).mean(axis=(-2, -1))))
    return Alignment(shift_mm=float(shift[best]), stretch=float(stretch[best]))


def flatten(strips: Strips, profile: FloatArray) -> Strips:
    """Divide out a profile of light over the bands, shape (bands, 3)."""
    return replace(strips, light=strips.light / profile[:, None, :])


def measure_contrast(
    strips: Strips, alignment: Alignment, *, columns_differ: bool = False
) -> FieldContrast:
    """Measure white minus black at a given alignment, rejecting odd cells.

    A cell is one bar within one band; its contrast is its difference from the mean of its two
    neighbours, which cancels any linear change of light across the field. Where `columns_differ`,
    uneven light from bar to bar, the same in every band, is no noise.
    """
    at = np.array(alignment.stretch), np.array(alignment.shift_mm)
    bars = _bar_light(strips.light, strips, *at, CENTRAL_HALF)
    cells = _signed_differences(bars)
    level = _relative_level(bars)
    keep = ~(_odd_contrast(cells) | _stands_apart(level, LEVEL_TOLERANCE))
    if keep.sum() < MIN_CELLS:
        keep = np.ones_like(keep)
    used = cells[keep]
    noise = (cells - medians(cells))[keep] if columns_differ else used
    return FieldContrast(
        contrast=used.mean(axis=0),
        std=noise.std(axis=0, ddof=1) * np.sqrt(DIFFERENCE_VARIANCE_FACTOR / len(used)),
        bands=_kept_bands(cells, keep) if columns_differ else medians(cells, axis=1),
        white=_kept_mean(bars, keep, parity=1),
        black=_kept_mean(bars, keep, parity=0),
        alignment=alignment,
        used_share=float(keep.mean()),
        unevenness=float(MAD_TO_STD * _usual(np.abs(level)).max()),
        lean=_lean(cells.mean(axis=-1), keep),
    )


def _kept_bands(cells: FloatArray, keep: BoolArray) -> FloatArray:
    """Mean of the kept cells of each band: where contrast leans, its median would not be it."""
    weights = np.broadcast_to((keep + TRACE)[..., None], cells.shape)
    return np.asarray(np.average(cells, axis=1, weights=weights))


def _lean(cells: FloatArray, keep: BoolArray) -> tuple[float, float]:
    """How much the halves of a field differ across and down; shapes (bands, bars)."""
    usual = float(cells[keep].mean()) or 1.0
    weights = keep + TRACE
    weighted = cells * weights
    across, down = (
        _half_difference(weighted.sum(axis=axis), weights.sum(axis=axis)) for axis in (0, 1)
    )
    return across / usual, down / usual


def _half_difference(sums: FloatArray, weights: FloatArray) -> float:
    """Mean of the later half of some sums less that of the earlier one."""
    half = len(sums) // 2
    later, earlier = (
        sums[-half:].sum() / weights[-half:].sum(),
        sums[:half].sum() / weights[:half].sum(),
    )
    return float(later - earlier)


def _bar_light(
    light: FloatArray,
    strips: Strips,
    stretch: FloatArray,
    shift_mm: FloatArray,
    part: tuple[float, float],
) -> FloatArray:
    """Average `light` over a part of each bar; shape (bands, ..., bars, channels)."""
    starts = np.arange(strips.bars) * strips.bar_mm - strips.width_mm / 2
    first_mm, step_mm, columns = strips.x_mm[0], strips.x_mm[1] - strips.x_mm[0], light.shape[1]
    low, high = (
        np.clip(
            (stretch * (starts + share * strips.bar_mm) + shift_mm - first_mm) / step_mm, 0, columns
        )
        for share in part
    )
    total = np.zeros((len(light), columns + 1, light.shape[2]))
    np.cumsum(light, axis=1, out=total[:, 1:])
    integral = _at_places(total, high) - _at_places(total, low)
    return np.asarray(
        integral / ((part[1] - part[0]) * strips.bar_mm / step_mm * stretch)[..., np.newaxis]
    )


def _at_places(total: FloatArray, place: FloatArray) -> FloatArray:
    """Interpolate a running sum, shape (bands, columns + 1, channels), between its columns."""
    left = np.minimum(place.astype(np.intp), total.shape[1] - 2)
    found = total.take(left + 1, axis=1)
    before = total.take(left, axis=1)
    found -= before
    found *= (place - left)[..., np.newaxis]
    found += before
    return np.asarray(found)


def _signed_differences(bars: FloatArray) -> FloatArray:
    """White minus black of each inner bar against its neighbours, along the last axis but one."""
    differences = bars[..., 1:-1, :] - (bars[..., :-2, :] + bars[..., 2:, :]) / 2
    signs = np.where(np.arange(1, bars.shape[-2] - 1) % 2 == 1, 1.0, -1.0)
    return np.asarray(differences * signs[:, None], dtype=np.float64)


def _odd_contrast(cells: FloatArray) -> BoolArray:
    """Cells whose contrast differs from that of the lower half, which foam reaches last."""
    usual = _usual(cells[len(cells) // 2 :])
    return _stands_apart(cells - usual, CONTRAST_TOLERANCE * np.abs(usual))


def _relative_level(bars: FloatArray) -> FloatArray:
    """Brightness of each cell, relative, less what its band and its column have in common."""
    levels = (bars[:, :-2] + 2 * bars[:, 1:-1] + bars[:, 2:]) / 4
    levels = levels / np.maximum(_usual(levels), TRACE)
    within_band = levels - medians(levels, axis=1)[:, np.newaxis]
    return np.asarray(within_band - medians(within_band))


def _usual(cells: FloatArray) -> FloatArray:
    """Median of all cells, shape (bands, bars, 3), for each channel."""
    return medians(cells.reshape(-1, cells.shape[-1]))


def _stands_apart(residual: FloatArray, tolerance: FloatArray | float) -> BoolArray:
    spread = MAD_TO_STD * _usual(np.abs(residual))
    return np.asarray((np.abs(residual) > OUTLIER_MADS * spread + tolerance).any(axis=-1))


def _kept_mean(bars: FloatArray, keep: BoolArray, parity: int) -> FloatArray:
    """Mean light, shape (3,), of the kept inner bars that are black (0) or white (1)."""
    of_kind = np.broadcast_to(np.arange(1, bars.shape[1] - 1) % 2 == parity, keep.shape)
    chosen = keep & of_kind if (keep & of_kind).any() else of_kind
    mean: FloatArray = bars[:, 1:-1][chosen].mean(axis=0)
    return mean
