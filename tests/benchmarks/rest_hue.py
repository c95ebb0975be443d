"""Derives by how much a bone's own light changes the hue of the dark rest around it.

Run ``python -m tests.benchmarks.rest_hue [count]``. A pale half ellipsoid lies on a dark plane in
the light of one lamp and of a room. Ground near it receives, beside both, light from the bone,
which is as yellow as the bone; `ground_light.USUAL_CHANGE` is what all such scenes keep.
No photo is used, neither of those that it was once taken from nor of those that judge it.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from greasecheck.measure.bone.ground_light import BESIDE_MM, CLEAR_MM
from greasecheck.reference.folder import data_folder
from greasecheck.reference.lookup import read_lookup

SEED, COUNT = 20261129, 200
POINTS, RAYS = 60, 400  # on the ground, and from each of them

Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A bone on the rest: half axes [mm], light, colour.

    `lamp` points to the lamp, the plane's normal being z; `room` is the room's light over the
    lamp's on a plane that faces it; `pale`, `blue` are the bone's reflectance for X and Z.
    """

    axes_mm: Numbers
    lamp: Numbers
    room: float
    pale: float
    blue: float


def draw(rng: np.random.Generator) -> Scene:
    """Draw a skull of a marten to a fox, clean to greasy, in a lamp of the README's range."""
    up, side = np.radians(rng.uniform(30, 60)), np.radians(rng.uniform(-50, 50))
    lightness = rng.uniform(70, 90)
    clean, greasy = _clean_b(), 35.0  # b* of clean bone; of bone yellow with grease
    b_star = rng.uniform(clean, greasy)
    y = (lightness + 16) / 116
    return Scene(
        axes_mm=np.array([rng.uniform(20, 60), rng.uniform(15, 35), rng.uniform(15, 35)]),
        lamp=np.array([np.cos(up) * np.sin(side), np.sin(up), np.cos(up) * np.cos(side)]),
        room=rng.uniform(0.05, 0.5),
        pale=y**3,
        blue=(y - b_star / 200) ** 3,
    )


def _clean_b() -> float:
    rows = read_lookup(data_folder("calibration") / "bone.csv").rows
    return next(float(row["value"]) for row in rows if row["name"] == "lab_b")


def change_of_hue(scene: Scene, rng: np.random.Generator) -> float:
    """Return the change of ln(X / Z) of the ground beside the bone, by medians as in photos."""
    direct, from_bone = zip(*(_light(scene, rng) for _ in range(POINTS)), strict=True)
    lit, sent = np.array(direct), np.array(from_bone)
    x, z = (float(np.median(lit + share * sent)) for share in (scene.pale, scene.blue))
    return float(np.log(x / z))


def _light(scene: Scene, rng: np.random.Generator) -> tuple[float, float]:
    """Light on one point of the ground: of lamp and room, and of the bone were it white."""
    turn, away = rng.uniform(0, 2 * np.pi), rng.uniform(CLEAR_MM, BESIDE_MM)
    rim = scene.axes_mm[:2] * (np.cos(turn), np.sin(turn))
    normal = rim / scene.axes_mm[:2] ** 2
    point = np.append(rim + away * normal / np.linalg.norm(normal), 0.0)
    out = _cosine_rays(rng)
    hit, normals = _met(scene.axes_mm, point, out)
    on_bone = np.maximum(normals @ scene.lamp, 0) + scene.room * (1 + normals[:, 2]) / 2
    shaded = _met(scene.axes_mm, point, scene.lamp[None])[0][0]
    room = scene.room * (1 - hit.mean())
    return float(scene.lamp[2] * (not shaded) + room), float((hit * on_bone).mean())


def _cosine_rays(rng: np.random.Generator) -> Numbers:
    """Directions over the plane, as many in each as its light counts there."""
    radius, turn = np.sqrt(rng.uniform(size=RAYS)), rng.uniform(0, 2 * np.pi, RAYS)
    rays = (radius * np.cos(turn), radius * np.sin(turn), np.sqrt(1 - radius**2))
    return np.stack(rays, axis=-1)


def _met(axes: Numbers, point: Numbers, out: Numbers) -> tuple[NDArray[np.bool_], Numbers]:
    """Return which rays meet the ellipsoid, and its normals there."""
    p, d = point / axes, out / axes
    a, b, c = (d**2).sum(axis=1), d @ p, p @ p - 1
    root = b**2 - a * c
    hit = (root > 0) & (b < 0)
    reach = (-b - np.sqrt(np.maximum(root, 0))) / a
    normals = (point + reach[:, None] * out) / axes**2
    return hit, normals / np.linalg.norm(normals, axis=1, keepdims=True)


def changes(count: int, seed: int = SEED) -> Numbers:
    """Return the change of hue of so many scenes."""
    rng = np.random.default_rng(seed)
    return np.array([change_of_hue(draw(rng), rng) for _ in range(count)])


def main(count: int = COUNT) -> None:
    """Print what half of the scenes, nearly all and all keep."""
    found = changes(count)
    for share in (50.0, 95.0, 100.0):
        print(f"{share:.0f} % of {count} scenes change ln(X / Z) by at most ", end="")
        print(f"{np.percentile(found, share):.3f}")


if __name__ == "__main__":
    main(*(int(one) for one in sys.argv[1:]))
