"""Renders a day of a fixed camera over three tubs of the invented season, and the truth of it.

Run it from the repository, with a C++ compiler at hand (minutes on one core):
`python -m sample_images.ladder_day`. The water is path-traced by `tests/synthetic/ladder_light`.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.reference.ladder.plate import dip_ladder
from sample_images.season_log import csv_text, header, simulate
from sample_images.season_water import FRESH_PER_M, begin, end, hour_of, local, water_level_mm
from sample_images.story import ZONE
from tests.synthetic.ladder_light.compose import Shooting
from tests.synthetic.ladder_light.make_light import traced
from tests.synthetic.ladder_light.photo_plan import LadderShot, Optics, PhotoPlan, view_of
from tests.synthetic.ladder_light.photos import PlannedPhoto, write_photo
from tests.synthetic.ladder_light.scenes import Tub, Water
from tests.synthetic.ladder_light.tub import build

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sample_images.season_log import SoakLog

FOLDER = Path(__file__).parent / "ladders"
TUBS = (11, 15, 19)
DAY, HOURS = date(2026, 5, 20), tuple(range(6, 24, 2))
LATER_DAY, LATER_HOUR = date(2026, 5, 24), 18
QUALITY = 88
WALL = (0.21, 0.24)  # reflectance of the wall behind the tubs
PATHS = 32768
CAMERA = Optics("fixed", 1920, 1080, 1.32, 0.7)
EYE_MM, LOOK_MM = (20.0, 760.0, 930.0), (0.0, -75.0, 0.0)
PITCH_MM = 290.0
LAMPS = ((0.45, 0.55, 0.70), (0.30, 0.62, 0.73), (-0.50, 0.50, 0.71), (0.05, 0.70, 0.71))
WEIGHTS = (0.88, 0.05, 0.04, 0.02, 0.01)
TITLE = "a day of a fixed camera over three tubs"
UNITS = "attenuation in 1/m of the true beam attenuation; albedo and g in 1; level in mm"
NAMES = (
    "file", "tub", "taken_at", "attenuation_r_per_m", "attenuation_g_per_m",
    "attenuation_b_per_m", "albedo", "g", "level_mm",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a tub stands, and what its water is like except for its haze."""

    x_mm: float
    wall: float
    size_mm: tuple[float, float, float]
    colours: tuple[float, float, float]
    albedo: float
    g: float


PLACES = {
    11: Place(x_mm=-PITCH_MM, wall=0.7, size_mm=(420.0, 300.0, 400.0),
              colours=(1.0, 1.30, 1.90), albedo=0.985, g=0.76),
    15: Place(x_mm=0.0, wall=0.6, size_mm=(460.0, 340.0, 400.0),
              colours=(1.0, 1.28, 1.85), albedo=0.98, g=0.80),
    19: Place(x_mm=PITCH_MM, wall=0.75, size_mm=(320.0, 260.0, 240.0),
              colours=(1.0, 1.35, 1.95), albedo=0.985, g=0.72),
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A photo of the tubs: its file, when it was taken, and how it was lit.

    Attributes
    ----------
    file : str
        Its name.
    at : datetime
        When, in the garage's time.
    light : tuple of float
        Colour of the light, linear R, G, B.
    noise : float
        Of the sensor, relative at full scale; more of it in dim light.
    """

    file: str
    at: datetime
    light: tuple[float, float, float]
    noise: float


def photos() -> tuple[Taken, ...]:
    """Return the photos in the order of their times."""
    day = [local(DAY, time(hour)) for hour in HOURS]
    later = local(LATER_DAY, time(LATER_HOUR))
    return tuple(_taken(at.astimezone(ZONE)) for at in (*day, later))


def _taken(at: datetime) -> Taken:
    """Light a photo by its hour: blue and dim mornings, a warm lamp in the evening."""
    noon = abs(at.hour - 13) / 9
    return Taken(
        file=f"{at:%Y-%m-%d_%Hh}.jpg",
        at=at,
        light=(0.90 + 0.16 * noon**2, 1.0, 0.96 - 0.14 * noon**2),
        noise=0.003 + 0.004 * noon,
    )


def true_haze_per_m(log: SoakLog, at: datetime) -> float:
    """Return the haze of a soak's bath at a time, that of a fresh one included [1/m]."""
    soak = log.course.soak
    return float(FRESH_PER_M[soak.recipe] + log.course.haze_per_m[hour_of(soak, at)])


def shot(log: SoakLog, at: datetime) -> LadderShot:
    """Return how a tub's ladder hangs at a time, and in what water."""
    place = PLACES[log.course.soak.tub]
    haze = true_haze_per_m(log, at)
    at_mm = (place.x_mm, 0.0, 0.0)
    view, azimuth = view_of(np.array(EYE_MM), np.array(at_mm))
    lamps = np.array(LAMPS) / np.linalg.norm(LAMPS, axis=1, keepdims=True)
    width, length, depth = place.size_mm
    tub = Tub(
        wall=place.wall,
        width_mm=width,
        length_mm=length,
        depth_mm=depth,
        rim_mm=50.0,
        lamps=tuple(map(tuple, lamps.tolist())),
        light=WEIGHTS,
        view_deg=view,
        azimuth_deg=azimuth,
    )
    red, green, blue = (haze * one for one in place.colours)
    water = Water("milky", (red, green, blue), (place.albedo,) * 3, place.g, 0.01)
    assert log.course.soak.ladder is not None
    level = water_level_mm(log.course, log.course.soak.ladder, at)
    return LadderShot(at_mm, dip_ladder().height_mm - level, 0.0, tub, water)


def plans(logs: Sequence[SoakLog]) -> tuple[PhotoPlan, ...]:
    """Return what each photo shows."""
    return tuple(
        PhotoPlan(
            name=taken.file,
            camera=CAMERA,
            eye_mm=EYE_MM,
            look_mm=LOOK_MM,
            roll_deg=0.8,
            ladders=tuple(shot(_soaking(logs, tub, taken.at), taken.at) for tub in TUBS),
        )
        for taken in photos()
    )


def _soaking(logs: Sequence[SoakLog], tub: int, at: datetime) -> SoakLog:
    return next(
        log
        for log in logs
        if log.course.soak.tub == tub and begin(log.course.soak) <= at < end(log.course.soak)
    )


def truth(logs: Sequence[SoakLog]) -> str:
    """Return the table of what is true in each photo."""
    height = dip_ladder().height_mm
    rows = [
        (taken.file, tub, taken.at.isoformat(), *(f"{one:.3f}" for one in water.attenuation_per_m),
         water.albedo[0], water.g_forward, f"{height - ladder.level_mm:.1f}")
        for taken, plan in zip(photos(), plans(logs), strict=True)
        for tub, ladder in zip(TUBS, plan.ladders, strict=True)
        for water in (ladder.water,)
    ]  # fmt: skip
    head = {**header(TITLE, UNITS), "source": "python -m sample_images.ladder_day, path-traced"}
    return csv_text(head, NAMES, rows)


def render(folder: Path, logs: Sequence[SoakLog], paths: int) -> None:
    """Trace the water of all photos and write them."""
    made = plans(logs)
    pairs = [(ladder.tub, ladder.water) for plan in made for ladder in plan.ladders]
    with tempfile.TemporaryDirectory() as name:
        light, _ = traced(build(Path(name)), pairs, range(3), paths)
    for number, (taken, plan) in enumerate(zip(photos(), made, strict=True)):
        seen = tuple(light[number * len(TUBS) : (number + 1) * len(TUBS)])
        shooting = Shooting(
            exposure=0.7, light=taken.light, noise=taken.noise, quality=QUALITY, backdrop=WALL
        )
        write_photo(folder / taken.file, PlannedPhoto(plan, seen), shooting, at=taken.at,
                    tubs=list(TUBS))  # fmt: skip


def main() -> None:
    """Write the photos and their truth."""
    FOLDER.mkdir(exist_ok=True)
    logs = simulate()
    (FOLDER / "truth.csv").write_text(truth(logs), encoding="utf-8", newline="\n")
    render(FOLDER, logs, PATHS)


if __name__ == "__main__":
    main()
