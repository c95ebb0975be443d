"""The scenes: sizes, shapes, lights, cameras, cloths, views; each with its truth."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, partial
from typing import TYPE_CHECKING

import numpy as np

from tests.synthetic.bone_scene.materials import make_palette, true_yellowness
from tests.synthetic.bone_scene.render import (
    Layout,
    Light,
    Rendered,
    Stray,
    ink_coverage,
    look_at_all,
    render,
)
from tests.synthetic.bone_scene.shapes import (
    BLOOD,
    BONE,
    KINDS,
    SAMPLES,
    TOOTH,
    Shape,
    make_shape,
    side_by_side,
)
from tests.synthetic.camera import Camera, expose, jpeg, metered, shouldered
from tests.synthetic.spectral_simulation import CAMERAS, LAMPS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tests.synthetic.bone_scene.shapes import Map

PLAIN = Camera(blur_px=0.7, noise=0.008, dark_noise=3.6e-4, quality=93)
PHONE = replace(PLAIN, tone=partial(shouldered, lift=1.2, power=1.1, shoulder=0.25))
BRIGHTEST = 0.75  # of full scale
SIZES_MM = (20.0, 60.0, 145.0, 300.0, 500.0)
LIGHTS = {
    "window": Light(
        lamp="D65", towards=(-0.6, 0.5, 1.0), distance_mm=2500, softness=0.25, fill=0.45,
        fill_lamp="D65",
    ),
    "panel": Light(
        lamp="LED-B3", towards=(0.4, 0.6, 1.2), distance_mm=900, softness=0.12, fill=0.3,
        fill_lamp="LED-B3",
    ),
    "tubes": Light(
        lamp="FL11", towards=(0.1, -0.2, 1.0), distance_mm=1800, softness=0.3, fill=0.5,
        fill_lamp="FL11",
    ),
    "side lamp": Light(
        lamp="A", towards=(1.0, 0.3, 0.75), distance_mm=1000, softness=0.04, fill=0.15,
        fill_lamp="A",
    ),
    "mixed": Light(
        lamp="LED-B3", towards=(-0.7, 0.4, 1.0), distance_mm=1000, softness=0.1, fill=0.3,
        fill_lamp="D65",
    ),
}  # fmt: skip
CLOTHS = ("black felt", "blue", "green", "grey")
ODD = ("no bone", "two skulls", "hand", "white cloth")


@dataclass(frozen=True, slots=True, kw_only=True)
class SceneOrder:
    """What to render."""

    name: str
    kind: str
    length_mm: float
    light: str
    camera: str
    seed: int
    odd: str = ""
    tilt_deg: float | None = None
    azimuth_deg: float | None = None
    distance_mm: float | None = None
    grease: float | None = None
    size_px: tuple[int, int] = (1500, 1125)
    stray: Stray | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BonePhoto:
    """A rendered photograph as a camera stores it, and the truth.

    Attributes
    ----------
    jpeg : bytes
        The file.
    bone : ndarray, shape (rows, columns), bool
        Where bone is seen, or teeth, which are part of every skull's outline.
    yellowness : ndarray, shape (n,)
        True yellowness index of its n pixels.
    """

    order: SceneOrder
    jpeg: bytes
    bone: NDArray[np.bool_]
    yellowness: NDArray[np.float64]


def orders(seed: int = 0) -> tuple[SceneOrder, ...]:
    """Return 60 scenes with a skull, and 12 odd ones."""
    lights, cameras = list(LIGHTS), list(CAMERAS)
    skulls = [
        SceneOrder(
            name=f"{kind}, {length:.0f} mm, {lights[(i + 2 * j + turn) % 5]}",
            kind=kind,
            length_mm=length,
            light=lights[(i + 2 * j + turn) % 5],
            camera=cameras[(i + j + turn // 2) % 3],
            seed=1000 * seed + 100 * turn + 10 * i + j,
        )
        for turn in (0, 2)
        for i, kind in enumerate(KINDS)
        for j, length in enumerate(SIZES_MM)
    ]
    odd = [
        SceneOrder(
            name=f"{what} {n + 1}",
            kind=list(KINDS)[(n + 2 * k) % 2],
            length_mm=(90.0, 160.0, 300.0)[n],
            light=lights[(n + k) % 4],
            camera=cameras[n],
            seed=1000 * seed + 700 + 10 * k + n,
            odd=what,
        )
        for k, what in enumerate(ODD)
        for n in range(3)
    ]
    return (*skulls, *odd)


def stray_orders(seed: int = 0, count: int = 20) -> tuple[SceneOrder, ...]:
    """Return scenes whose skull a second lamp lights and hardly the card."""
    return tuple(_stray_order(seed, number) for number in range(count))


def _stray_order(seed: int, number: int) -> SceneOrder:
    rng = np.random.default_rng([seed, number])
    length = float(rng.choice([60.0, 145.0, 200.0]))
    light, lamp = str(rng.choice(list(LIGHTS)[:4])), str(rng.choice(LAMPS))
    stray = Stray(
        lamp=lamp,
        level=float(rng.uniform(0.2, 2.0)),
        radius_mm=float(rng.uniform(0.35, 1.0)) * length,
        soft_mm=float(rng.uniform(0.05, 0.6)) * length,
        towards=(float(rng.uniform(-0.8, 0.8)), float(rng.uniform(-0.8, 0.8)), 1.0),
    )
    return SceneOrder(
        name=f"{light}, {lamp} times {stray.level:.1f} within {stray.radius_mm / length:.2f}",
        kind=str(rng.choice(list(KINDS))),
        length_mm=length,
        light=light,
        camera=str(rng.choice(CAMERAS)),
        seed=1000 * seed + 900 + number,
        size_px=(1200, 900),
        stray=stray,
    )


def photograph(order: SceneOrder) -> BonePhoto:
    """Render a scene and take its photograph."""
    rng = np.random.default_rng(order.seed)
    shape = _shape(order, rng)
    tilt = rng.uniform(0, 44) if order.tilt_deg is None else order.tilt_deg
    azimuth = rng.uniform(0, 360) if order.azimuth_deg is None else order.azimuth_deg
    layout = _layout(order, rng)
    far = 1500.0 if rng.random() < 0.25 else None
    view = look_at_all(
        _extent(shape, layout),
        tilt,
        azimuth,
        order.size_px,
        rng.uniform(0.6, 0.9),
        order.distance_mm or far,
    )
    light = LIGHTS[order.light]
    cloth = "white" if order.odd == "white cloth" else CLOTHS[order.seed % 4]
    lamps = (light.lamp, light.fill_lamp, *((order.stray.lamp,) if order.stray else ()))
    palette = make_palette(order.camera, lamps, cloth, _coverage(), order.seed)
    rendered = render(shape, layout, light, view, palette, order.stray)
    bone = rendered.material == BONE
    return BonePhoto(
        order=order,
        jpeg=_expose(rendered, order, rng),
        bone=bone | (rendered.material == TOOTH),
        yellowness=np.interp(
            rendered.grease[bone], np.linspace(0, 1, len(true_yellowness())), true_yellowness()
        ),
    )


@cache
def _coverage() -> Map:
    return ink_coverage()


def _shape(order: SceneOrder, rng: np.random.Generator) -> Shape:
    grease = rng.choice([0.05, 0.35, 0.7]) if order.grease is None else order.grease
    shape = make_shape(order.kind, order.length_mm, grease, order.seed)
    if order.odd == "two skulls":
        return side_by_side(shape)
    if order.odd == "no bone":
        nothing = np.zeros_like(shape.height_mm)
        return Shape(
            side_mm=shape.side_mm,
            height_mm=nothing,
            material=np.zeros_like(shape.material),
            grease=nothing,
        )
    return _with_hand(shape) if order.odd == "hand" else shape


def _with_hand(shape: Shape) -> Shape:
    """Let three fingers reach in, of a colour between blood and bone."""
    height, material = shape.height_mm.copy(), shape.material.copy()
    v, u = np.indices(height.shape) / SAMPLES
    for lane in (0.62, 0.70, 0.78):
        finger = (np.abs(v - lane) < 0.035) & (u > 0.62)
        bulge = 0.09 * shape.side_mm * np.sqrt(np.clip(1 - ((v - lane) / 0.035) ** 2, 0, 1))
        height = np.where(finger, np.maximum(height, bulge), height).astype(np.float32)
        material[finger] = BLOOD
    return Shape(side_mm=shape.side_mm, height_mm=height, material=material, grease=shape.grease)


def _extent(shape: Shape, layout: Layout) -> NDArray[np.float64]:
    """Points around skull and card, shape (n, 3) [mm]."""
    rows, columns = np.nonzero(shape.material)
    step = shape.side_mm / (SAMPLES - 1)
    x, y = columns * step - shape.side_mm / 2, rows * step - shape.side_mm / 2
    cos, sin = np.cos(layout.skull_turn), np.sin(layout.skull_turn)
    skull = np.column_stack([x * cos - y * sin, x * sin + y * cos, shape.height_mm[rows, columns]])
    corners = np.array([[-74, -56, 0], [74, -56, 0], [74, 56, 0], [-74, 56, 0]], dtype=float)
    return np.concatenate([skull[::50], corners + np.array([*layout.card_at_mm, 0])])


def _layout(order: SceneOrder, rng: np.random.Generator) -> Layout:
    """Lay the card beside the skull."""
    apart = order.length_mm * 0.52 + 68 + 14
    return Layout(
        skull_at_mm=(0.0, 0.0),
        skull_turn=rng.uniform(-0.4, 0.4),
        card_at_mm=(-apart, rng.uniform(-0.1, 0.1) * order.length_mm),
        card_turn=rng.uniform(-0.3, 0.3),
        cloth_edge_mm=0.75 * order.length_mm + 130 if rng.random() < 0.25 else None,
    )


def _expose(rendered: Rendered, order: SceneOrder, rng: np.random.Generator) -> bytes:
    camera = PHONE if order.camera == CAMERAS[2] else PLAIN
    exposure = metered(rendered.linear, camera, 99.7, BRIGHTEST)
    return jpeg(expose(rendered.linear, camera, exposure, rng), camera)
