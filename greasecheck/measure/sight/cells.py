"""Measures the contrast of fields of bars cell by cell, without the odd ones."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.robust import MAD_TO_STD, medians
from greasecheck.measure.sight.bars import light_between, signed_differences

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.sight.bars import Alignment, Strips
    from greasecheck.model import BoolArray, FloatArray

# Without a source, where none is named; the comment beside each value states what it does.
CENTRAL_HALF = (0.25, 0.75)  # of a bar's width: without its blurred edges
# Mean of alternating second differences of n values with independent errors: the variance of the
# mean is 4 s2 / n where that of one difference is 1.5 s2, so the usual s2 / n is 8/3 too small.
DIFFERENCE_VARIANCE_FACTOR = 8 / 3
OUTLIER_MADS = 5.0  # standard deviations, by the MAD, that an odd cell stands apart, and
CONTRAST_TOLERANCE = 0.15  # this share of the usual contrast, or
LEVEL_TOLERANCE = 0.04  # this share of the usual brightness
MIN_CELLS = 6  # with fewer left, none is rejected
TRACE = 1e-9  # weight of a rejected cell, so that a half without others has a mean; least light


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldContrast:
    """White minus black of a field of bars.

    Attributes
    ----------
    contrast, std : ndarray, shape (3,)
        Contrast and its standard error, scene-linear, for R, G, B.
    white, black : ndarray, shape (3,)
        Light of the white and of the black bars.
    black_bands : ndarray, shape (bands, 3)
        Light of the inner black bars of each horizontal band.
    alignment : Alignment
        Where the bars were taken to be.
    bands : ndarray, shape (bands, 3)
        Contrast of each horizontal band, from the top.
    bands_std : ndarray, shape (3,)
        Standard error of a band's contrast by the scatter within bands alone.
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
    bands_std: FloatArray
    white: FloatArray
    black: FloatArray
    black_bands: FloatArray
    alignment: Alignment
    used_share: float
    unevenness: float
    lean: tuple[float, float]

    def relative_to(self, light: FloatArray) -> FieldContrast:
        """Return the same with some light, shape (3,), counted as 1."""
        return replace(
            self,
            contrast=self.contrast / light,
            std=self.std / light,
            bands=self.bands / light,
            bands_std=self.bands_std / light,
            white=self.white / light,
            black=self.black / light,
            black_bands=self.black_bands / light,
        )


def measure_contrast(
    strips: Strips, alignment: Alignment, *, columns_differ: bool = False
) -> FieldContrast:
    """Measure white minus black at a given alignment, rejecting odd cells.

    A cell is one bar within one band; its contrast is its difference from the mean of its two
    neighbours, which cancels any linear change of light across the field. Where `columns_differ`,
    uneven light from bar to bar, the same in every band, is no noise.
    """
    return measure_alike([strips], [alignment], columns_differ=columns_differ)[0]


def measure_alike(
    strips: Sequence[Strips], alignments: Sequence[Alignment], *, columns_differ: bool = False
) -> list[FieldContrast]:
    """Do the same with several fields of one size at once."""
    stretch, shift = np.array([[[at.stretch], [at.shift_mm]] for at in alignments]).swapaxes(0, 1)
    light = np.stack([one.light for one in strips])
    bars = central_light(light, strips[0], stretch, shift)
    cells = signed_differences(bars)
    level = _relative_level(bars)
    keep = ~(_odd_contrast(cells) | _stands_apart(level, LEVEL_TOLERANCE))
    keep |= keep.sum(axis=(1, 2), keepdims=True) < MIN_CELLS
    count = keep.sum(axis=(1, 2))[:, np.newaxis]
    contrast = _kept_mean(cells, keep)
    noise = cells - medians(cells, axis=1)[:, np.newaxis] if columns_differ else cells
    scatter = (noise - _kept_mean(noise, keep)[:, np.newaxis, np.newaxis]) ** 2
    variance = _kept_mean(scatter, keep) / (count - 1) * DIFFERENCE_VARIANCE_FACTOR
    bands = _kept_bands(cells, keep) if columns_differ else medians(cells, axis=2)
    within = _std_within_bands(cells)
    white, black = (_mean_of_kind(bars, keep, parity) for parity in (1, 0))
    unevenness = MAD_TO_STD * _usual(np.abs(level)).max(axis=(1, 2, 3))
    across, down = _lean(cells.mean(axis=-1), keep)
    return [
        FieldContrast(
            contrast=contrast[k],
            std=np.sqrt(variance[k]),
            bands=bands[k],
            bands_std=within[k],
            white=white[k],
            black=black[k],
            black_bands=bars[k, :, 2:-1:2].mean(axis=1),
            alignment=alignment,
            used_share=float(keep[k].mean()),
            unevenness=float(unevenness[k]),
            lean=(float(across[k]), float(down[k])),
        )
        for k, alignment in enumerate(alignments)
    ]


def central_light(
    light: FloatArray, like: Strips, stretch: FloatArray, shift_mm: FloatArray
) -> FloatArray:
    """Average light over the middle of each bar, shape (fields, bands, bars, channels).

    Parameters as for `light_between`, with one alignment of each field.
    """
    halves = like.edges_mm[:-1, np.newaxis] + like.bar_mm * np.array(CENTRAL_HALF)
    return light_between(halves.ravel(), light, like, stretch, shift_mm)[:, :, 0, ::2]


def _kept_mean(values: FloatArray, keep: BoolArray) -> FloatArray:
    """Mean of the kept cells, shape (fields, channels), of values by field, band and bar."""
    total = (values * keep[..., np.newaxis]).sum(axis=(1, 2))
    return np.asarray(total / keep.sum(axis=(1, 2))[:, np.newaxis])


def _kept_bands(cells: FloatArray, keep: BoolArray) -> FloatArray:
    """Mean of the kept cells of each band: where contrast leans, its median would not be it."""
    weights = (keep + TRACE)[..., np.newaxis]
    return np.asarray((cells * weights).sum(axis=2) / weights.sum(axis=2))


def _std_within_bands(cells: FloatArray) -> FloatArray:
    """Return the standard error of a band's median cell, shape (fields, channels).

    What a band or a column has in common is no scatter within bands. The median's variance is
    pi / 2 times the mean's where errors are normal.
    """
    scatter = cells - medians(cells, axis=2)[:, :, np.newaxis]
    scatter = scatter - medians(scatter, axis=1)[:, np.newaxis]
    spread = MAD_TO_STD * _usual(np.abs(scatter))[:, 0, 0]
    return np.asarray(spread * np.sqrt(DIFFERENCE_VARIANCE_FACTOR * np.pi / 2 / cells.shape[2]))


def _lean(cells: FloatArray, keep: BoolArray) -> tuple[FloatArray, FloatArray]:
    """How much the halves of fields differ across and down; shapes (fields, bands, bars)."""
    usual = _kept_mean(cells[..., np.newaxis], keep)[:, 0]
    usual[usual == 0] = 1.0
    weights = keep + TRACE
    weighted = cells * weights
    across, down = (
        _half_difference(weighted.sum(axis=axis), weights.sum(axis=axis)) / usual for axis in (1, 2)
    )
    return across, down


def _half_difference(sums: FloatArray, weights: FloatArray) -> FloatArray:
    """Mean of the later half of some sums, shape (fields, n), less that of the earlier one."""
    half = sums.shape[1] // 2
    later, earlier = (
        sums[:, part].sum(axis=1) / weights[:, part].sum(axis=1)
        for part in (slice(-half, None), slice(half))
    )
    return np.asarray(later - earlier)


def _odd_contrast(cells: FloatArray) -> BoolArray:
    """Cells whose contrast differs from that of the lower half, which foam reaches last."""
    lower = slice(cells.shape[1] // 2, None)
    usual = _usual(cells[:, lower])
    return _stands_apart(cells - usual, CONTRAST_TOLERANCE * np.abs(usual), lower)


def _relative_level(bars: FloatArray) -> FloatArray:
    """Brightness of each cell, relative, less what its band and its column have in common."""
    levels = (bars[:, :, :-2] + 2 * bars[:, :, 1:-1] + bars[:, :, 2:]) / 4
    levels = levels / np.maximum(_usual(levels), TRACE)
    within_band = levels - medians(levels, axis=2)[:, :, np.newaxis]
    return np.asarray(within_band - medians(within_band, axis=1)[:, np.newaxis])


def _usual(cells: FloatArray) -> FloatArray:
    """Median of all cells of a field for each channel, shape (fields, 1, 1, channels)."""
    fields, channels = len(cells), cells.shape[-1]
    return medians(cells.reshape(fields, 1, -1, channels), axis=2)[:, :, np.newaxis]


def _stands_apart(
    residual: FloatArray, tolerance: FloatArray | float, sound: slice = slice(None)
) -> BoolArray:
    """Cells beyond the tolerance and the spread of the bands that are most likely sound."""
    size = np.abs(residual)
    spread = MAD_TO_STD * _usual(size[:, sound])
    return np.asarray((size > OUTLIER_MADS * spread + tolerance).any(axis=-1))


def _mean_of_kind(bars: FloatArray, keep: BoolArray, parity: int) -> FloatArray:
    """Mean light, shape (fields, 3), of the kept inner bars that are black (0) or white (1)."""
    of_kind = np.broadcast_to(np.arange(1, bars.shape[2] - 1) % 2 == parity, keep.shape)
    kept = keep & of_kind
    kept |= of_kind & ~kept.any(axis=(1, 2), keepdims=True)
    return _kept_mean(bars[:, :, 1:-1], kept)
