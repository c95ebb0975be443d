"""The lights and waters of the rendered series: some to choose constants on, some to judge.

``python -m tests.synthetic.path_tracer.series PART OUT.npz TEXTURE.npz`` renders one of `PARTS`;
it takes a graphics processor (`TRACER_CUDA=sm_90`, its architecture) some minutes.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.synthetic.path_tracer.stand import AIM, Light, Rendered, lamp, render, scene
from tests.synthetic.path_tracer.tracer import Medium, Rectangle, Room, Texture, Vector

CLEAR = Medium(extinction_per_m=(0.3, 0.3, 0.3), albedo=(0.9, 0.9, 0.9), asymmetry=0.9)
DIM = Room(reflectance=(0.25, 0.25, 0.3, 0.25, 0.25, 0.25))
BRIGHT = Room(reflectance=(0.7, 0.7, 0.75, 0.5, 0.7, 0.7))
TRIAL, MOST = 0.25, 32.0  # shares of the usual paths, for the first trial and at most
SECONDS = 1.6  # of rendering a stand, which the number of paths is chosen for
CLEAR_SHARE = 4.0  # clear water's share of that: all readings of a light rest on it

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


def lamp_at(
    turn_deg: float,
    height_deg: float,
    away_mm: float,
    size_mm: tuple[float, float],
    *,
    shine: float = 1.0,
) -> Rectangle:
    """Return a lamp in a direction from where it points: to the right, over the horizon."""
    turn, height = np.deg2rad([turn_deg, height_deg])
    towards = np.sin(turn) * np.cos(height), -np.sin(height), np.cos(turn) * np.cos(height)
    x, y, z = AIM + away_mm * np.array(towards)
    return lamp((float(x), float(y), float(z)), size_mm, shine)


# Lamps to choose constants on, over the range of places that the README gives and a little beyond.
FITTED = {
    "bulb 25 left": Light(lamps=(lamp_at(-28, 25, 700, (160, 160)),)),
    "panel 20": Light(lamps=(lamp_at(10, 20, 900, (500, 400)),), room=DIM),
    "panel 35 right": Light(lamps=(lamp_at(36, 35, 850, (400, 400)),), room=BRIGHT),
    "bulb 40": Light(lamps=(lamp_at(-18, 40, 850, (160, 160)),), room=DIM),
    "bulb 45 left": Light(lamps=(lamp_at(-30, 45, 500, (160, 160)),)),
    "panel 45 right": Light(lamps=(lamp_at(28, 45, 800, (500, 400)),), room=DIM),
    "panel 50": Light(lamps=(lamp_at(0, 50, 650, (600, 300)),)),
    "bulb 50 right": Light(lamps=(lamp_at(20, 50, 600, (160, 160)),), room=BRIGHT),
    "panel 55 left": Light(lamps=(lamp_at(-25, 55, 750, (400, 400)),), room=DIM),
    "bulb 55": Light(lamps=(lamp_at(5, 55, 450, (160, 160)),)),
    "panel 60 right": Light(lamps=(lamp_at(25, 60, 650, (400, 300)),)),
    "bulb 60 left": Light(lamps=(lamp_at(-15, 60, 700, (160, 160)),), room=DIM),
    "panel 64": Light(lamps=(lamp_at(0, 64, 700, (600, 300)),), room=BRIGHT),
    "two lamps apart": Light(
        lamps=(
            lamp_at(-34, 50, 700, (250, 250)),
            lamp_at(30, 38, 750, (250, 250), shine=0.7),
        )
    ),
}
# Lamps of a later judging; nothing was chosen on them.
FRESH = {
    "bulb as told": Light(lamps=(lamp((130.0, -310.0, 567.0), (160.0, 160.0)),)),
    "panel at 40": Light(lamps=(lamp_at(25, 40, 800, (600, 300)),), room=DIM),
    "panel at 55": Light(lamps=(lamp_at(-8, 55, 900, (600, 400)),), room=BRIGHT),
    "two lamps front": Light(
        lamps=(
            lamp((-260.0, -330.0, 520.0), (300.0, 300.0), 0.7),
            lamp((430.0, -260.0, 700.0), (300.0, 300.0)),
        ),
        room=BRIGHT,
    ),
    "window, bulb right": Light(
        lamps=(
            lamp((-1100.0, -250.0, 600.0), (900.0, 900.0), 0.5),
            lamp((240.0, -290.0, 520.0), (160.0, 160.0), 10.0),
        ),
        room=BRIGHT,
    ),
}
MILKY, BROWN = "milky", "brown"
WATERS = (
    (MILKY, 0.5, 1.0),
    (BROWN, 1.0, 3.0),
    (MILKY, 3.0, 8.0),
    (BROWN, 8.0, 20.0),
    (MILKY, 20.0, 40.0),
    (MILKY, 40.0, 65.0),
    (MILKY, 65.0, 100.0),
)
MORE_WATERS = (
    (MILKY, 0.45, 1.2),
    (BROWN, 0.7, 2.5),
    (MILKY, 1.2, 3.0),
    (BROWN, 2.5, 8.0),
    (MILKY, 3.0, 8.0),
    (BROWN, 8.0, 25.0),
    (MILKY, 8.0, 25.0),
    (MILKY, 25.0, 60.0),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Lights, each with clear water and with waters of some kinds and attenuations [1/m]."""

    lights: dict[str, Light]
    waters: tuple[tuple[str, float, float], ...]
    brown_albedo: tuple[float, float]
    seed: int


PARTS = {
    "rendered": Part(lights={**DESIGN, **JUDGED}, waters=WATERS, brown_albedo=(0.5, 0.85), seed=0),
    "fitted": Part(lights=FITTED, waters=MORE_WATERS, brown_albedo=(0.4, 0.9), seed=500_000),
    "fresh": Part(lights=FRESH, waters=MORE_WATERS, brown_albedo=(0.4, 0.9), seed=700_000),
}


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
    """Return the lights of all parts."""
    return {name: light for part in PARTS.values() for name, light in part.lights.items()}


def cases() -> list[Case]:
    """Return the cases of all parts."""
    return [case for part in PARTS.values() for case in cases_of(part)]


def cases_of(part: Part) -> list[Case]:
    """Return every light with every water, the clear ones first."""
    found = [Case(light=light, number=0, medium=CLEAR) for light in part.lights]
    for number, (kind, least, most) in enumerate(part.waters):
        for place, light in enumerate(part.lights):
            rng = np.random.default_rng(part.seed + 1000 * place + number)
            red = rng.uniform(least, most)
            medium = _milky(rng, red) if kind == MILKY else _brown(rng, red, part.brown_albedo)
            found.append(Case(light=light, number=number + 1, medium=medium))
    return found


def _milky(rng: np.random.Generator, red: float) -> Medium:
    """Fat droplets: blue is scattered up to twice as much as red (Michels et al. 2008)."""
    ratio, albedo = rng.uniform(1.0, 2.05), rng.uniform(0.96, 0.99)
    return Medium(
        extinction_per_m=(red, red * ratio**0.5, red * ratio),
        albedo=(albedo, albedo - 0.005, albedo - 0.02),
        asymmetry=rng.uniform(0.5, 0.95),
    )


def _brown(rng: np.random.Generator, red: float, albedos: tuple[float, float]) -> Medium:
    """Blood and dirt: much is absorbed, most in the blue."""
    ratio, albedo = rng.uniform(1.5, 3.0), rng.uniform(*albedos)
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


def main(name: str, out: Path, texture_path: Path) -> None:
    """Render all cases of a part into one file."""
    with np.load(texture_path) as file:
        texture = Texture(codes=file["codes"], reflectance=file["reflectance"])
    arrays: dict[str, NDArray[np.float16]] = {}
    part = PARTS[name]
    pace = _seconds_of_usual_paths(part, texture)
    for number, case in enumerate(cases_of(part)):
        seconds = SECONDS * (1 if case.number else CLEAR_SHARE)
        effort = min(seconds / pace, MOST)
        start = time.monotonic()
        stand = scene(part.lights[case.light], case.medium)
        rendered = render(stand, texture, effort, part.seed + 10 * number)
        arrays.update(store(rendered, case.name))
        spent = time.monotonic() - start
        pace = 0.7 * pace + 0.3 * spent / effort
        print(f"{case.name} effort {effort:.2f} {spent:.2f} s", flush=True)
    np.savez_compressed(out, allow_pickle=False, **arrays)


def _seconds_of_usual_paths(part: Part, texture: Texture) -> float:
    """Time the usual number of paths on the first clear water, by trials that grow."""
    case, effort, spent = cases_of(part)[0], TRIAL, 0.0
    stand = scene(part.lights[case.light], case.medium)
    render(stand, texture, TRIAL / 100, part.seed)  # compiles, and starts the processor
    while spent < SECONDS / 4 and effort < MOST:
        effort *= 2
        start = time.monotonic()
        render(stand, texture, effort, part.seed)
        spent = time.monotonic() - start
    return spent / effort


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3]))
