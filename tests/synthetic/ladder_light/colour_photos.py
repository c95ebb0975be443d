"""Photos of one ladder each, small in the picture, from whose colours constants are derived."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.reference.ladder.plate import dip_ladder
from tests.synthetic.ladder_light.make_light import CLEAR_TUBS, COLOUR_TUBS
from tests.synthetic.ladder_light.photo_plan import (
    CAMERAS,
    MIDDLE_DEPTH_MM,
    LadderShot,
    Optics,
    PhotoPlan,
)
from tests.synthetic.ladder_light.photos import PlannedPhoto, random_shooting
from tests.synthetic.ladder_light.scenes import (
    CLEAR_SEED,
    COLOUR_SEED,
    INDEX,
    Tub,
    Water,
    clear_scenes,
    colour_scenes,
)

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from tests.synthetic.ladder_light.compose import Shooting

STRIPES_PX = (2.8, 12.0)  # widths of a stripe of 3 mm that are drawn
CUT = 0.6  # of each camera's picture: its middle, in which a plate of that width has room


@dataclass(frozen=True, slots=True)
class ColourPhoto:
    """A photo to render, of which tub, how it is taken, and the width of its 3 mm stripes [px]."""

    tub: int
    photo: PlannedPhoto
    shooting: Shooting
    stripe_px: float


def colour_photos() -> list[ColourPhoto]:
    """Plan a photo of each tub of colour.npz."""
    return _photos("colour", colour_scenes(COLOUR_TUBS), COLOUR_SEED + 1)


def clear_photos() -> list[ColourPhoto]:
    """Plan a photo of each tub of clear.npz."""
    return _photos("clear", clear_scenes(CLEAR_TUBS), CLEAR_SEED + 1)


def _photos(name: str, scenes: list[tuple[Tub, Water]], seed: int) -> list[ColourPhoto]:
    lights = np.load(Path(__file__).with_name(f"{name}.npz"))["light"].astype(np.float64)
    rng = np.random.default_rng(seed)
    return [
        _photo(rng, number, tub, water, light)
        for number, ((tub, water), light) in enumerate(zip(scenes, lights, strict=True))
    ]


def _photo(
    rng: np.random.Generator, number: int, tub: Tub, water: Water, light: FloatArray
) -> ColourPhoto:
    camera = _middle(CAMERAS[rng.integers(len(CAMERAS))])
    stripe_px = float(np.exp(rng.uniform(*np.log(STRIPES_PX))))
    scale = camera.focal * max(camera.width_px, camera.height_px)
    distance = scale * dip_ladder().stripes.fine_bar_mm / stripe_px
    at = np.array([0.0, 0.0, rng.uniform(-8, 8)])
    level, lean = float(rng.uniform(80, 98)), float(rng.normal(0, 1.5))
    shot = LadderShot(tuple(at), level, lean, tub, water)
    look = at + rng.normal(0, 15, 3) + [0, 0, 20]
    eye = at + _away(tub, distance)
    name = f"colour{number:03d}"
    plan = PhotoPlan(name, camera, tuple(eye), tuple(look), float(rng.normal(0, 3)), (shot,))
    return ColourPhoto(number, PlannedPhoto(plan, (light,)), random_shooting(rng), stripe_px)


def _middle(camera: Optics) -> Optics:
    width, height = (round(CUT * side) for side in (camera.width_px, camera.height_px))
    return replace(
        camera, width_px=width, height_px=max(height, width // 4 * 3), focal=camera.focal / CUT
    )


def _away(tub: Tub, distance_mm: float) -> FloatArray:
    """Return where a camera stands that looks at a tub as its light was traced [mm]."""
    view, aside = np.radians(tub.view_deg), np.radians(tub.azimuth_deg)
    below = MIDDLE_DEPTH_MM * np.tan(np.arcsin(np.sin(view) / INDEX))
    level = below + distance_mm * np.sin(view)
    return np.array([-level * np.sin(aside), level * np.cos(aside), distance_mm * np.cos(view)])
