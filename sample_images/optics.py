"""Where points of the sheet appear in the frame, seen directly or through the jar."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq

from sample_images.scene import (
    GLASS_IOR,
    JAR_GAP_MM,
    PATH_MM,
    WALL_MM,
    WATER_IOR,
    Vector,
    View,
    world,
)

if TYPE_CHECKING:
    import numpy.typing as npt

    Array = npt.NDArray[np.float64]

SLABS = (  # thickness [mm] and refractive index, from the sheet towards the camera
    (JAR_GAP_MM, 1.0),
    (WALL_MM, GLASS_IOR),
    (PATH_MM, WATER_IOR),
    (WALL_MM, GLASS_IOR),
)


def pixel(view: View, point: Vector) -> Array:
    """Return the position [px] of a point given in sheet coordinates [mm]."""
    forward = world(view.target) - world(view.origin)
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, [0.0, 1.0, 0.0])
    right /= np.linalg.norm(right)
    ray = world(point) - world(view.origin)
    up = np.cross(right, forward)
    width, height = view.size_px
    scale = width / 2 / np.tan(np.radians(view.fov_deg / 2)) / (ray @ forward)
    return np.array([width / 2 + scale * (ray @ right), height / 2 - scale * (ray @ up)])


def pixel_through_water(view: View, x_mm: float, y_mm: float) -> Array:
    """Return the position [px] of a point of the sheet seen through the filled jar."""
    offset = np.array([x_mm - view.origin[0], y_mm - view.origin[1]])
    distance = float(np.linalg.norm(offset))
    sine = brentq(lambda value: _reach(value, view.origin[2]) - distance, 0.0, 0.999)
    shift = view.origin[2] * sine / np.sqrt(1 - sine**2) * offset / distance
    return pixel(view, (view.origin[0] + shift[0], view.origin[1] + shift[1], 0.0))


def _reach(sine: float, origin_z: float) -> float:
    """Return how far [mm] sideways a ray with this sine in air comes on its way to the sheet."""
    air = origin_z - sum(thickness for thickness, _ in SLABS)
    layers = ((air, 1.0), *SLABS)
    return float(sum(depth * (sine / n) / np.sqrt(1 - (sine / n) ** 2) for depth, n in layers))
