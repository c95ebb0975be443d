"""The bench: wall, table, sheet, jar of water, tag, lamp and camera as a Mitsuba scene.

World coordinates are the sheet's, in mm, with y turned upward: (x, -y, z), z towards the camera.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from greasecheck.reference import known_sheets
from sample_images.sheet_texture import MARGIN_MM, sheet_raster, tag_raster

Vector = tuple[float, float, float]
Spec = dict[str, Any]

WATER_IOR = 1.333
GLASS_IOR = 1.49
WALL_MM = 2.5
PATH_MM = 60.0
INNER_WIDTH_MM = 80.0
JAR_GAP_MM = 2.0
JAR_CENTRE_X_MM = 90.0
JAR_TOP_Y_MM = 70.0
TABLE_Y_MM = 190.0
SHEET_WIDTH_MM = 260.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """Optical properties of the water, one value for each of R, G, B.

    Attributes
    ----------
    extinction_per_m : Vector
        Beam attenuation [1/m].
    albedo : float
        Share of the extinction that is scatter [0..1].
    g : float
        Mean cosine of the Henyey-Greenstein phase function.
    """

    extinction_per_m: Vector
    albedo: float
    g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """Where the camera stands and what it frames.

    Attributes
    ----------
    origin, target : Vector
        Camera and aim in sheet coordinates [mm].
    fov_deg : float
        Horizontal field of view [degrees].
    size_px : tuple of int
        Width and height of the frame.
    """

    origin: Vector
    target: Vector
    fov_deg: float
    size_px: tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """Radiance of the room and of the lamp panel, linear R, G, B.

    Attributes
    ----------
    room, lamp : Vector
        Radiance [paper white under unit irradiance / pi].
    lamp_centre : Vector
        Centre of the panel in sheet coordinates [mm]; it faces the jar.
    lamp_half_mm : tuple of float
        Half width and half height of the panel.
    """

    room: Vector = (0.50, 0.52, 0.56)
    lamp: Vector = (1.42, 1.13, 0.81)
    lamp_centre: Vector = (60.0, -640.0, 560.0)
    lamp_half_mm: tuple[float, float] = (520.0, 380.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """What stands on the bench for one photograph."""

    water: Water
    tag: int | None
    light: Light = field(default_factory=Light)
    level_y_mm: float = 88.0
    sheet: bool = True
    extras: Spec = field(default_factory=dict)


@cache
def mitsuba() -> Any:  # noqa: ANN401 - Mitsuba's module is untyped
    """Import Mitsuba with its compiled variant; LLVM 16 or later must be installed."""
    library = Path("/usr/lib/x86_64-linux-gnu/libLLVM-19.so")
    if library.exists():
        os.environ.setdefault("DRJIT_LIBLLVM_PATH", str(library))
    import mitsuba as mi  # noqa: PLC0415 - the variant and the library's path come first

    mi.set_variant("llvm_ad_rgb")
    return mi


def world(point: Vector) -> np.ndarray:
    """Turn sheet coordinates [mm] into world coordinates [mm]."""
    return np.array([point[0], -point[1], point[2]])


def quad(centre: Vector, half_u: Vector, half_v: Vector, **parts: Any) -> Spec:  # noqa: ANN401 - Mitsuba specs
    """Return a rectangle by its centre and half edges; its normal is u x v in world coordinates."""
    u, v = world(half_u), world(half_v)
    normal = np.cross(u, v)
    matrix = np.eye(4)
    matrix[:3, 0], matrix[:3, 1] = u, v
    matrix[:3, 2], matrix[:3, 3] = normal / np.linalg.norm(normal), world(centre)
    return {"type": "rectangle", "to_world": mitsuba().ScalarTransform4f(matrix), **parts}


def rgb(values: Vector) -> Spec:
    """Return a Mitsuba colour of linear R, G, B."""
    return {"type": "rgb", "value": list(values)}


def diffuse(colour: Vector | Spec) -> Spec:
    """Return a matte surface of a colour or a texture, visible from both sides."""
    reflectance = colour if isinstance(colour, dict) else rgb(colour)
    return {"type": "twosided", "nested": {"type": "diffuse", "reflectance": reflectance}}


def bitmap(raster: np.ndarray) -> Spec:
    """Return a texture of linear reflectance, shape (rows, columns, 3), the first row on top."""
    return {
        "type": "bitmap", "bitmap": mitsuba().Bitmap(np.ascontiguousarray(raster[::-1])),
        "raw": True, "filter_type": "bilinear", "wrap_mode": "clamp",
    }  # fmt: skip


def build(stand: Stand, view: View, crop: tuple[int, int, int, int] | None = None) -> Any:  # noqa: ANN401 - Mitsuba is untyped
    """Return the Mitsuba scene of a stand; crop is left, top, width, height [px] in the frame."""
    spec: Spec = {"type": "scene", "sensor": _sensor(view, crop)}
    spec |= _room(stand.light) | _jar(stand)
    if stand.sheet:
        width = SHEET_WIDTH_MM + 2 * MARGIN_MM
        centre = (SHEET_WIDTH_MM / 2, (TABLE_Y_MM - MARGIN_MM) / 2, 0.0)
        spec["sheet"] = _card(sheet_raster(), centre, width, TABLE_Y_MM + MARGIN_MM)
    if stand.tag is not None:
        slot = known_sheets()[0].tag_slot
        centre = (slot.x_mm + slot.width_mm / 2, slot.y_mm + slot.height_mm / 2, 0.4)
        spec["tag"] = _card(tag_raster(stand.tag), centre, slot.width_mm, slot.height_mm)
    return mitsuba().load_dict(spec | stand.extras)


def _sensor(view: View, crop: tuple[int, int, int, int] | None) -> Spec:
    width, height = view.size_px
    film: Spec = {
        "type": "hdrfilm", "width": width, "height": height, "rfilter": {"type": "box"},
        "pixel_format": "rgb", "component_format": "float32",
    }  # fmt: skip
    if crop is not None:
        names = ("crop_offset_x", "crop_offset_y", "crop_width", "crop_height")
        film |= dict(zip(names, crop, strict=True))
    pose = mitsuba().ScalarTransform4f().look_at(
        origin=world(view.origin), target=world(view.target), up=[0.0, 1.0, 0.0]
    )  # fmt: skip
    return {
        "type": "perspective", "fov": view.fov_deg, "fov_axis": "x", "to_world": pose,
        "film": film, "sampler": {"type": "independent"},
    }  # fmt: skip


def _room(light: Light) -> Spec:
    half_x, half_y = light.lamp_half_mm
    towards = world((100.0, 120.0, 30.0)) - world(light.lamp_centre)
    side = np.cross(towards, [0.0, 1.0, 0.0])
    up = np.cross(side, towards)
    u = tuple(side / np.linalg.norm(side) * half_x * (1, -1, 1))
    v = tuple(up / np.linalg.norm(up) * half_y * (1, -1, 1))
    return {
        "sky": {"type": "constant", "radiance": rgb(light.room)},
        "lamp": quad(light.lamp_centre, u, tuple(-np.array(v)),
                     emitter={"type": "area", "radiance": rgb(light.lamp)}),
        "wall": quad((0, 0, -4.0), (3000, 0, 0), (0, 3000, 0), bsdf=diffuse((0.36, 0.40, 0.38))),
        "table": quad((0, TABLE_Y_MM, 0), (3000, 0, 0), (0, 0, 3000),
                      bsdf=diffuse((0.34, 0.26, 0.19))),
    }  # fmt: skip


def _card(raster: np.ndarray, centre: Vector, width: float, height: float) -> Spec:
    surface = diffuse(bitmap(raster))
    return quad(centre, (width / 2, 0, 0), (0, -height / 2, 0), bsdf=surface)


def _jar(stand: Stand) -> Spec:
    half = INNER_WIDTH_MM / 2
    back = JAR_GAP_MM + WALL_MM
    inner = _Cavity(-half, half, back, back + PATH_MM)
    outer = _Cavity(-half - WALL_MM, half + WALL_MM, JAR_GAP_MM, back + PATH_MM + WALL_MM)
    floor = TABLE_Y_MM - 0.2
    glass = _interface(GLASS_IOR, 1.0)
    wet: Spec = {"bsdf": _interface(WATER_IOR, GLASS_IOR), "interior": _medium(stand.water)}
    level, bottom = stand.level_y_mm, floor - WALL_MM
    spec = _sides("outer", outer, JAR_TOP_Y_MM, floor, bsdf=glass)
    spec |= _sides("dry", inner, JAR_TOP_Y_MM, level, bsdf=_interface(1.0, GLASS_IOR))
    spec |= _sides("wet", inner, level, bottom, **wet)
    spec["outer_base"] = _lid(outer, floor, up=False, bsdf=glass)
    spec["wet_base"] = _lid(inner, bottom, up=False, **wet)
    surface = {"bsdf": _interface(WATER_IOR, 1.0), "interior": _medium(stand.water)}
    spec["surface"] = _lid(inner, level, up=True, **surface)
    return spec | _rim(inner, outer, glass)


@dataclass(frozen=True, slots=True)
class _Cavity:
    left: float  # from the jar's middle
    right: float
    back: float
    front: float


def _interface(inside: float, outside: float) -> Spec:
    return {"type": "dielectric", "int_ior": inside, "ext_ior": outside}


def _medium(water: Water) -> Spec:
    red, green, blue = water.extinction_per_m
    return {
        "type": "homogeneous", "sigma_t": rgb((red / 1000.0, green / 1000.0, blue / 1000.0)),
        "albedo": water.albedo, "phase": {"type": "hg", "g": water.g},
    }  # fmt: skip


def _sides(name: str, box: _Cavity, top: float, bottom: float, **parts: Any) -> Spec:  # noqa: ANN401 - Mitsuba is untyped
    x, y, z = JAR_CENTRE_X_MM, (top + bottom) / 2, (box.back + box.front) / 2
    half_y, half_z, half_x = (bottom - top) / 2, (box.front - box.back) / 2, box.right
    up = (0.0, -half_y, 0.0)
    return {
        f"{name}_front": quad((x, y, box.front), (half_x, 0, 0), up, **parts),
        f"{name}_back": quad((x, y, box.back), (-half_x, 0, 0), up, **parts),
        f"{name}_right": quad((x + half_x, y, z), (0, 0, -half_z), up, **parts),
        f"{name}_left": quad((x - half_x, y, z), (0, 0, half_z), up, **parts),
    }


def _lid(box: _Cavity, y: float, *, up: bool, **parts: Any) -> Spec:  # noqa: ANN401 - Mitsuba specs
    half_z = (box.front - box.back) / 2 * (-1 if up else 1)
    centre = (JAR_CENTRE_X_MM, y, (box.front + box.back) / 2)
    return quad(centre, (box.right, 0, 0), (0, 0, half_z), **parts)


def _rim(inner: _Cavity, outer: _Cavity, glass: Spec) -> Spec:
    x, y, half = JAR_CENTRE_X_MM, JAR_TOP_Y_MM, WALL_MM / 2
    mid = (inner.back + inner.front) / 2
    deep, wide = (0, 0, -(inner.front - inner.back) / 2), (outer.right, 0, 0)
    return {
        "rim_front": quad((x, y, inner.front + half), wide, (0, 0, -half), bsdf=glass),
        "rim_back": quad((x, y, inner.back - half), wide, (0, 0, -half), bsdf=glass),
        "rim_right": quad((x + inner.right + half, y, mid), (half, 0, 0), deep, bsdf=glass),
        "rim_left": quad((x - inner.right - half, y, mid), (half, 0, 0), deep, bsdf=glass),
    }


def use_threads(count: int) -> None:
    """Limit the renderer to this many threads."""
    mitsuba()
    import drjit  # noqa: PLC0415 - after the variant is set

    drjit.set_thread_count(count)
