"""Finds damage in pixels that decoders do not report: the formats carry no checksum of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from cv2.typing import MatLike
    from numpy.typing import NDArray

# Luma and colour differences from R, G, B (ITU-T T.871, section 7).
TO_YCC = np.array([[0.299, 0.587, 0.114], [-0.1687, -0.3313, 0.5], [0.5, -0.4187, -0.0813]])
# Own measurements on the sample photos, sound and with 900 single flipped bits, of which 31 moved
# a good reading by more than its standard error without a warning of the decoder. Levels are of 8
# bits, for luma and the two colour differences.
STEP_LIMITS = np.array([3.0, 1.5, 1.5])  # caps what real edges add
LARGEST_T = 18.0  # sound photos stay below 13, harmful jumps come to 20
SMALLEST_JUMP = np.array([1.5, 0.4, 0.4])  # smaller ones move no reading
JUMP_TOLERANCE, JUMP_RELATIVE_TOLERANCE = np.array([1.0, 0.6, 0.6]), 0.2
SAME_STEP_SHARE = 0.5  # real edges vary; of a jump, 0.55 and more of the units step alike
END_SHARE = 0.04  # of a row, at either end
STEP_NOISE = 0.2  # least scatter of the steps, for drawn pictures without noise
LOST_PX, FEW_BLACK = 151, 0.1  # a disk loses 512 bytes at once or more
# Own measurement: no sample photo has a tile with such pixels; of 33 damaged HEIC files that would
# have been read wrongly, 30 have one.
TILE_PX, OPPOSITE_LEVELS, OPPOSITE_SHARE = 16, 120, 0.03


def has_level_jump(pixels: NDArray[np.uint8], unit_height_px: int, unit_width_px: int) -> bool:
    """Return whether brightness or colour jumps somewhere in a JPEG and stays so to its end.

    A JPEG codes the mean level of each unit as the difference to the unit before, row by row, so
    that one flipped bit shifts all that follows by the same amount, without any other sign.

    Parameters
    ----------
    pixels : ndarray, shape (height, width, 3), uint8
        R, G, B as stored, before any turn.
    unit_height_px, unit_width_px : int
        Size of a minimum coded unit [px]: 8 or 16, by the chroma subsampling.

    Notes
    -----
    For each unit, the step over the upper edge of those from it to the right end of its row, and
    over the lower edge of those before it, is averaged and divided by its standard error. Where
    that is largest, most of these steps must be alike, and there must be none on the other edges.

    References
    ----------
    ITU-T T.81 (1992), section F.1.2.1 (differential coding of DC), A.2.3 (order of units).
    """
    steps = _edge_steps(pixels, unit_height_px, unit_width_px)
    if len(steps) < 2 or steps.shape[1] < 2:
        return False
    capped = np.clip(steps, -STEP_LIMITS, STEP_LIMITS)
    mean, square = _over_both_edges(capped), _over_both_edges(capped**2)
    variance = np.maximum(square - mean**2, STEP_NOISE**2)
    t = np.abs(mean) / np.sqrt(variance / steps.shape[1])
    return any(
        t[..., channel].max() > LARGEST_T
        and _is_even_jump(steps[..., channel], int(t[..., channel].argmax()), channel)
        for channel in range(3)
    )


def _is_even_jump(steps: NDArray[np.float64], place: int, channel: int) -> bool:
    """Whether most units step alike over the edges that a jump at `place` would leave."""
    units = steps.shape[1]
    row, unit = divmod(place, units + 1)
    if min(unit, units - unit) < END_SHARE * units:
        return False  # a level edge across the whole picture, such as a shelf's, looks so too
    along = np.concatenate([steps[row + 1, :unit], steps[row, unit:]])
    jump = float(np.median(along))
    elsewhere = max(abs(np.median(steps[row, :unit])), abs(np.median(steps[row + 1, unit:])))
    tolerance = max(JUMP_TOLERANCE[channel], JUMP_RELATIVE_TOLERANCE * abs(jump))
    alike = float((np.abs(along - jump) <= tolerance).mean())
    large = abs(jump) >= SMALLEST_JUMP[channel] and elsewhere < abs(jump) / 2
    return bool(large and alike >= SAME_STEP_SHARE)


def _edge_steps(
    pixels: NDArray[np.uint8], unit_height_px: int, unit_width_px: int
) -> NDArray[np.float64]:
    """Step over the lower edge of each unit but the last row, beyond the slope on its sides."""
    count = (len(pixels) - 2) // unit_height_px
    units = pixels.shape[1] // unit_width_px
    above2, above, below, below2 = (
        _unit_means(pixels[unit_height_px + row :: unit_height_px][:count], units, unit_width_px)
        for row in (-2, -1, 0, 1)
    )
    beyond_slope = (3 * (below - above) - (below2 - above2)) / 2
    steps: NDArray[np.float64] = beyond_slope @ TO_YCC.T
    return steps


def _unit_means(rows: NDArray[np.uint8], units: int, unit_width_px: int) -> MatLike:
    """Mean of each unit's width of each row, shape (rows, units, 3)."""
    whole = rows[:, : units * unit_width_px].astype(np.float32)
    return cv2.resize(whole, (units, len(rows)), interpolation=cv2.INTER_AREA)


def _over_both_edges(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean over the upper edge from each unit on and the lower edge before it, row by row."""
    sums = np.pad(np.cumsum(values, axis=1), ((0, 0), (1, 0), (0, 0)))
    upper, lower = sums[:-1], sums[1:]
    mean: NDArray[np.float64] = (lower + upper[:, -1:] - upper) / values.shape[1]
    return mean


def has_garbage(pixels: MatLike) -> bool:
    """Return whether strong green and strong magenta or red lie mixed in a small tile.

    So looks what an arithmetic decoder makes of what follows a flipped bit, and no photograph.

    Parameters
    ----------
    pixels : ndarray, shape (height, width, 3 or 4), uint8
        R, G, B.
    """
    red, green = cv2.extractChannel(pixels, 0), cv2.extractChannel(pixels, 1)
    reddish, greenish = _share_of_larger(red, green), _share_of_larger(green, red)
    return bool((np.minimum(reddish, greenish) > 255 * OPPOSITE_SHARE).any())


def _share_of_larger(more: MatLike, less: MatLike) -> MatLike:
    """Share of pixels, in each tile, where one channel is far above another; 255 is all."""
    far = cv2.threshold(cv2.subtract(more, less), OPPOSITE_LEVELS, 255, cv2.THRESH_BINARY)[1]
    tiles = max(far.shape[1] // TILE_PX, 1), max(far.shape[0] // TILE_PX, 1)
    return cv2.resize(far, tiles, interpolation=cv2.INTER_AREA)


def has_lost_block(pixels: MatLike) -> bool:
    """Return whether a row has a long stretch of pure black where its neighbours have none.

    Parameters
    ----------
    pixels : ndarray, shape (height, width, channels)
        As stored in rows of plain bytes; a lost block of a disk is read as zeros.
    """
    black = cv2.inRange(pixels, (0,) * pixels.shape[2], (0,) * pixels.shape[2])
    stretch = np.ones((1, LOST_PX), dtype=np.uint8)
    whole = cv2.erode(black, stretch, borderType=cv2.BORDER_REPLICATE)[2:-2]
    if not whole.any():
        return False
    share = cv2.blur(black, stretch.shape[::-1], borderType=cv2.BORDER_REPLICATE)
    alone = np.maximum(share[:-4], share[4:]) < 255 * FEW_BLACK
    return bool(alone[whole > 0].any())
