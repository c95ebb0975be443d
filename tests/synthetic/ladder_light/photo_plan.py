"""Plans the photos to judge by: cameras, where ladders hang, and what water they hang in."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from tests.synthetic.ladder_light.scenes import (
    INDEX,
    JUDGE_SEED,
    Tub,
    Water,
    any_tub,
    kitchen_water,
    strange_water,
)

if TYPE_CHECKING:
    from collections.abc import Callable

MIDDLE_DEPTH_MM = 40.0  # where the angle of view of a ladder is taken


@dataclass(frozen=True, slots=True)
class Optics:
    """A camera: size of its photos [px], focal length over their longest side, blur [px]."""

    name: str
    width_px: int
    height_px: int
    focal: float
    blur_px: float


CAMERAS = (
    Optics("phone", 2400, 1800, 0.75, 0.8),
    Optics("compact", 2600, 1950, 1.05, 0.9),
    Optics("webcam", 1920, 1080, 0.85, 0.7),
)


@dataclass(frozen=True, slots=True)
class LadderShot:
    """A ladder in a photo: its place, the height of the water on it, its tub and water.

    `at_mm` is the middle of the plate at the waterline; x to the right, y out of the plate, z up.
    `level_mm` is the plate's own y of the waterline; `lean_deg` its tilt towards the camera.
    """

    at_mm: tuple[float, float, float]
    level_mm: float
    lean_deg: float
    tub: Tub
    water: Water


@dataclass(frozen=True, slots=True)
class PhotoPlan:
    """A photo: its camera, where that stands and looks to [mm], its roll, and what it shows."""

    name: str
    camera: Optics
    eye_mm: tuple[float, float, float]
    look_mm: tuple[float, float, float]
    roll_deg: float
    ladders: tuple[LadderShot, ...]


def view_of(eye_mm: np.ndarray, at_mm: np.ndarray) -> tuple[float, float]:
    """Return angle from the upright and azimuth [degrees] of the sight line in air to a ladder."""
    away = eye_mm - at_mm
    level = float(np.hypot(away[0], away[1]))
    low, high = 0.0, level  # distance of the crossing from the plate's point, by bisection
    for _ in range(60):
        middle = (low + high) / 2
        air = (level - middle) / np.hypot(level - middle, away[2])
        water = middle / np.hypot(middle, MIDDLE_DEPTH_MM)
        low, high = (middle, high) if air > INDEX * water else (low, middle)
    view = float(np.degrees(np.arctan2(level - low, away[2])))
    return view, float(np.degrees(np.arctan2(-away[0], away[1])))


def _places(rng: np.random.Generator, count: int) -> list[tuple[float, float, float]]:
    pitch, behind = rng.uniform(300, 420), rng.uniform(330, 430)
    columns = count if count < 4 else count // 2
    return [
        ((n % columns - (columns - 1) / 2) * pitch, -(n // columns) * behind, rng.uniform(-8, 8))
        for n in range(count)
    ]


def _plan(rng: np.random.Generator, name: str, waters: list[Water], tub: Tub | None) -> PhotoPlan:
    count = len(waters)
    distance = rng.uniform(300, 1200) if count == 1 else rng.uniform(850, 1200)
    view, side = np.radians(rng.uniform(20, 60)), np.radians(rng.uniform(-12, 12))
    if count > 1:
        view = np.radians(rng.uniform(28, 50))
    eye = distance * np.array(
        [np.sin(view) * np.sin(side), np.sin(view) * np.cos(side), np.cos(view)]
    )
    places = _places(rng, count)
    look = np.mean(places, axis=0) + rng.normal(0, 15, 3) + [0, 0, 20]
    ladders = []
    for at, water in zip(places, waters, strict=True):
        angle, azimuth = view_of(eye, np.array(at))
        own = any_tub(rng, angle, azimuth)
        if tub is not None:
            own = replace(tub, view_deg=angle, azimuth_deg=azimuth)
        level, lean = float(rng.uniform(80, 98)), float(rng.normal(0, 1.5))
        ladders.append(LadderShot(at, level, lean, own, water))
    camera = CAMERAS[rng.integers(len(CAMERAS))]
    roll = float(rng.normal(0, 3))
    return PhotoPlan(name, camera, tuple(eye), tuple(look), roll, tuple(ladders))


def judged_photos(readings: int) -> list[PhotoPlan]:
    """Plan single photos of 1 to 6 ladders in baths' own waters, until so many readings."""
    return _single_photos("single", kitchen_water, JUDGE_SEED, readings)


def strange_photos(readings: int) -> list[PhotoPlan]:
    """Plan the same in waters as no law was derived from."""
    return _single_photos("strange", strange_water, JUDGE_SEED + 3, readings)


def _single_photos(
    name: str, water: Callable[[np.random.Generator, float], Water], seed: int, readings: int
) -> list[PhotoPlan]:
    """Plan photos of 1 to 6 ladders, haze 0.5 to 100 per m."""
    rng = np.random.default_rng(seed)
    plans: list[PhotoPlan] = []
    made = 0
    while made < readings:
        count = int(rng.choice([1, 2, 3, 4, 6], p=[0.4, 0.2, 0.2, 0.08, 0.12]))
        hazes = np.exp(rng.uniform(np.log(0.5), np.log(100), count))
        waters = [water(rng, float(haze)) for haze in hazes]
        plans.append(_plan(rng, f"{name}{len(plans):03d}", waters, None))
        made += count
    return plans


SERIES_HAZE = (40.0, 18.0, 11.0, 6.0, 3.0, 1.5, 0.8, 0.5)


def series_photos(tubs: int) -> list[PhotoPlan]:
    """Plan the story of tubs: the same kind of water, tub and light, from murky to clear."""
    rng = np.random.default_rng(JUDGE_SEED + 1)
    plans = []
    for number in range(tubs):
        tub, first = any_tub(rng, 40, 0), kitchen_water(rng, 1.0)
        for step, haze in enumerate(SERIES_HAZE):
            red, green, blue = (
                haze * float(rng.uniform(0.9, 1.1)) * one for one in first.attenuation_per_m
            )
            water = replace(first, attenuation_per_m=(red, green, blue))
            plans.append(_plan(rng, f"series{number:02d}_{step}", [water], tub))
    return plans


def repeated_photos(tubs: int, views: int) -> list[PhotoPlan]:
    """Plan hand-held views of the same tubs and water."""
    rng = np.random.default_rng(JUDGE_SEED + 2)
    plans = []
    for number in range(tubs):
        haze = (1.0, 10.0, 30.0, 60.0)[number % 4]
        tub, water = any_tub(rng, 40, 0), kitchen_water(rng, haze)
        plans += [_plan(rng, f"views{number}_{view:02d}", [water], tub) for view in range(views)]
    return plans
