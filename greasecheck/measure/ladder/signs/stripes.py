"""Whether the wet stripes fade as water makes them: even, steadily, both widths alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.ladder.signs.picture import INK_SHARE
from greasecheck.measure.ladder.slopes import FEWEST_BINS, LEAST_SHARE, fit_decay

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.ladder.profile import Field, Sampled
    from greasecheck.model import FloatArray

UPPER_BINS = 16  # the upper 40 mm, in which foam and bones are distinguished from murk
OUTLYING = 0.06  # of dry white: stripes that differ by more from their neighbours' line
OUTLYING_SHARE = 0.25  # or of the contrast in their bin
SHOWN_CONTRAST, SHOWN_STD = 0.03, 6.0  # of dry white, and in standard errors: contrast that shows
COMPARED_CONTRAST = 0.08  # of dry white: of the stronger field, where the two are compared
UNLIKE_SHARE = 0.5  # of the contrast: a stripe that differs by more is covered or spoilt
STEP_BINS = 4
STEP_STDS = 2.0  # standard errors of a step: of some forty, noise makes one beyond them
# How much the logarithm of contrast bends over 10 mm for each 1/m of haze, and up to which haze: 95
# of 100 tubs of the design stay within that and the limit. Twice as much passes twice the shadows.
BEND_PER_HAZE, MOST_BENDING_PER_M = 0.0065, 26.0
# The same for the logarithm of fine over coarse contrast: 99 of 100 sound photos of the design stay
# within that and the limit (tests/synthetic/ladder_light/fit_colour.py).
PARTING_PER_HAZE, MOST_PARTING_PER_M = 0.004, 25.0
# From which haze on faint stripes are compared with strong ones, since in clearer water light that
# changes down the plate counts for more; and how many standard errors must show.
LEAST_FADING_PER_M, FADING_STD = 5.0, 4.0
LEAST_FADE_PER_M = 1e-3  # keeps the ratio finite


def uneven_share(sampled: Sampled) -> float:
    """Return the share of white stripes that stand out from the others of their depth.

    By their light in the upper bins, and by their contrast with their neighbours wherever that
    of the whole field shows.
    """
    shares = []
    for field in (sampled.fine, sampled.coarse):
        stripes = field.stripes[sampled.inside][:UPPER_BINS]
        contrast = np.abs(field.contrast[sampled.inside][:UPPER_BINS])
        limit = np.maximum(OUTLYING, OUTLYING_SHARE * contrast)[:, None]
        shares += [
            float((np.abs(colour - _line(colour)) > limit).mean())
            for colour in (stripes[:, 0::2], stripes[:, 1::2])
        ]
        shares.append(_covered_share(field, sampled))
    return float(np.max(shares))


def _covered_share(field: Field, sampled: Sampled) -> float:
    """Return the share of black stripes whose contrast differs much from their field's."""
    shown = field.contrast[sampled.inside] > np.maximum(
        SHOWN_CONTRAST, SHOWN_STD * field.std[sampled.inside]
    )
    stripes = field.stripes[sampled.inside][shown]
    if not len(stripes):
        return 0.0
    white, black = stripes[:, 0::2], stripes[:, 1::2]
    count = min(white.shape[1] - 1, black.shape[1])
    own = (white[:, :count] + white[:, 1 : count + 1]) / 2 - black[:, :count]
    usual = np.maximum(np.median(own, axis=1), SHOWN_CONTRAST)[:, None]
    return float((np.abs(own / usual - 1) > UNLIKE_SHARE).mean())


def _line(stripes: FloatArray) -> FloatArray:
    """Return a straight line across the stripes of one colour in each bin, by medians."""
    count = stripes.shape[1]
    away = np.arange(count) - (count - 1) / 2
    half = count // 2
    left, right = np.median(stripes[:, :half], axis=1), np.median(stripes[:, -half:], axis=1)
    slope = (right - left) / (count - half)
    return np.asarray(np.median(stripes, axis=1)[:, None] + slope[:, None] * away)


def contrast_step(sampled: Sampled, haze_per_m: float) -> float:
    """Return the largest step of the logarithm of contrast over 10 mm, beyond what haze makes.

    Its usual slope is taken off, and what noise makes. It is the edge of a shadow, or of something
    before the stripes.
    """
    keep = sampled.inside
    fields = [(field.contrast[keep], field.std[keep]) for field in (sampled.fine, sampled.coarse)]
    return largest_step(fields, haze_per_m)


def largest_step(fields: Sequence[tuple[FloatArray, FloatArray]], haze_per_m: float) -> float:
    """Return the `contrast_step` of stripes whose contrast and its error are given by depth."""
    steps = [0.0]
    for contrast, std in fields:
        shown = np.cumprod(contrast > np.maximum(SHOWN_CONTRAST, SHOWN_STD * std)).astype(bool)
        logs, noise = np.log(contrast[shown]), std[shown] / contrast[shown]
        rest = np.maximum(contrast + STEP_STDS * std, SHOWN_CONTRAST)[~shown]
        steps.append(_end_step(logs, noise, np.log(rest)))
        if len(logs) < 3 * STEP_BINS:
            continue
        slope = np.median(np.diff(logs))
        found = np.abs(_steps(logs - slope * np.arange(len(logs))))
        steps.append(float((found - STEP_STDS * _steps_std(noise)).max()))
    return max(max(steps) - _by_haze(BEND_PER_HAZE, MOST_BENDING_PER_M, haze_per_m), 0.0)


def _by_haze(per_haze: float, most_per_m: float, haze_per_m: float) -> float:
    """Return what grows with the haze up to some of it; 0 where that is not known."""
    return per_haze * min(haze_per_m, most_per_m) if haze_per_m > 0 else 0.0


def _end_step(logs: FloatArray, noise: FloatArray, rest: FloatArray) -> float:
    """Return how far the contrast drops at the end of the bins in which it shows, in logarithms.

    That is, how far the contrast just below is under the continued decline of the bins above; 0
    where too few bins show. Murk makes no such drop: in it contrast fades until it is lost.

    Parameters
    ----------
    logs, noise : ndarray, shape (n,)
        Logarithm of the contrast in the bins in which it shows, and its standard error.
    rest : ndarray, shape (m,)
        Logarithm of the most contrast that the bins below may have; the first of them may be half
        covered and is not used.
    """
    below = rest[1 : 1 + STEP_BINS]
    if len(logs) < FEWEST_BINS or not len(below):
        return 0.0
    steady = min(float(logs[-1] - logs[0]) / (len(logs) - 1), 0.0)
    expected = logs[-1] + steady * np.arange(2, 2 + len(below))
    return float((expected - below).max() - STEP_STDS * noise[-1])


def fields_step(sampled: Sampled, haze_per_m: float) -> float:
    """Return the largest step of the logarithm of fine over coarse contrast over 10 mm.

    Less what haze makes. Water and the edge of a shadow change both fields alike, except that the
    fine one fades steadily faster. A step is made by something that covers one field, by waves, or
    by a camera that smooths faint detail away as noise.
    """
    keep, bright = sampled.inside, sampled.brightness()
    pairs = (
        (sampled.fine.contrast[keep], sampled.coarse.contrast[keep]),
        (bright.fine, bright.coarse),
    )
    usual = _by_haze(PARTING_PER_HAZE, MOST_PARTING_PER_M, haze_per_m)
    return max(max(_ratio_step(fine, coarse) for fine, coarse in pairs) - usual, 0.0)


def _ratio_step(fine: FloatArray, coarse: FloatArray) -> float:
    shown = np.cumprod(np.maximum(fine, coarse) > COMPARED_CONTRAST).astype(bool)
    least = SHOWN_CONTRAST
    logs = np.log(np.maximum(fine[shown], least) / np.maximum(coarse[shown], least))
    if len(logs) <= 2 * STEP_BINS:
        return 0.0
    steady = min(float(np.median(np.diff(logs))), 0.0)
    return float(np.abs(_steps(logs) - STEP_BINS * steady).max())


def faint_fading(sampled: Sampled, haze_per_m: float) -> float:
    """Return the rate at which faint narrow stripes fade over that of strong ones; 1 when clear.

    By brightness, less one standard error. In murk both rates are nearly the same; a camera that
    smooths faint detail away as noise makes stripes fade the faster the fainter they are.
    """
    seen = sampled.brightness()
    shown = np.cumprod(seen.fine > np.maximum(LEAST_SHARE, FADING_STD * seen.fine_std)) > 0
    half = int(shown.sum()) // 2
    if not haze_per_m >= LEAST_FADING_PER_M or half < FEWEST_BINS:
        return 1.0
    path, logs = seen.path_m[shown], np.log(seen.fine[shown])
    noise = seen.fine_std[shown] / seen.fine[shown]
    parts = slice(half), slice(half, None)
    (strong, strong_std), (faint, faint_std) = (
        _fade(path[part], logs[part], noise[part]) for part in parts
    )
    strong = max(strong, LEAST_FADE_PER_M)
    return (faint - float(np.hypot(faint_std, strong_std * faint / strong))) / strong


def _fade(path_m: FloatArray, logs: FloatArray, noise: FloatArray) -> tuple[float, float]:
    """Return how fast logarithms fall along a path, by least squares, and its error [1/m]."""
    away = path_m - path_m.mean()
    weights = away / (away @ away)
    return -float(weights @ logs), float(np.linalg.norm(weights * noise))


def _steps(values: FloatArray) -> FloatArray:
    """Return by how much the mean of four bins differs from that of the four above."""
    means = np.convolve(values, np.full(STEP_BINS, 1 / STEP_BINS), mode="valid")
    return np.asarray(means[STEP_BINS:] - means[:-STEP_BINS])


def _steps_std(noise: FloatArray) -> FloatArray:
    """Return the standard errors of `_steps` by those of the values."""
    squares = np.convolve(noise**2, np.full(STEP_BINS, STEP_BINS**-2), mode="valid")
    return np.asarray(np.sqrt(squares[STEP_BINS:] + squares[:-STEP_BINS]))


def first_contrast(sampled: Sampled) -> float:
    """Return contrast over white of the 8 mm stripes at the surface, by the decay; 1 when clean."""
    field, keep = sampled.coarse, sampled.inside
    share = field.contrast[keep] / np.maximum(field.white[keep], 1e-3) / (1 - INK_SHARE)
    shown = field.contrast[keep] > LEAST_SHARE
    upper = (sampled.sight.depth_mm[keep] < 40.0) & shown
    if upper.sum() < 3:
        return float(share[:2].mean())
    path = sampled.sight.path_mm[keep][upper] / 1000
    fit = fit_decay(path, share[upper][np.newaxis], field.std[keep][upper] + 1e-3, 0.0)
    return float(fit.start[0])


def decay_misfit(sampled: Sampled) -> float:
    """Return how far the logarithm of the relative contrast strays from a smooth curve."""
    field, keep = sampled.coarse, sampled.inside
    contrast, white = field.contrast[keep], np.maximum(field.white[keep], 1e-3)
    shown = np.cumprod(contrast > np.maximum(LEAST_SHARE, 5 * field.std[keep])).astype(bool)
    if shown.sum() < 6:
        return 0.0
    path = sampled.sight.path_mm[keep][shown]
    logs = np.log(contrast[shown] / white[shown])
    curve = np.polynomial.Polynomial.fit(path, logs, 2)
    return float(np.sqrt(np.mean((logs - curve(path)) ** 2)))
