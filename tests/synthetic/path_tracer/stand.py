"""The stand of sheet version 2 in the path tracer: its lamps and waters, and what they render."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tests.synthetic.path_tracer.tracer import (
    FloatArray,
    Medium,
    Rays,
    Rectangle,
    Room,
    Scene,
    Texture,
    Vector,
    Vessel,
    trace,
)

JAR = (48.0, 133.0, 60.0, 189.95, 2.0, 67.0)
WALL_MM, SURFACE_Y = 2.5, 92.0
EYE: Vector = (150.0, 95.0, 700.0)
AIM = np.array([100.0, 120.0, 0.0])  # where lamps point
PRINT = (-40.0, 300.0, -40.0, 190.0)  # x0, x1, y0, y1 of the board with the sheet
PITCH_MM = 5.0  # of the map of light on the sheet
NEAR = (40.0, 145.0, 55.0, 190.0)  # behind and beside the jar, where it is twice as fine


class Grid(NamedTuple):
    """Square cells over a box (x0, x1, y0, y1) of the sheet's plane."""

    box: tuple[float, float, float, float]
    pitch_mm: float

    @property
    def shape(self) -> tuple[int, int]:
        """Return its rows and columns."""
        x0, x1, y0, y1 = self.box
        return round((y1 - y0) / self.pitch_mm), round((x1 - x0) / self.pitch_mm)


FAR_GRID, NEAR_GRID = Grid(PRINT, PITCH_MM), Grid(NEAR, PITCH_MM / 2)
COLUMN_MM, COLUMNS_FROM_MM, COLUMNS = 0.3, 54.0, 240
BANDS = np.array(  # edges of the rows of scattered light, along those of the bars [mm]
    [
        *(62, 64, 68, 72, 76, 80, 84, 92, 100, 108, 116, 124, 132, 136, 140, 144, 148, 152, 156),
        *(158, 162, 166, 170, 174, 178, 182, 186),
    ],
    dtype=np.float64,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """Lamps and the room they stand in."""

    lamps: tuple[Rectangle, ...]
    room: Room = field(default_factory=Room)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rendered:
    """Light of one stand: on the sheet, and scattered or reflected by the jar towards the eye.

    `far` and `near` are irradiance over grids of the board and of `NEAR`, `scattered` is radiance,
    shape (bands, columns, 3).
    """

    far: NDArray[np.float32]
    near: NDArray[np.float32]
    scattered: NDArray[np.float32]


def lamp(centre: Vector, size_mm: tuple[float, float], radiance: float = 1.0) -> Rectangle:
    """Return a lamp that points at the sheet."""
    middle = np.array(centre)
    towards = (AIM - middle) / np.linalg.norm(AIM - middle)
    up = np.array([0.0, -1.0, 0.0]) if abs(towards[1]) < 0.95 else np.array([0.0, 0.0, 1.0])
    u = np.cross(up, towards)
    u /= np.linalg.norm(u)
    v = np.cross(towards, u)
    half_u, half_v = u * size_mm[0] / 2, v * size_mm[1] / 2
    return Rectangle(
        centre=centre,
        half_u=(half_u[0], half_u[1], half_u[2]),
        half_v=(half_v[0], half_v[1], half_v[2]),
        colour=(radiance, radiance, radiance),
        lamp=True,
    )


def scene(light: Light, medium: Medium) -> Scene:
    """Return the stand with its jar of water."""
    x0, x1, y0, y1 = PRINT
    board = Rectangle(
        centre=((x0 + x1) / 2, (y0 + y1) / 2, 0.0),
        half_u=((x1 - x0) / 2, 0.0, 0.0),
        half_v=(0.0, (y1 - y0) / 2, 0.0),
        textured=True,
    )
    jar = Vessel(outer=JAR, wall_mm=WALL_MM, surface_y=SURFACE_Y)
    return Scene(vessel=jar, medium=medium, rectangles=(board, *light.lamps), room=light.room)


def render(stand: Scene, texture: Texture, effort: float, seed: int) -> Rendered:
    """Trace a stand; `effort` scales the number of paths, 1 for a finished picture."""
    far = irradiance(stand, texture, FAR_GRID, round(3000 * effort), seed)
    near = irradiance(stand, texture, NEAR_GRID, round(10000 * effort), seed + 1)
    near = smooth(near, 1.0)
    seen = scattered(stand, texture, round(4000 * effort), seed + 2, combined_light(far, near))
    return Rendered(far=far.astype(np.float32), near=near.astype(np.float32), scattered=seen)


def combined_light(far: FloatArray, near: FloatArray) -> FloatArray:
    """Return the light over the board at the pitch of `near`."""
    fine = np.repeat(np.repeat(far, 2, axis=0), 2, axis=1)
    fine = smooth(fine, 1.0)
    step = PITCH_MM / 2
    row, column = round((NEAR[2] - PRINT[2]) / step), round((NEAR[0] - PRINT[0]) / step)
    fine[row : row + near.shape[0], column : column + near.shape[1]] = near
    return fine


def smooth(grid: FloatArray, cells: float) -> FloatArray:
    """Blur a grid, shape (rows, columns, k), by a Gaussian of so many cells; edges repeat."""
    reach = int(np.ceil(3 * cells))
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / cells) ** 2)
    kernel /= kernel.sum()
    for axis in (0, 1):
        pad = [(0, 0)] * grid.ndim
        pad[axis] = (reach, reach)
        wide = np.pad(grid, pad, mode="edge")
        size = grid.shape[axis]
        grid = sum(w * np.take(wide, range(k, k + size), axis=axis) for k, w in enumerate(kernel))
    return grid


def irradiance(
    stand: Scene,
    texture: Texture,
    grid: Grid,
    paths: int,
    seed: int,
    of_sheet: FloatArray | None = None,
) -> FloatArray:
    """Trace the light that falls on a grid of the sheet, shape (rows, columns, 3).

    With the light `of_sheet`, as `combined_light` returns it, all comes from the sheet itself.
    """
    (rows, columns), pitch_mm = grid.shape, grid.pitch_mm
    x = grid.box[0] + pitch_mm * (np.arange(columns) + 0.5)
    y = grid.box[2] + pitch_mm * (np.arange(rows) + 0.5)
    places = np.stack(np.meshgrid(x, y), axis=-1)
    targets = np.concatenate([places, np.zeros((rows, columns, 1))], axis=-1).reshape(-1, 3)
    rays = Rays(
        targets=targets,
        origin=(0.0, 0.0, 1.0),
        jitter_u=(pitch_mm, 0.0, 0.0),
        jitter_v=(0.0, pitch_mm, 0.0),
        paths=paths,
        irradiance=True,
        seed=seed,
    )
    return trace(stand, texture, rays, of_sheet).reshape(rows, columns, 3)


def scattered(
    stand: Scene, texture: Texture, paths: int, seed: int, light: FloatArray
) -> NDArray[np.float32]:
    """Trace what jar and water send to the eye of a sheet's light, shape (bands, columns, 3)."""
    seen = trace(stand, texture, _view(paths, seed), light)
    return seen.reshape(len(BANDS) - 1, COLUMNS, 3).astype(np.float32)


def _view(paths: int, seed: int) -> Rays:
    x = COLUMNS_FROM_MM + COLUMN_MM * (np.arange(COLUMNS) + 0.5)
    y = (BANDS[:-1] + BANDS[1:]) / 2
    grid = np.stack(np.meshgrid(x, y), axis=-1)
    targets = np.concatenate([grid, np.zeros((*grid.shape[:2], 1))], axis=-1).reshape(-1, 3)
    return Rays(
        targets=targets,
        origin=EYE,
        jitter_u=(COLUMN_MM, 0.0, 0.0),
        jitter_v=(0.0, 3.0, 0.0),
        paths=paths,
        seed=seed,
    )
