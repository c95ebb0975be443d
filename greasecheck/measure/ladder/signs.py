"""Signs of what spoils a ladder's picture, each judged by its limit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.measure.ladder import limits
from greasecheck.measure.ladder.haze import MOST_START_SHARE
from greasecheck.measure.ladder.refraction import look
from greasecheck.measure.ladder.slopes import FEWEST_BINS, LEAST_SHARE, fit_decay
from greasecheck.measure.ladder.waterline import LEAST_END_SHARE, LEAST_STEP, marks
from greasecheck.model import Bound
from greasecheck.reference.ladder.plate import dip_ladder
from greasecheck.reference.srgb import srgb_of_linear

if TYPE_CHECKING:
    from greasecheck.measure.ladder.haze import HazeEstimate
    from greasecheck.measure.ladder.light import Greys, Picture
    from greasecheck.measure.ladder.profile import Field, Sampled
    from greasecheck.measure.ladder.refraction import Eye
    from greasecheck.measure.ladder.waterline import Waterline
    from greasecheck.model import Box, Check, FloatArray

CLIPPED = 0.985  # of full scale by the profile
UPPER_BINS = 16  # the upper 40 mm, in which foam and bones are distinguished from murk
OUTLYING = 0.06  # of dry white: stripes that differ by more from their neighbours' line
OUTLYING_SHARE = 0.25  # or of the contrast in their bin
STRIPE_SAMPLES = 9
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
LEAST_BLACK = 1e-4  # full scale = 1; keeps the logarithm finite where all is black
# By how many codes of 255 white and black differ where their colours are compared, and how much
# colour there is at least that could be lost.
SHOWN_CODES, LEAST_COLOUR_CODES = 20.0, 5.0
COLOUR_STRIPE_PX = 5.0  # JPEG at half the size of colour keeps three quarters of it in these
# Where the black above the stripes goes into the water its light changes by more than three codes
# of an 8-bit photo, each 0.035 of it: half of it is left under the surface, or a veil begins.
BLACK_STEP = 0.1
BLACK_SAMPLE_MM, BLACK_COLUMNS = 0.25, 40
BLACK_WINDOW = 8  # samples above a step and below it
BLACK_REACH_MM = 8.0  # beyond where water is read, and below the black's end
BLUR_PX = 2.0  # between what is compared
HALO_PX = 8.0  # about dry white: a block of JPEG spreads an edge so far, and so does sharpening
MOST_WET_SHARE = 0.8  # of the contrast of dry stripes: more may leave less than such a step
INK_SHARE = 0.053  # light of the printed black over that of white: 0.045 / 0.85


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
    )


def aside_deg(eye: Eye) -> float:
    """Return how far to the side of the plate's middle the camera stands [degrees]."""
    across = abs(eye.place_mm[0] - dip_ladder().width_mm / 2)
    return float(np.degrees(np.arctan2(across, abs(eye.place_mm[2]))))


def dry_contrasts(picture: Picture, eye: Eye) -> tuple[float, float]:
    """Return white less black over white of the dry twins of 3 and of 8 mm; 1 for sound ones."""
    stripes = dip_ladder().stripes
    pairs = (
        (stripes.dry_fine, stripes.fine_bar_mm),
        (stripes.dry_coarse, stripes.coarse_bar_mm),
    )
    fine, coarse = (_dry_contrast(picture, eye, box, bar) for box, bar in pairs)
    return fine, coarse


def _dry_contrast(picture: Picture, eye: Eye, box: Box, bar_mm: float) -> float:
    count = round(box.width_mm / bar_mm)
    x = box.x_mm + (np.arange(count) + 0.5) * bar_mm
    y = np.linspace(box.y_mm + 3.0, box.y_mm + box.height_mm - 3.0, STRIPE_SAMPLES)
    grid_x, grid_y = np.meshgrid(x, y)
    points = np.column_stack([grid_x.ravel(), grid_y.ravel(), np.zeros(grid_x.size)])
    light = np.median(picture.at(eye.project(points))[:, 1].reshape(grid_x.shape), axis=0)
    white, black = float(np.median(light[0::2])), float(np.median(light[1::2]))
    return (white - black) / max(white, 1e-6) / (1 - INK_SHARE)


def clipped_share(picture: Picture, sampled: Sampled) -> float:
    """Return the share of the pixels around the upper stripes at the top of the scale."""
    pixels = sampled.sight.pixels[sampled.inside] - picture.corner_px
    if not len(pixels):
        return 1.0
    low, high = pixels.min(axis=0).astype(int), pixels.max(axis=0).astype(int) + 1
    wide = max(int(high[1] - low[1]), 20)
    columns = slice(max(low[0] - wide // 2, 0), high[0] + wide // 2)
    part = picture.linear[low[1] : high[1], columns]
    return float((part.max(axis=2) > CLIPPED).mean()) if part.size else 1.0


def colour_detail(picture: Picture, sampled: Sampled) -> float:
    """Return how far white and black stripes differ in colour, over all colour in the picture.

    A camera that smears colours, as against noise in dim light, gives white and black stripes the
    same colour, so that their contrast in R, G and B becomes that of brightness. Taken from the
    narrowest stripes in which JPEG keeps colours; 1 where the picture has hardly any colour.
    """
    codes = _stripe_codes(picture, sampled)
    light = codes[:, 0, :, 1] - codes[:, 1, :, 1]
    shown = light.min(axis=0) > SHOWN_CODES
    if shown.sum() < STEP_BINS:
        return 1.0
    codes, light = codes[:, :, shown], light[:, shown]
    colours = codes[..., [0, 2]] - codes[..., [1]]
    wide, narrow = colours[:, 0] - colours[:, 1]
    whole = float(np.hypot(_rms(wide), _rms(colours[0].mean(axis=0))))
    if whole < LEAST_COLOUR_CODES:
        return 1.0
    if sampled.stripe_px < COLOUR_STRIPE_PX:
        return _rms(wide) / whole
    return _rms(narrow * (light[0] / light[1])[:, None]) / whole


def _stripe_codes(picture: Picture, sampled: Sampled) -> FloatArray:
    """Return codes of 255 of stripes of 8 and 3 mm, white and black, shape (2, 2, bins, 3)."""
    fields = (sampled.coarse, sampled.fine)
    light = np.array([(field.tint, field.tint - field.contrasts) for field in fields])
    return 255 * srgb_of_linear(np.clip(light[:, :, sampled.inside] * picture.white, 0, 1))


def _rms(values: FloatArray) -> float:
    return float(np.sqrt(np.mean(values**2)))


def grey_misfit(picture: Picture, greys: Greys) -> float:
    """Return how far greys lie from what they should, the worst but one, in logarithms."""
    light = np.maximum(picture.tone(greys.values[:, 1]), 1e-6)
    top = greys.reflectances == greys.reflectances.max()
    grey = greys.reflectances > greys.reflectances.min()
    misses = [
        np.log(light[side & grey] / light[side & top].mean())
        - np.log(greys.reflectances[side & grey] / greys.reflectances.max())
        for side in (greys.left, ~greys.left)
    ]
    return float(np.sort(np.abs(np.concatenate(misses)))[-2])


def wing_ratio(greys: Greys) -> float:
    """Return how much brighter the white of one wing is than that of the other."""
    top = greys.reflectances == greys.reflectances.max()
    left, right = (greys.values[top & side, 1].mean() for side in (greys.left, ~greys.left))
    return float(max(left, right) / max(min(left, right), 1e-6))


def surface_miss_mm(picture: Picture, eye: Eye, waterline: Waterline) -> float:
    """Return how far from the level the black above the stripes seems to meet the water [mm].

    The level comes from the marks below the black: refraction raises them. In a torn picture, whose
    rows are moved or lost between the black and the marks, the black's light does not change at
    that level, or it changes above it and stays so. Only where the ends of the stripes show less
    contrast than `MOST_WET_SHARE` of dry ones must it change at all: a tub may light wet black as
    brightly as dry black. Ends with less than `LEAST_END_SHARE` lie under water: then the level
    must be above them. Green alone is used, since JPEG smears colours.
    """
    ends, highest = dip_ladder().stripes.fine.y_mm, dip_ladder().waterline_range_mm[0]
    y = np.arange(highest - BLACK_REACH_MM, ends + BLACK_REACH_MM, BLACK_SAMPLE_MM)
    logs, px_per_sample = _black_logs(picture, eye, y)
    level = round((min(waterline.surface.level_mm, ends) - y[0]) / BLACK_SAMPLE_MM)
    wet = waterline.end_step < LEAST_END_SHARE
    blur, halo = (round(px / px_per_sample) for px in (BLUR_PX, HALO_PX))
    off, early = _samples_apart(logs, level, blur, blur if wet else halo)
    changes = waterline.end_step < MOST_WET_SHARE
    apart_mm = BLACK_SAMPLE_MM * (max(off, early) if changes else early)
    return max(apart_mm, waterline.surface.level_mm - ends) if wet else apart_mm


def _black_logs(picture: Picture, eye: Eye, y_mm: FloatArray) -> tuple[FloatArray, float]:
    """Return the logarithm of the light down the black, and how many pixels a sample takes."""
    stripes, columns = dip_ladder().stripes, dip_ladder().rungs.columns
    x = np.linspace(stripes.fine.x_mm, columns[1].x_mm, BLACK_COLUMNS)
    across, down = (axis.ravel() for axis in np.meshgrid(x, y_mm))
    pixels = eye.project(np.column_stack([across, down, np.zeros(across.size)]))
    light = np.median(picture.at(pixels)[:, 1].reshape(len(y_mm), len(x)), axis=1)
    length_px = float(np.linalg.norm(pixels[-1] - pixels[len(x) - 1]))
    return np.log(np.maximum(light, LEAST_BLACK)), max(length_px / (len(y_mm) - 1), 0.1)


def _samples_apart(logs: FloatArray, level: int, blur: int, beside: int) -> tuple[float, float]:
    """Return how far a level is from the nearest change of light, and below a lasting one.

    Both in samples, the second 0 without a lasting change above the level. Means of `BLACK_WINDOW`
    samples are compared, `blur` samples apart. A change lasts when it is still there `beside`
    samples above the level.
    """
    sums = np.cumsum(np.append(0.0, logs))
    means = (sums[BLACK_WINDOW:] - sums[:-BLACK_WINDOW]) / BLACK_WINDOW
    apart = BLACK_WINDOW + blur
    changed = np.abs(means[apart:] - means[:-apart]) > BLACK_STEP
    if not changed.any():
        return float(len(logs)), 0.0
    away = np.flatnonzero(changed) + (BLACK_WINDOW + apart) / 2 - level
    above = means[: max(level - BLACK_WINDOW - beside, 1)]
    first = above[min(int(np.argmax(changed)), len(above) - 1)]
    stays = abs(above[-1] - first) > BLACK_STEP  # a ring of fat on the plate does not
    early = -away[0] - apart + blur / 2 if stays else 0.0
    return float(np.abs(away).min()), max(float(early), 0.0)


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
    usual = _by_haze(BEND_PER_HAZE, MOST_BENDING_PER_M, haze_per_m)
    steps = [0.0]
    for field in (sampled.fine, sampled.coarse):
        contrast, std = field.contrast[sampled.inside], field.std[sampled.inside]
        shown = np.cumprod(contrast > np.maximum(SHOWN_CONTRAST, SHOWN_STD * std)).astype(bool)
        logs, noise = np.log(contrast[shown]), std[shown] / contrast[shown]
        rest = np.maximum(contrast + STEP_STDS * std, SHOWN_CONTRAST)[~shown]
        steps.append(_end_step(logs, noise, np.log(rest)))
        if len(logs) < 3 * STEP_BINS:
            continue
        slope = np.median(np.diff(logs))
        found = np.abs(_steps(logs - slope * np.arange(len(logs))))
        steps.append(float((found - STEP_STDS * _steps_std(noise)).max()))
    return max(max(steps) - usual, 0.0)


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


def lost_step(eye: Eye, waterline: Waterline, least_per_m: float) -> float:
    """Return by how much the stripes' upper ends exceed what murk lets through, in logarithms.

    Asked where no stripes show just below their ends, so that the haze is said to be at least
    `least_per_m`. Such haze would hide the ends, too. Ends that do show have something other than
    water below them, such as a cover with an edge.
    """
    ends = look(eye, waterline.surface, marks().places_mm[marks().ends])
    path_m = float(ends.path_mm.mean()) / 1000
    if path_m == 0.0:  # they are dry
        return 0.0
    seen = max(waterline.end_step, LEAST_STEP) / MOST_START_SHARE
    return max(float(np.log(seen)) + least_per_m * path_m, 0.0)


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
    noise = (seen.fine_std / seen.fine)[shown]
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


def veil_share(greys: Greys) -> float:
    """Return the light of dry black over dry white before the tone curve, print taken off."""
    green = greys.values[:, 1]
    black = np.median(green[greys.reflectances == greys.reflectances.min()])
    white = np.median(green[greys.reflectances == greys.reflectances.max()])
    return float(black / white - INK_SHARE)


def black_shift(greys: Greys) -> float:
    """Return how much lighter wide black is than black between white, in logarithms.

    Cameras that map tones by their surroundings lift what lies in wide black.
    """
    wide = float(np.median(greys.values[greys.wide, 1]))
    return float(np.log(max(wide, LEAST_BLACK) / max(greys.narrow_black, LEAST_BLACK)))


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
