"""Derives calibration/ladder_colour.csv from photos of path-traced tubs of baths' own waters.

Run as ``python -m tests.synthetic.ladder_light.fit_colour`` (half an hour of one core); it writes
the table anew, and prints how well haze is then told by the width of a stripe, how far the contrast
of sound ladders steps, and how well depths are known: limits of `measure/ladder/limits.py` and an
error in `haze.py` rest on these. None of the tubs by which readings are judged is among them.
"""

from __future__ import annotations

import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import pairwise
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import minimize, minimize_scalar

from greasecheck.measure.ladder.find import find_ladders, place_camera
from greasecheck.measure.ladder.haze import (
    DEPTH_STD_M,
    DRAWS,
    Colours,
    fit_drawn,
    with_brightness,
)
from greasecheck.measure.ladder.light import open_picture
from greasecheck.measure.ladder.limits import EDGES, FADING, FIELDS, STEP, STRIPE_SIZE
from greasecheck.measure.ladder.look import BRIGHT_SEED, hazes_in
from greasecheck.measure.ladder.profile import SHARP_EDGE_PX, sample_ladder
from greasecheck.measure.ladder.signs.checks import all_signs
from greasecheck.measure.ladder.signs.stripes import (
    MOST_PARTING_PER_M,
    PARTING_PER_HAZE,
    faint_fading,
    fields_step,
)
from greasecheck.measure.ladder.slopes import fit_loss, fit_slopes
from greasecheck.measure.ladder.waterline import find_waterline
from greasecheck.measure.photo.load import load_photo
from greasecheck.measure.sheet.markers import grey_copy_of
from greasecheck.measure.sight.view import MAIN_CHANNEL
from greasecheck.measure.workers import begin_worker
from greasecheck.reference.folder import data_folder
from greasecheck.reference.ladder.colour import (
    BLURS,
    COLOURS,
    TABLE,
    USUAL_STRIPE_PX,
    colour_law,
)
from greasecheck.reference.ladder.plate import dip_ladder
from tests.synthetic.ladder_light.colour_photos import ColourPhoto, clear_photos, colour_photos
from tests.synthetic.ladder_light.fit_slopes import CLEAR_PER_M
from tests.synthetic.ladder_light.photos import write_photo
from tests.synthetic.ladder_light.scenes import photo_profile, scene_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.ladder.profile import Sampled
    from greasecheck.measure.ladder.refraction import Eye
    from greasecheck.model import Check, FloatArray

FOLDER = Path(__file__).parent
LIGHT_STDS = ("light_std", "own_light_std")  # names of the table, in the order of `light_law`
AT = datetime(2026, 3, 4, 18, 5, tzinfo=UTC)
# What the limits in question say is not asked of photos that constants are derived from.
IN_QUESTION = (STRIPE_SIZE.name, STEP.name, FIELDS.name, FADING.name, EDGES.name)
HAZE_PER_M = (1.0, 120.0)
WIDTHS_PX = (2.6, 3.0, 3.4, 4.0, 5.0, 7.0, 9.0, 12.0)
LEAST_JUDGED_PER_M = 3.0
SHARES = (50, 90, 99)
PARTING_HAZES_PER_M = (0.0, 2.0, 5.0, 10.0, 20.0, 40.0, 140.0)
MOST_BLUR_PER_M = 2.0  # beyond it murk takes more of the narrow stripes' contrast than blur
HEADER = """\
# title: Decay of contrast of 3 mm over that of 8 mm in a colour, told by brightness
# source: tests/synthetic/ladder_light/fit_colour.py, from photos of path-traced tubs
# author: the greasecheck founders
# year: 2026
# doi: none
# licence: as the package
# units: logarithms are natural; widths of a stripe of 3 mm in px; decays of light in 1/m
"""


@dataclass(frozen=True, slots=True)
class Seen:
    """A photo as read: what was sampled of its ladder for its haze and for signs, all checks."""

    planned: ColourPhoto
    sampled: Sampled
    ends: Sampled
    checks: tuple[Check, ...]

    @property
    def sound(self) -> bool:
        """Return whether nothing but what is in question speaks against the photo."""
        return all(one.passed or one.name in IN_QUESTION for one in self.checks)


def seen_in(planned: ColourPhoto) -> Seen | None:
    """Render and read a photo; None where its ladder or its waterline is not found."""
    with tempfile.TemporaryDirectory() as name:
        path = write_photo(Path(name) / "one.jpg", planned.photo, planned.shooting, at=AT)
        photo = load_photo(path)
    grey = grey_copy_of(photo)
    whole = [one for one in find_ladders(photo, grey) if one.is_whole]
    if not whole:
        return None
    (eye,) = place_camera(whole, (grey.shape[1], grey.shape[0]), None)
    picture, greys = open_picture(photo, eye, outline_of(eye))
    waterline = find_waterline(picture, eye)
    if waterline is None:
        return None
    surface = waterline.surface
    sampled = sample_ladder(picture, eye, surface, SHARP_EDGE_PX)
    ends = sample_ladder(picture, eye, surface)
    true_per_m = planned.photo.hazes_per_m[0]
    haze = replace(hazes_in(sampled)[MAIN_CHANNEL], haze_per_m=true_per_m, bound=None)
    return Seen(planned, sampled, ends, all_signs(picture, greys, eye, waterline, ends, haze))


def outline_of(eye: Eye) -> FloatArray:
    """Return the corners of the plate as seen were there no water, shape (4, 2) [px]."""
    plate = dip_ladder()
    corners = [(x, y, 0.0) for x in (0, plate.width_mm) for y in (0, plate.height_mm)]
    return eye.project(np.array(corners))


def sound_ones(seen: Sequence[Seen]) -> list[Seen]:
    """Return the photos that constants are derived from."""
    wide = [one for one in seen if one.sampled.stripe_px >= STRIPE_SIZE.doubtful]
    return [one for one in wide if one.sound]


def losses_of(seen: Sequence[Seen]) -> FloatArray:
    """Return the losses in each colour of sound, wide enough ladders, shape (colours seen, 7).

    In each row: the colour, the width of a stripe [px], the loss in truth, and those in brightness
    and by the colour's own contrast, each with the standard error of its noise.
    """
    traced = np.load(FOLDER / "colour.npz")
    light, error = traced["light"].astype(float), traced["error"].astype(float)
    found = []
    for one in sound_ones(seen):
        tub, shot = one.planned.tub, one.planned.photo.plan.ladders[0]
        bright = _with_noise(fit_loss(one.sampled.brightness(), DRAWS))
        for channel, haze in enumerate(shot.water.attenuation_per_m):
            scene = scene_of(shot.tub, shot.water, channel)
            own = _with_noise(fit_loss(one.sampled.colour(channel), DRAWS))
            truth = fit_loss(
                photo_profile(scene, light[tub, channel], error[tub, channel], shot.level_mm)
            )[0]
            row = (channel, one.sampled.stripe_px, truth, *bright, *own)
            if HAZE_PER_M[0] <= haze <= HAZE_PER_M[1] and np.isfinite(row).all():
                found.append(row)
    return np.array(found)


def _with_noise(drawn: FloatArray) -> tuple[float, float]:
    return float(drawn[0]), float(np.std(drawn[1:]))


def whites_of(seen: Sequence[Seen]) -> FloatArray:
    """Return decays of white in clear water, seen and in truth, shape (photos, 3, 2) [1/m].

    Of the colours of sound, wide enough ladders; NaN where the water is not clear.
    """
    traced = np.load(FOLDER / "colour.npz")
    light, error = traced["light"].astype(float), traced["error"].astype(float)
    found = []
    for one in sound_ones(seen):
        tub, shot = one.planned.tub, one.planned.photo.plan.ladders[0]
        row = np.full((len(COLOURS), 2), np.nan)
        for channel, haze in enumerate(shot.water.attenuation_per_m):
            if haze <= CLEAR_PER_M[1]:
                scene = scene_of(shot.tub, shot.water, channel)
                truth = photo_profile(
                    scene, light[tub, channel], error[tub, channel], shot.level_mm
                )
                both = (fit_slopes(of) for of in (one.sampled.colour(channel), truth))
                row[channel] = [fit.white_per_m[0] for fit in both]
        found.append(row)
    return np.array(found)


def blurs_of(seen: Sequence[Seen]) -> FloatArray:
    """Return errors of what 3 mm decay faster than 8 mm, in sound photos of clear.npz's tubs.

    In rows, shape (colours seen, 3): the colour, the width of a stripe [px], the error [1/m].
    """
    traced = np.load(FOLDER / "clear.npz")
    light, error = traced["light"].astype(float), traced["error"].astype(float)
    found = []
    for one in sound_ones(seen):
        tub, shot = one.planned.tub, one.planned.photo.plan.ladders[0]
        bright = fit_loss(one.sampled.brightness(), DRAWS, BRIGHT_SEED)
        for channel, haze in enumerate(shot.water.attenuation_per_m):
            if haze <= MOST_BLUR_PER_M:
                scene = scene_of(shot.tub, shot.water, channel)
                truth = fit_slopes(
                    photo_profile(scene, light[tub, channel], error[tub, channel], shot.level_mm)
                )
                drawn = fit_drawn(one.sampled.colour(channel), channel)
                told = with_brightness(drawn, _colours(channel, one.sampled.stripe_px, bright))
                errors = [fit.fine_per_m[0] - fit.coarse_per_m[0] for fit in (told, truth)]
                found.append((channel, one.sampled.stripe_px, errors[0] - errors[1]))
    return np.array([row for row in found if np.isfinite(row).all()])


def _colours(channel: int, stripe_px: float, bright_loss: FloatArray) -> Colours:
    unknown = np.full((len(bright_loss), 3), np.nan)
    return Colours(channel=channel, stripe_px=stripe_px, bright_loss=bright_loss, signs=unknown)


def blur_law(stripe_px: FloatArray, errors: FloatArray) -> float:
    """Return the mean error where a stripe is of the usual width [1/m]."""
    return float(np.mean(errors * (stripe_px / USUAL_STRIPE_PX) ** 2))


def light_law(seen: FloatArray, truth: FloatArray) -> tuple[float, float]:
    """Return errors of decays of white by the light: common to all colours, and of each [1/m].

    By their squares, and by their products in two colours of one photo; shapes (photos, 3).
    """
    errors = seen - truth
    pairs = [errors[:, one] * errors[:, other] for one, other in ((0, 1), (0, 2), (1, 2))]
    common = float(np.nanmean(pairs))
    return float(np.sqrt(common)), float(np.sqrt(np.nanmean(errors**2) - common))


def told_law(bright: FloatArray, noise: FloatArray, truth: FloatArray) -> tuple[float, float]:
    """Return the factor from the loss in brightness to that in a colour, and its error.

    The noise of the photos, which each reading states for itself, is not in that error.
    """
    factor = float(bright @ truth / (bright @ bright - noise @ noise))
    excess = np.mean((factor * bright - truth) ** 2 - (factor * noise) ** 2)
    return factor, float(np.sqrt(excess))


def own_law(stripe_px: FloatArray, errors: FloatArray, noise: FloatArray) -> FloatArray:
    """Return the error of the loss by a colour's own contrast at the usual width, and its power.

    Those under which the errors are likeliest, if normal, beside the noise of each photo.
    """

    def unlikely(logs: FloatArray) -> float:
        std, power = np.exp(logs)
        variances = (std * (USUAL_STRIPE_PX / stripe_px) ** power) ** 2 + noise**2
        return float(np.sum(np.log(variances) + errors**2 / variances))

    best: FloatArray = np.exp(minimize(unlikely, np.log([0.1, 1.5]), method="Nelder-Mead").x)
    return best


def derive() -> list[str]:
    """Fit everything to what was found in the photos; return the lines of the table."""
    rows = np.load(FOLDER / "losses.npy").astype(float)
    whites = np.load(FOLDER / "whites.npy").astype(float)
    blurs = np.load(FOLDER / "blurs.npy").astype(float)
    colours = [rows[rows[:, 0] == channel].T for channel in range(len(COLOURS))]
    told = [told_law(bright, noise, truth) for _, _, truth, bright, noise, *_ in colours]
    _, stripe_px, truth, _, _, own, noise = colours[MAIN_CHANNEL]
    values = {
        **{colour: law[0] for colour, law in zip(COLOURS, told, strict=True)},
        "bright_std": told[MAIN_CHANNEL][1],
        **dict(zip(("own_std", "own_power"), own_law(stripe_px, own - truth, noise), strict=True)),
        **dict(zip(LIGHT_STDS, light_law(*np.moveaxis(whites, 2, 0)), strict=True)),
        **{
            blur: blur_law(*blurs[blurs[:, 0] == channel, 1:].T)
            for channel, blur in enumerate(BLURS)
        },
    }
    return ["name,value", *(f"{name},{value:.4g}" for name, value in values.items())]


def print_widths(photos: Sequence[ColourPhoto], seen: Sequence[Seen | None]) -> None:
    """Print errors of haze of sound photos from 3 per m on by the width of a stripe."""
    print("stripe [px]  photos  not found  sound: rms, over stated errors, within two of them")
    pairs = list(zip(photos, seen, strict=True))
    for low, high in pairwise(WIDTHS_PX):
        own = [one for planned, one in pairs if low <= planned.stripe_px < high]
        errors = np.array([errors_of(one) for one in own if one is not None and one.sound])
        errors = errors[np.isfinite(errors).all(axis=1)]
        print(
            f"{low:4g} to {high:<4g} {len(own):6d} {own.count(None):8d} {len(errors):6d}"
            f" {np.sqrt(np.mean(errors[:, 0] ** 2)):8.1%}"
            f" {np.sqrt(np.mean(errors[:, 1] ** 2)):6.2f} {np.mean(abs(errors[:, 1]) <= 2):5.0%}"
        )


def errors_of(seen: Seen) -> tuple[float, float]:
    """Return the error of haze, relative and over that stated; NaN for bounds and clear water."""
    sampled, truth = seen.sampled, seen.planned.photo.hazes_per_m[0]
    found = hazes_in(sampled)[MAIN_CHANNEL]
    if found.bound is not None or truth < LEAST_JUDGED_PER_M:
        return np.nan, np.nan
    return found.haze_per_m / truth - 1, (found.haze_per_m - truth) / found.std_per_m


def print_depth(seen: Sequence[Seen]) -> None:
    """Print the likeliest error of depth, in murky water of all colours of sound photos."""
    rows = []
    for one in sound_ones(seen):
        truths = one.planned.photo.plan.ladders[0].water.attenuation_per_m
        for found, truth in zip(hazes_in(one.sampled), truths, strict=True):
            if found.bound is None and found.murky:
                rows.append((truth, found.haze_per_m, found.std_per_m))
    truth, haze, std = np.transpose(rows)
    other = (std / haze) ** 2 - (DEPTH_STD_M * haze) ** 2
    errors = np.log(haze / truth)

    def unlikely(depth_std_m: float) -> float:
        variances = other + (depth_std_m * haze) ** 2
        return float(np.sum(np.log(variances) + errors**2 / variances))

    best = minimize_scalar(unlikely, bounds=(0.0, 0.01), method="bounded").x
    print(f"depth: {len(rows)} colours, likeliest error {best:.4f} m")


def print_steps(seen: Sequence[Seen]) -> None:
    """Print how far contrast steps in sound photos, and how much sharper strong edges are."""
    checks = [one for photo in seen if photo.sound for one in photo.checks]
    for name in (STEP.name, EDGES.name):
        values = np.array([one.value for one in checks if one.name == name], dtype=float)
        for share in (50, 80, 90, 95, 98):
            most = np.percentile(values, share)
            print(f"{name} of {share} in 100 sound photos at most {most:.3f}")


def print_partings(seen: Sequence[Seen]) -> None:
    """Print how far contrasts of 3 and 8 mm part in wide enough, sound photos, by the haze read.

    Then how much faster those of 3 mm fade where faint, and how many of these photos pass.
    """
    own = sound_ones(seen)
    haze = np.array([hazes_in(one.sampled)[MAIN_CHANNEL].haze_per_m for one in own])
    steps = np.array([fields_step(one.ends, 0.0) for one in own])
    fades = [faint_fading(one.ends, at) for one, at in zip(own, haze, strict=True)]
    for name, values in ((FIELDS.name, steps), (FADING.name, np.array(fades))):
        for low, high in pairwise(PARTING_HAZES_PER_M):
            some = values[(haze >= low) & (haze < high)]
            most = ", ".join(f"{np.percentile(some, share):.3f} of {share}" for share in SHARES)
            print(f"{name}, {low:g} to {high:g} per m: at most {most} in 100 of {len(some)}")
    usual = PARTING_PER_HAZE * np.minimum(haze, MOST_PARTING_PER_M)
    parted, faded = (
        np.mean(values <= limit.doubtful)
        for values, limit in ((steps - usual, FIELDS), (np.array(fades), FADING))
    )
    print(f"within their limits: {FIELDS.name} {parted:.1%}, {FADING.name} {faded:.1%}")


def main() -> None:
    """Render and read all photos on all cores, write the table, print what follows from it."""
    photos = colour_photos()
    with ProcessPoolExecutor(mp_context=get_context("spawn"), initializer=begin_worker) as pool:
        seen = list(pool.map(seen_in, photos))
        clear = [one for one in pool.map(seen_in, clear_photos()) if one is not None]
    found = [one for one in seen if one is not None]
    np.save(FOLDER / "losses.npy", losses_of(found).astype(np.float32))
    np.save(FOLDER / "whites.npy", whites_of(found).astype(np.float32))
    np.save(FOLDER / "blurs.npy", blurs_of(clear).astype(np.float32))
    table = data_folder("calibration") / TABLE
    table.write_text(HEADER + "\n".join(derive()) + "\n", encoding="utf-8")
    colour_law.cache_clear()
    print_widths(photos, seen)
    print_steps(found)
    print_partings([*found, *clear])
    print_depth(found)


if __name__ == "__main__":
    main()
