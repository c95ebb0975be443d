"""Samples fields of upright bars, through the water or dry, and finds where the bars appear."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.sheet.samples import boxes_points, sample_points
from greasecheck.model import Box

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.model import FloatArray, Photo, Placement

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
    clipped : ndarray, shape (columns,)
        Share of each column's pixels at either end of the scale, 0 to 1.
    bar_mm, width_mm : float
        Width of one bar and of the field [mm].
    """

    light: FloatArray
    x_mm: FloatArray
    clipped: FloatArray
    bar_mm: float
    width_mm: float

    @property
    def bars(self) -> int:
        """Return how many bars the field has."""
        return round(self.width_mm / self.bar_mm)

    @property
    def edges_mm(self) -> FloatArray:
        """Return the printed edges of the bars from the field's centre, shape (bars + 1,) [mm]."""
        return np.asarray(np.arange(self.bars + 1) * self.bar_mm - self.width_mm / 2, np.float64)

    def clipped_share(self, at: Alignment) -> float:
        """Return the share of the bars' own pixels at either end of the scale, 0 to 1.

        The paper beside them may be burnt out: a jar gathers a low lamp's light in a spot there.
        """
        middles = (self.x_mm[:-1] + self.x_mm[1:]) / 2
        half_mm = at.stretch * self.width_mm / 2
        return float(self.clipped[np.abs(middles - at.shift_mm) <= half_mm].mean())


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
    light = colour.scene_linear(rows.mean(axis=2))
    centres = np.array([field.box.centre_mm for field in fields])
    middles = colour.illuminance(centres) if level is None else np.tile(level, (count, 1))
    clipped = 1 - samples.unclipped.reshape(count, -1, columns).mean(axis=1)
    return [
        Strips(
            light=light[k] / middles[k],
            x_mm=np.linspace(-box.width_mm / 2, box.width_mm / 2, columns + 1),
            clipped=clipped[k],
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
    return align_alike([strips], near, reach_mm)[0]


def align_alike(
    strips: Sequence[Strips], near: Alignment | None = None, reach_mm: float = 1.0
) -> list[Alignment]:
    """Do the same with several fields of one size at once."""
    centre = near or Alignment(shift_mm=0.0, stretch=1.0)
    reach = reach_mm if near else MAX_SHIFT_MM
    stretches = centre.stretch + np.linspace(-0.01, 0.01, 9) if near else STRETCHES
    shifts = centre.shift_mm + np.arange(-reach, reach + 0.01, strips[0].bar_mm / 20)
    stretch, shift = (axis.reshape(1, -1) for axis in np.meshgrid(stretches, shifts))
    profiles = np.stack([one.light.mean(axis=(0, 2), keepdims=True) for one in strips])
    bars = light_between(strips[0].edges_mm, profiles, strips[0], stretch, shift)
    best = signed_differences(bars)[:, 0].mean(axis=(-2, -1)).argmax(axis=1)
    return [
        Alignment(shift_mm=float(shift[0, place]), stretch=float(stretch[0, place]))
        for place in best
    ]


def flatten(strips: Strips, profile: FloatArray) -> Strips:
    """Divide out a profile of light over the bands, shape (bands, 3)."""
    return replace(strips, light=strips.light / profile[:, None, :])


def light_between(
    edges_mm: FloatArray,
    light: FloatArray,
    like: Strips,
    stretch: FloatArray,
    shift_mm: FloatArray,
) -> FloatArray:
    """Average light between successive edges, for some alignments of each field.

    Parameters
    ----------
    edges_mm : ndarray, shape (k + 1,)
        Places on the print from the field's centre [mm].
    light : ndarray, shape (fields, bands, columns, channels)
        Light of fields that are as large as the field `like`.
    stretch, shift_mm : ndarray, shape (fields or 1, alignments)
        Where the bars are taken to be.

    Returns
    -------
    ndarray, shape (fields, bands, alignments, k, channels)
    """
    seen_mm = stretch[..., np.newaxis] * edges_mm + shift_mm[..., np.newaxis]
    places = (seen_mm - like.x_mm[0]) / (like.x_mm[1] - like.x_mm[0])
    total = np.zeros((*light.shape[:2], light.shape[2] + 1, light.shape[3]))
    np.cumsum(light, axis=2, out=total[:, :, 1:])
    at_edges = _at_places(total, places).reshape(*light.shape[:2], *places.shape[1:], -1)
    widths = np.diff(places)[:, np.newaxis, ..., np.newaxis]
    return np.asarray(np.diff(at_edges, axis=-2) / widths)


def _at_places(total: FloatArray, places: FloatArray) -> FloatArray:
    """Interpolate running sums, shape (fields, bands, columns + 1, channels), between columns."""
    most = total.shape[2] - 1
    place = places.reshape(len(places), -1).clip(0, most)
    left = np.minimum(place.astype(np.intp), most - 1)
    of_fields = np.broadcast_to(left, (len(total), left.shape[1]))
    pairs = list(zip(total, of_fields, strict=True))
    before = np.stack([sums.take(at, axis=1) for sums, at in pairs])
    after = np.stack([sums.take(at + 1, axis=1) for sums, at in pairs])
    after -= before
    after *= (place - left)[:, np.newaxis, :, np.newaxis]
    after += before
    return after


def signed_differences(bars: FloatArray) -> FloatArray:
    """White minus black of each inner bar against its neighbours, along the last axis but one."""
    differences = bars[..., 1:-1, :] - (bars[..., :-2, :] + bars[..., 2:, :]) / 2
    signs = np.where(np.arange(1, bars.shape[-2] - 1) % 2 == 1, 1.0, -1.0)
    return np.asarray(differences * signs[:, None], dtype=np.float64)
