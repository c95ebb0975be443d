"""A skull-like bone of our own: a signed distance field, meshed, with grease in its colours.

Local coordinates in mm: x towards the nose, y up, z sideways; the size is a fox's, about 104 mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.ndimage import gaussian_filter, map_coordinates
from skimage.measure import marching_cubes

from sample_images.mesh import mesh
from sample_images.scene import Spec, Vector, world

if TYPE_CHECKING:
    import numpy.typing as npt

    Array = npt.NDArray[Any]

STEP_MM = 0.55
LOW, HIGH = np.array([-60.0, -34.0, -36.0]), np.array([64.0, 36.0, 36.0])
CLEAN_RGB = (0.735, 0.690, 0.605)
GREASY_RGB = (0.615, 0.470, 0.235)
TOOTH_RGB = (0.760, 0.730, 0.660)
GLOSS = 0.015  # share of the light that a dull sheen reflects, without colour
JAW_BASE_MM = -27.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bone:
    """How yellow a skull is, and where it lies.

    Attributes
    ----------
    base : float
        Grease spread evenly through the bone, 0 (clean) to 1.
    patch_share : float
        Share of the surface in patches where grease still sits [0..1].
    scale : float
        Size against the model's.
    facing : int
        -1 with the nose to the left, 1 to the right.
    seed : int
        Of the patches' places.
    """

    base: float
    patch_share: float
    scale: float = 1.0
    facing: int = -1
    seed: int = 0


def skull(bone: Bone, at: Vector) -> Spec:
    """Return bone and teeth as Mitsuba shapes, the jaw's underside at a point of the sheet [mm]."""
    grid = _grid()
    body, teeth = _body(grid), _teeth(grid)
    body = body + 0.07 * _noise(body.shape, 2.5, 11) + 0.2 * _noise(body.shape, 12.0, 12)
    return {
        "bone": _shape(np.maximum(body, -teeth + 0.1), bone, at, None),
        "teeth": _shape(teeth, bone, at, TOOTH_RGB),
    }


def _shape(field: Array, bone: Bone, at: Vector, colour: Vector | None) -> Any:  # noqa: ANN401 - Mitsuba's objects are untyped
    surface = marching_cubes(field, 0.0, spacing=(STEP_MM,) * 3)
    vertices, faces, normals, _ = surface
    local = vertices + LOW
    colours = _colours(local, bone) if colour is None else np.tile(colour, (len(local), 1))
    turn = np.array([bone.facing, 1.0, bone.facing])
    placed = local * turn * bone.scale + world(at) + [0.0, -JAW_BASE_MM * bone.scale, 0.0]
    return mesh("bone", placed, -normals * turn, faces[:, ::-1], _surface(), colours)


def _surface() -> Spec:
    reflectance = {"type": "mesh_attribute", "name": "vertex_colour"}
    return {
        "type": "twosided",
        "nested": {
            "type": "blendbsdf",
            "weight": GLOSS,
            "matt": {"type": "diffuse", "reflectance": reflectance},
            "gloss": {"type": "roughconductor", "material": "none", "alpha": 0.28},
        },
    }


def grease(points: Array, bone: Bone) -> Array:
    """Return whether each point lies in a greasy patch: a smooth field from 0 to 1."""
    shape = tuple(np.ceil((HIGH - LOW) / STEP_MM).astype(int) + 1)
    field = _noise(shape, 14.0, 100 + bone.seed) + 0.25 * _noise(shape, 4.0, 200 + bone.seed)
    value = map_coordinates(field, ((points - LOW) / STEP_MM).T, order=1, mode="nearest")
    value = value - 0.012 * points[:, 1]  # grease sinks towards the jaw
    if bone.patch_share <= 0:
        return np.zeros(len(points), dtype=np.float32)
    edge = np.quantile(value, 1 - bone.patch_share)
    amount: Array = 1 / (1 + np.exp(-(value - edge) / 0.04))
    return amount


def _colours(points: Array, bone: Bone) -> Array:
    amount = np.maximum(bone.base, grease(points, bone))[:, None]
    clean, greasy = np.log(CLEAN_RGB), np.log(GREASY_RGB)
    colours: Array = np.exp(clean + amount * (greasy - clean))
    return colours


def _grid() -> tuple[Array, Array, Array]:
    axes = [np.arange(low, high + STEP_MM, STEP_MM, dtype=np.float32)
            for low, high in zip(LOW, HIGH, strict=True)]  # fmt: skip
    x, y, z = np.meshgrid(*axes, indexing="ij")
    return x, y, np.abs(z)  # the two sides mirror each other


def _noise(shape: tuple[int, ...], size_mm: float, seed: int) -> Array:
    white = np.random.default_rng(seed).standard_normal(shape).astype(np.float32)
    smooth: Array = gaussian_filter(white, size_mm / STEP_MM / 2, mode="wrap")
    noise: Array = smooth / smooth.std()
    return noise


def _ball(grid: tuple[Array, ...], centre: Vector, radii: Vector) -> Array:
    scaled = [(axis - c) / r for axis, c, r in zip(grid, centre, radii, strict=True)]
    length: Array = np.sqrt(sum(part**2 for part in scaled))
    return (length - 1) * min(radii)


def _limb(grid: tuple[Array, ...], start: Vector, end: Vector, radii: tuple[float, float]) -> Array:
    """Return the distance to a rod whose radius runs from one value to the other."""
    a, b = np.array(start), np.array(end)
    along = sum((axis - p) * d for axis, p, d in zip(grid, a, b - a, strict=True))
    t = np.clip(along / ((b - a) @ (b - a)), 0, 1)
    gap = [axis - p - t * d for axis, p, d in zip(grid, a, b - a, strict=True)]
    distance: Array = np.sqrt(sum(part**2 for part in gap))
    radius: Array = radii[0] + t * (radii[1] - radii[0])
    return distance - radius


def _join(first: Array, second: Array, softness_mm: float) -> Array:
    blend = np.clip(0.5 + 0.5 * (second - first) / softness_mm, 0, 1)
    joined: Array = second + (first - second) * blend - softness_mm * blend * (1 - blend)
    return joined


def _carve(solid: Array, hole: Array, softness_mm: float) -> Array:
    return -_join(-solid, hole, softness_mm)


def _body(grid: tuple[Array, ...]) -> Array:
    solid = _ball(grid, (-28, 10, 0), (25, 17, 17.5))
    solid = _join(solid, _ball(grid, (-1, 8, 0), (21, 12, 12)), 9)
    solid = _join(solid, _limb(grid, (6, 3, 0), (45, -1, 0), (11.0, 6.0)), 7)
    solid = _join(solid, _limb(grid, (8, -4, 5), (48, -5, 2.5), (7.0, 3.2)), 4)
    solid = _join(solid, _limb(grid, (-48, 19, 0), (-12, 22, 0), (1.4, 1.0)), 6)  # crest
    solid = _join(solid, _ball(grid, (-50, 10, 0), (2.6, 13, 13)), 6)  # nuchal crest
    solid = _join(solid, _ball(grid, (-31, -8, 9), (8, 6, 6)), 2)  # ear capsule
    solid = _carve(solid, _ball(grid, (7, 5.5, 17), (9.5, 8.5, 13)), 1.2)  # orbit
    solid = _carve(solid, _ball(grid, (-13, 3, 23), (13, 11, 12)), 4)  # temple
    solid = _join(solid, _limb(grid, (-1, 15, 8), (-5, 12, 17), (2.8, 0.9)), 3)  # brow
    solid = _carve(solid, _limb(grid, (49, 0, 0), (60, 6, 0), (3.4, 6.0)), 1)  # nose
    solid = _carve(solid, _limb(grid, (22, -3, 9), (27, -2, 12), (1.7, 1.7)), 1)
    for start, end, radii in (
        ((-36, 0, 12), (-28, -2, 20), (3.0, 2.6)),
        ((-28, -2, 20), (-18, -3, 25), (2.6, 2.2)),
        ((-18, -3, 25), (-4, -4, 25.5), (2.2, 2.6)),
        ((-4, -4, 25.5), (9, -5, 19), (2.6, 3.2)),
        ((9, -5, 19), (18, -3, 10), (3.2, 4.2)),
    ):
        solid = _join(solid, _limb(grid, start, end, radii), 2.5)  # cheek arch
    solid = _join(solid, _limb(grid, (-4, -3, 25), (-5, 2, 23), (2.2, 0.8)), 2)
    return np.minimum(solid, _jaw(grid))


def _jaw(grid: tuple[Array, ...]) -> Array:
    jaw = _limb(grid, (-20, -21, 16), (15, -21, 10), (4.5, 4.2))
    jaw = _join(jaw, _limb(grid, (15, -21, 10), (44, -16, 3), (4.2, 3.0)), 3)
    jaw = _join(jaw, _limb(grid, (-22, -19, 17), (-17, 2, 18), (4.0, 2.2)), 4)
    jaw = _join(jaw, _limb(grid, (-24, -17, 17), (-29, -7, 17), (3.0, 2.6)), 3)
    return _carve(jaw, _ball(grid, (-17, -12, 22), (5.5, 7, 4.0)), 2)


def _teeth(grid: tuple[Array, ...]) -> Array:
    teeth = _limb(grid, (42, -5, 4.8), (41.5, -16, 6.0), (2.3, 0.5))  # upper canine
    teeth = np.minimum(teeth, _limb(grid, (45.5, -15, 3.2), (46.8, -7.5, 4.4), (1.9, 0.4)))
    for number in range(7):
        x, z = 35.0 - 5.1 * number, 5.0 + 0.95 * number
        size = 1.5 + 0.26 * number
        crown = 2.8 + (2.0 if number == 4 else 0.25 * number)
        upper = _limb(grid, (x, -7.5, z), (x + 0.4, -8.5 - crown, z + 0.4), (size, 0.6))
        lower = _limb(grid, (x + 2.6, -17, z - 0.6), (x + 2.2, -12.6, z - 0.6), (size, 0.5))
        teeth = np.minimum(teeth, np.minimum(upper, lower))
    for z in (1.0, 2.8):
        upper = _limb(grid, (49.5 - 0.6 * z, -6, z), (50.5 - 0.6 * z, -10.5, z), (1.3, 0.7))
        teeth = np.minimum(teeth, upper)
    return teeth
