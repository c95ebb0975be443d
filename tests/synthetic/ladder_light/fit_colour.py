"""Derives calibration/ladder_colour.csv from photos of path-traced tubs of baths' own waters.

Run as ``python -m tests.synthetic.ladder_light.fit_colour`` (ten minutes of one core); it writes
the table anew, and prints how well haze is then told by the width of a stripe, and how far the
contrast of sound ladders steps: limits of `measure/ladder/limits.py` rest on these. None of the
tubs by which readings are judged is among them.
"""

from __future__ import annotations

import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import minimize

from greasecheck.measure.ladder.find import find_ladders, place_camera
from greasecheck.measure.ladder.light import open_picture
from greasecheck.measure.ladder.limits import STEP, STRIPE_SIZE
from greasecheck.measure.ladder.look import haze_in
from greasecheck.measure.ladder.profile import sample_ladder
from greasecheck.measure.ladder.signs import all_signs
from greasecheck.measure.ladder.slopes import fit_loss
from greasecheck.measure.ladder.waterline import find_waterline
from greasecheck.measure.photo.load import load_photo
from greasecheck.measure.sheet.markers import grey_of
from greasecheck.measure.sight.view import MAIN_CHANNEL
from greasecheck.measure.workers import begin_worker
from greasecheck.reference.folder import data_folder
from greasecheck.reference.ladder.colour import (
    COLOURS,
    TABLE,
    USUAL_STRIPE_PX,
    colour_law,
)
from greasecheck.reference.ladder.plate import dip_ladder
from tests.synthetic.ladder_light.colour_photos import ColourPhoto, colour_photos
from tests.synthetic.ladder_light.fit_slopes import profile_of
from tests.synthetic.ladder_light.photos import write_photo
from tests.synthetic.ladder_light.scenes import scene_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.measure.ladder.profile import Sampled
    from greasecheck.measure.ladder.refraction import Eye
    from greasecheck.model import Check, FloatArray

FOLDER = Path(__file__).parent
AT = datetime(2026, 3, 4, 18, 5, tzinfo=UTC)
# What the limits in question say is not asked of photos that constants are derived from.
IN_QUESTION = (STRIPE_SIZE.name, STEP.name)
HAZE_PER_M = (1.0, 120.0)
WIDTHS_PX = (2.6, 3.0, 3.4, 4.0, 5.0, 7.0, 9.0, 12.0)
LEAST_JUDGED_PER_M = 3.0
HEADER = """\
# title: Decay of contrast of 3 mm over that of 8 mm in a colour, told by brightness
# source: tests/synthetic/ladder_light/fit_colour.py, from photos of path-traced tubs
# author: the greasecheck founders
# year: 2026
# doi: none
# licence: as the package
# units: logarithms are natural; widths of a stripe of 3 mm in px
"""


@dataclass(frozen=True, slots=True)
class Seen:
    """A photo as read: what was sampled of its ladder, and all checks."""

    planned: ColourPhoto
    sampled: Sampled
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
    grey = np.ascontiguousarray(grey_of(photo))
    whole = [one for one in find_ladders(photo, grey) if one.is_whole]
    if not whole:
        return None
    (eye,) = place_camera(whole, (grey.shape[1], grey.shape[0]), None)
    picture, greys = open_picture(photo, eye, outline_of(eye))
    waterline = find_waterline(picture, eye)
    if waterline is None:
        return None
    sampled = sample_ladder(picture, eye, waterline.surface)
    haze = planned.photo.hazes_per_m[0]
    return Seen(planned, sampled, all_signs(picture, greys, eye, waterline, sampled, haze))


def outline_of(eye: Eye) -> FloatArray:
    """Return the corners of the plate as seen were there no water, shape (4, 2) [px]."""
    plate = dip_ladder()
    corners = [(x, y, 0.0) for x in (0, plate.width_mm) for y in (0, plate.height_mm)]
    return eye.project(np.array(corners))


def losses_of(seen: Sequence[Seen]) -> FloatArray:
    """Return the losses in each colour of sound, wide enough ladders, shape (colours seen, 5).

    In each row: the colour, the width of a stripe [px], and the loss in brightness, by the colour's
    own contrast, and in truth.
    """
    traced = np.load(FOLDER / "colour.npz")
    light, error = traced["light"].astype(float), traced["error"].astype(float)
    found = []
    wide = (one for one in seen if one.sampled.stripe_px >= STRIPE_SIZE.doubtful)
    for one in (one for one in wide if one.sound):
        tub, shot = one.planned.tub, one.planned.photo.plan.ladders[0]
        bright = fit_loss(one.sampled.brightness())[0]
        for channel, haze in enumerate(shot.water.attenuation_per_m):
            scene = scene_of(shot.tub, shot.water, channel)
            own = fit_loss(one.sampled.colour(channel))[0]
            truth = fit_loss(profile_of(scene, light[tub, channel], error[tub, channel]))[0]
            row = (channel, one.sampled.stripe_px, bright, own, truth)
            if HAZE_PER_M[0] <= haze <= HAZE_PER_M[1] and np.isfinite(row).all():
                found.append(row)
    return np.array(found)


def told_law(bright: FloatArray, truth: FloatArray) -> tuple[float, float]:
    """Return the factor from the loss in brightness to that in a colour, and its error."""
    factor = float(bright @ truth / (bright @ bright))
    return factor, float(np.std(factor * bright - truth))


def own_law(stripe_px: FloatArray, errors: FloatArray) -> FloatArray:
    """Return the error of the loss by a colour's own contrast at the usual width, and its power.

    Those under which the errors are likeliest, if normal.
    """

    def unlikely(logs: FloatArray) -> float:
        std, power = np.exp(logs)
        stds = std * (USUAL_STRIPE_PX / stripe_px) ** power
        return float(np.sum(2 * np.log(stds) + (errors / stds) ** 2))

    best: FloatArray = np.exp(minimize(unlikely, np.log([0.1, 1.5]), method="Nelder-Mead").x)
    return best


def derive() -> list[str]:
    """Fit everything to what `losses_of` found; return the lines of the table."""
    rows = np.load(FOLDER / "losses.npy").astype(float)
    colours = [rows[rows[:, 0] == channel].T for channel in range(len(COLOURS))]
    told = [told_law(bright, truth) for _, _, bright, _, truth in colours]
    _, stripe_px, _, own, truth = colours[MAIN_CHANNEL]
    values = {
        **{colour: law[0] for colour, law in zip(COLOURS, told, strict=True)},
        "bright_std": told[MAIN_CHANNEL][1],
        **dict(zip(("own_std", "own_power"), own_law(stripe_px, own - truth), strict=True)),
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
    found = haze_in(sampled, MAIN_CHANNEL)
    if found.bound is not None or truth < LEAST_JUDGED_PER_M:
        return np.nan, np.nan
    return found.haze_per_m / truth - 1, (found.haze_per_m - truth) / found.std_per_m


def print_steps(seen: Sequence[Seen]) -> None:
    """Print how far the contrast of sound photos steps."""
    checks = [one for photo in seen if photo.sound for one in photo.checks]
    steps = np.array([one.value for one in checks if one.name == STEP.name], dtype=float)
    for share in (50, 80, 90, 95, 98):
        most = np.percentile(steps, share)
        print(f"{STEP.name} of {share} in 100 sound photos at most {most:.3f}")


def main() -> None:
    """Render and read all photos on all cores, write the table, print what follows from it."""
    photos = colour_photos()
    with ProcessPoolExecutor(mp_context=get_context("spawn"), initializer=begin_worker) as pool:
        seen = list(pool.map(seen_in, photos))
    found = [one for one in seen if one is not None]
    np.save(FOLDER / "losses.npy", losses_of(found).astype(np.float32))
    table = data_folder("calibration") / TABLE
    table.write_text(HEADER + "\n".join(derive()) + "\n", encoding="utf-8")
    colour_law.cache_clear()
    print_widths(photos, seen)
    print_steps(found)


if __name__ == "__main__":
    main()
