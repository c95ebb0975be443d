"""Describes scenes to the path tracer, which is compiled on first use, and runs it.

`tracer.cpp` is compiled by g++ for the processor, or by nvcc where `TRACER_CUDA` in the
environment names an architecture (`sm_90`). Lengths are in mm, y points down, extinction is given
in 1/m.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import subprocess
import tempfile
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Vector = tuple[float, float, float]

SOURCE = Path(__file__).with_name("tracer.cpp")
MAX_RECTANGLES = 12
OPEN_MM = 1.0  # the inside of a vessel reaches beyond its rim, so that it is open above


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectangle:
    """A flat rectangle: a print, a board or a lamp.

    `colour` is its reflectance, or its radiance when it is a lamp, which shines to the side that
    half_u x half_v points to. A textured one shows the texture, the scene's first rectangle only
    may be looked up in a map of irradiance.
    """

    centre: Vector
    half_u: Vector
    half_v: Vector
    colour: Vector = (1.0, 1.0, 1.0)
    lamp: bool = False
    textured: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Vessel:
    """A box of walls, open above, with a medium up to a level; boxes are x0, x1, y0, y1, z0, z1."""

    outer: tuple[float, float, float, float, float, float]
    wall_mm: float
    surface_y: float
    opaque: Vector | None = None  # reflectance of diffuse walls; None for clear ones
    wall_index: float = 1.49
    medium_index: float = 1.333

    @property
    def inner(self) -> tuple[float, ...]:
        """Return the inside, reaching out above."""
        x0, x1, y0, y1, z0, z1 = self.outer
        wall = self.wall_mm
        return x0 + wall, x1 - wall, y0 - OPEN_MM, y1 - wall, z0 + wall, z1 - wall


@dataclass(frozen=True, slots=True, kw_only=True)
class Medium:
    """Water: extinction [1/m] and albedo for R, G, B, and the mean cosine of scattering."""

    extinction_per_m: Vector
    albedo: Vector
    asymmetry: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """The room's inside, the reflectance of its faces (x0, x1, y0, y1, z0, z1), its own light."""

    box: tuple[float, float, float, float, float, float] = (
        -1500.0,
        1700.0,
        -1400.0,
        190.0,
        -1500.0,
        2400.0,
    )
    reflectance: tuple[float, ...] = (0.5, 0.5, 0.6, 0.35, 0.5, 0.5)
    radiance: Vector = (0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """Everything that light meets."""

    vessel: Vessel
    medium: Medium
    rectangles: tuple[Rectangle, ...]
    room: Room = field(default_factory=Room)

    def packed(self) -> FloatArray:
        """Return the scene as the doubles of `Scene` in tracer.cpp."""
        vessel, medium, room = self.vessel, self.medium, self.room
        walls = vessel.opaque or (0.0, 0.0, 0.0)
        head = [
            *vessel.outer,
            *vessel.inner,
            vessel.surface_y,
            vessel.wall_index,
            vessel.medium_index,
            float(vessel.opaque is not None),
            *walls,
            *(value / 1000 for value in medium.extinction_per_m),
            *medium.albedo,
            medium.asymmetry,
            *room.box,
            *room.reflectance,
            *room.radiance,
            float(len(self.rectangles)),
        ]
        rows = [
            [*r.centre, *r.half_u, *r.half_v, *r.colour, float(r.lamp), float(r.textured)]
            for r in self.rectangles
        ]
        rows += [[0.0] * 14] * (MAX_RECTANGLES - len(rows))
        return np.array([*head, *np.ravel(rows)], dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Texture:
    """A print: codes, shape (height, width, 3), and the reflectance of each of 256 codes."""

    codes: NDArray[np.uint8]
    reflectance: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Rays:
    """Cells to look at from `origin`, or points on a surface whose normal is `origin`.

    `targets` has the shape (cells, 3); a cell reaches half of `jitter_u` and `jitter_v` to each
    side; `paths` are followed for each.
    """

    targets: FloatArray
    origin: Vector
    jitter_u: Vector
    jitter_v: Vector
    paths: int
    irradiance: bool = False
    seed: int = 1


def trace(
    scene: Scene, texture: Texture, rays: Rays, irradiance: FloatArray | None = None
) -> FloatArray:
    """Return the radiance seen in each cell, or the irradiance of each point, shape (cells, 3).

    Parameters
    ----------
    scene, texture, rays
        What is there and where to look.
    irradiance : ndarray, shape (rows, columns, 3), optional
        Light on the first rectangle. Paths then end there, and rays that reach it neither
        scattered nor reflected are left out: they are known exactly.
    """
    targets = np.ascontiguousarray(rays.targets, dtype=np.float64)
    out = np.zeros_like(targets)
    codes = np.ascontiguousarray(texture.codes)
    reflectance = np.ascontiguousarray(texture.reflectance, dtype=np.float64)
    light = None if irradiance is None else np.ascontiguousarray(irradiance, dtype=np.float64)
    columns, rows = (0, 0) if light is None else (light.shape[1], light.shape[0])
    packed = scene.packed()
    vectors = [np.array(v, dtype=np.float64) for v in (rays.origin, rays.jitter_u, rays.jitter_v)]
    problem = _library().trace(
        _at(packed), _at(codes), _at(reflectance), codes.shape[1], codes.shape[0],
        None if light is None else _at(light), columns, rows,
        _at(targets), len(targets), *(_at(v) for v in vectors),
        int(rays.irradiance), rays.paths, ctypes.c_uint64(rays.seed), _at(out),
    )  # fmt: skip
    if problem:
        raise RuntimeError(f"CUDA error {problem}")
    return out


def available() -> bool:
    """Whether a compiler is there."""
    return shutil.which(_compiler()[0]) is not None


def _compiler() -> list[str]:
    architecture = os.environ.get("TRACER_CUDA")
    if architecture:
        flags = [f"-arch={architecture}", "-shared", "-Xcompiler", "-fPIC", "-x", "cu"]
        return ["nvcc", "-O3", *flags]
    return ["g++", "-O3", "-shared", "-fPIC", "-std=c++14"]


@cache
def _library() -> Any:  # noqa: ANN401 - ctypes knows no type for a library's functions
    built = Path(tempfile.mkdtemp(prefix="tracer-")) / "tracer.so"
    subprocess.run([*_compiler(), "-o", str(built), str(SOURCE)], check=True)
    return ctypes.CDLL(str(built))


def _at(array: NDArray[Any]) -> Any:  # noqa: ANN401 - as above
    return array.ctypes.data_as(ctypes.c_void_p)
