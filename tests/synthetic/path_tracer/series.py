"""The lights and waters of the rendered series: one half to choose constants on, one to judge.

``python -m tests.synthetic.path_tracer.series OUT.npz TEXTURE.npz`` renders them; it takes a
graphics processor (`TRACER_CUDA=1`) some minutes.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.synthetic.path_tracer.stand import Light, Rendered, lamp, render, scene
from tests.synthetic.path_tracer.tracer import Medium, Room, Texture, Vector

CLEAR = Medium(extinction_per_m=(0.3, 0.3, 0.3), albedo=(0.9, 0.9, 0.9), asymmetry=0.9)
DIM = Room(reflectance=(0.25, 0.25, 0.3, 0.25, 0.25, 0.25))
BRIGHT = Room(reflectance=(0.7, 0.7, 0.75, 0.5, 0.7, 0.7))
TRIAL, MOST = 0.1, 8.0  # shares of the usual paths, for the first scene and at most
SECONDS = 300.0  # of rendering, which the number of paths is chosen for

DESIGN = {
    "bulb": Light(lamps=(lamp((100.0, -280.0, 500.0), (160.0, 160.0)),)),
    "panel front": Light(lamps=(lamp((130.0, -80.0, 900.0), (600.0, 600.0)),), room=DIM),
    "panel at 45": Light(lamps=(lamp((130.0, -440.0, 560.0), (600.0, 300.0)),)),
    "window left": Light(lamps=(lamp((-800.0, -250.0, 650.0), (1000.0, 900.0)),), room=BRIGHT),
    "two lamps": Light(
        lamps=(
            lamp((-300.0, -200.0, 600.0), (250.0, 250.0)),
            lamp((500.0, -250.0, 550.0), (250.0, 250.0), 0.8),
        )
    ),
}
JUDGED = {
    "other bulb": Light(lamps=(lamp((40.0, -230.0, 620.0), (160.0, 160.0)),), room=DIM),
    "panel left": Light(lamps=(lamp((-330.0, -120.0, 700.0), (500.0, 400.0)),)),
    "panel right": Light(lamps=(lamp((560.0, -150.0, 750.0), (400.0, 400.0)),), room=DIM),
    "panel at 30": Light(lamps=(lamp((130.0, -255.0, 650.0), (600.0, 300.0)),), room=BRIGHT),
    "panel at 60": Light(lamps=(lamp((130.0, -573.0, 400.0), (600.0, 300.0)),)),
    "window and bulb": Light(
        lamps=(
            lamp((1100.0, -200.0, 700.0), (900.0, 900.0), 0.5),
            lamp((60.0, -300.0, 550.0), (160.0, 160.0), 10.0),
        ),
        room=BRIGHT,
    ),
    "overhead": Light(lamps=(lamp((130.0, -640.0, 160.0), (600.0, 300.0)),)),
    "behind": Light(lamps=(lamp((130.0, -700.0, -600.0), (800.0, 600.0)),), room=BRIGHT),
}
STRENGTHS = (
    (0.5, 1.0),
    (1.0, 3.0),
    (3.0, 8.0),
    (8.0, 20.0),
    (20.0, 40.0),
    (40.0, 65.0),
    (65.0, 100.0),
)
BROWN = (1, 3)  # which of the strengths are brown waters


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One stand to render: number 0 of a light is clear water."""

    light: str
    number: int
    medium: Medium

    @property
    def name(self) -> str:
        """Name of its arrays."""
        return f"{self.light}/{self.number}"


def lights() -> dict[str, Light]:
    """Return the lights of both halves."""
    return {**DESIGN, **JUDGED}


def cases() -> list[Case]:
    """Return every light with every strength of water, the clear ones first."""
    found = [Case(light=light, number=0, medium=CLEAR) for light in lights()]
    for number, strength in enumerate(STRENGTHS):
        for place, light in enumerate(lights()):
            rng = np.random.default_rng(1000 * place + number)
            medium = _brown(rng, strength) if number in BROWN else _milky(rng, strength)
            found.append(Case(light=light, number=number + 1, medium=medium))
    return found


def _milky(rng: np.random.Generator, strength: tuple[float, float]) -> Medium:
    """Fat droplets: blue is scattered up to twice as much as red (Michels et al. 2008)."""
    red, ratio = rng.uniform(*strength), rng.uniform(1.0, 2.05)
    albedo = rng.uniform(0.96, 0.99)
    return Medium(
        extinction_per_m=(red, red * ratio**0.5, red * ratio),
        albedo=(albedo, albedo - 0.005, albedo - 0.02),
        asymmetry=rng.uniform(0.5, 0.95),
    )


def _brown(rng: np.random.Generator, strength: tuple[float, float]) -> Medium:
    """Blood and dirt: much is absorbed, most in the blue."""
    red, ratio = rng.uniform(*strength), rng.uniform(1.5, 3.0)
    albedo = rng.uniform(0.5, 0.85)
    scattered = red * albedo
    extinction: Vector = (red, red * ratio**0.5, red * ratio)
    return Medium(
        extinction_per_m=extinction,
        albedo=(albedo, scattered * 1.1 / extinction[1], scattered * 1.2 / extinction[2]),
        asymmetry=rng.uniform(0.5, 0.95),
    )


def store(rendered: Rendered, name: str) -> dict[str, NDArray[np.float16]]:
    """Return the arrays of a render in half precision, in units of the light on the board."""
    unit = float(np.median(rendered.far))
    parts = {"far": rendered.far, "near": rendered.near, "scattered": rendered.scattered}
    return {f"{name}/{part}": (array / unit).astype(np.float16) for part, array in parts.items()}


def main(out: Path, texture_path: Path) -> None:
    """Render all cases into one file."""
    with np.load(texture_path) as file:
        texture = Texture(codes=file["codes"], reflectance=file["reflectance"])
    arrays: dict[str, NDArray[np.float16]] = {}
    todo, began = cases(), time.monotonic()
    effort, spent = TRIAL, TRIAL * SECONDS / len(todo)
    for number, case in enumerate(todo):
        left = SECONDS - (time.monotonic() - began)
        if number:
            share = left / (len(todo) - number)
            effort = float(np.clip(effort * share / max(spent, 1e-3), effort / 2, 2 * effort))
        start = time.monotonic()
        stand = scene(lights()[case.light], case.medium)
        arrays.update(store(render(stand, texture, min(effort, MOST), 10 * number), case.name))
        spent = time.monotonic() - start
        print(f"{case.name} effort {effort:.2f} {spent:.2f} s", flush=True)
    np.savez_compressed(out, allow_pickle=False, **arrays)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
