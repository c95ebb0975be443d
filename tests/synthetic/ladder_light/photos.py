"""Writes the planned photos, as a camera would, with the truth beside them."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from tests.synthetic.camera import jpeg
from tests.synthetic.ladder_light.compose import Scene, Shooting, Spoil, compose, wet_light
from tests.synthetic.ladder_light.make_light import all_photos

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.model import FloatArray
    from tests.synthetic.ladder_light.photo_plan import PhotoPlan

FIRST_TUB = 12


@dataclass(frozen=True, slots=True)
class PlannedPhoto:
    """A plan with the traced light of its ladders."""

    plan: PhotoPlan
    light: tuple[FloatArray, ...] = field(repr=False)

    def scene(self, tubs: list[int | None] | None = None) -> Scene:
        """Return what to render; tubs from `FIRST_TUB` on when none are named."""
        numbers = tubs or [FIRST_TUB + place for place in range(len(self.plan.ladders))]
        wet = [
            wet_light(shot.tub, shot.water, light)
            for shot, light in zip(self.plan.ladders, self.light, strict=True)
        ]
        return Scene(self.plan, list(numbers), wet)

    @property
    def hazes_per_m(self) -> tuple[float, ...]:
        """Return the true haze of each ladder's tub in red [1/m]."""
        return tuple(shot.water.attenuation_per_m[0] for shot in self.plan.ladders)


@cache
def planned_photos() -> tuple[PlannedPhoto, ...]:
    """Return all planned photos with their light, in order."""
    traced = np.load(Path(__file__).with_name("judge.npz"))["light"].astype(np.float64)
    photos, start = [], 0
    for plan in all_photos():
        end = start + len(plan.ladders)
        photos.append(PlannedPhoto(plan, tuple(traced[start:end])))
        start = end
    return tuple(photos)


def named(prefix: str) -> tuple[PlannedPhoto, ...]:
    """Return the planned photos whose name begins so: single, series or views."""
    return tuple(photo for photo in planned_photos() if photo.plan.name.startswith(prefix))


def random_shooting(rng: np.random.Generator, *, local: float = 0.0) -> Shooting:
    """Draw how a photo is taken."""
    red, blue = rng.uniform(0.85, 1.1, 2)
    return Shooting(
        exposure=float(rng.uniform(0.5, 0.85)),
        light=(float(red), 1.0, float(blue)),
        noise=float(rng.uniform(0.003, 0.012)),
        curve=float(rng.uniform(-0.04, 0.08)),
        local=local,
        quality=int(rng.integers(85, 97)),
        gradient=(float(rng.normal(0, 0.08)), float(rng.normal(0, 0.05))),
    )


def write_photo(
    path: Path,
    photo: PlannedPhoto,
    shooting: Shooting,
    *,
    at: datetime,
    spoils: list[Spoil] | None = None,
    tubs: list[int | None] | None = None,
) -> Path:
    """Render a photo into a JPEG file with its time; the noise is that of the photo's name."""
    scene = photo.scene(tubs)
    scene.spoils = spoils or []
    pixels = compose(scene, shooting, np.random.default_rng(list(photo.plan.name.encode())))
    path.write_bytes(jpeg(pixels, shooting.camera(photo.plan.camera), at))
    return path
