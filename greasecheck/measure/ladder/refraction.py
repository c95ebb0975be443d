"""How a camera sees a plate that stands in water: straight above the surface, bent below it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.reference.water import WATER_INDEX

if TYPE_CHECKING:
    from greasecheck.model import FloatArray

ROUNDS, NEAR_ENOUGH_MM = 12, 1e-6  # of Newton's method; the error is the square of a step


@dataclass(frozen=True, slots=True, kw_only=True)
class Eye:
    """A camera that sees a plate.

    Attributes
    ----------
    matrix : ndarray, shape (3, 3)
        Camera matrix [px].
    rotation : ndarray, shape (3, 3)
        From plate (x right, y down, z into the plate) to camera axes.
    place_mm : ndarray, shape (3,)
        The camera in plate coordinates; z is negative before the plate.
    residual_px : float
        Root-mean-square distance of the markers' corners from the fit [px].
    """

    matrix: FloatArray
    rotation: FloatArray
    place_mm: FloatArray
    residual_px: float

    def project(self, points_mm: FloatArray) -> FloatArray:
        """Return the pixels, shape (n, 2), of points, shape (n, 3), in plate coordinates."""
        seen = (points_mm - self.place_mm) @ self.rotation.T @ self.matrix.T
        pixels: FloatArray = seen[:, :2] / seen[:, 2:]
        return pixels


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """The water's surface on a plate.

    Attributes
    ----------
    level_mm : float
        y of the surface at the plate's middle [mm].
    lean_rad, roll_rad : float
        Turn of the plate against the upright: its upper end towards the camera, and clockwise.
    middle_mm : float
        x of the plate's middle [mm].
    """

    level_mm: float
    lean_rad: float
    roll_rad: float
    middle_mm: float

    @property
    def up(self) -> FloatArray:
        """Return the upright, a unit vector in plate coordinates, shape (3,)."""
        lean, roll = self.lean_rad, self.roll_rad
        return np.array([-np.sin(roll) * np.cos(lean), -np.cos(roll) * np.cos(lean), np.sin(lean)])

    def height_mm(self, points_mm: FloatArray) -> FloatArray:
        """Return the height of points, shape (n, 3), above the surface, shape (n,) [mm]."""
        heights: FloatArray = (points_mm - np.array([self.middle_mm, self.level_mm, 0.0])) @ self.up
        return heights


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """Sight lines from a camera to places on a plate.

    Attributes
    ----------
    pixels : ndarray, shape (n, 2)
        Where each place is seen [px].
    path_mm : ndarray, shape (n,)
        Way through the water [mm]; 0 above it.
    depth_mm : ndarray, shape (n,)
        Depth below the surface [mm]; negative above it.
    cos_air : ndarray, shape (n,)
        Cosine of the angle between sight line and upright in the air; NaN above the water.
    mirrored_mm : ndarray, shape (n,)
        y on the plate of what the surface mirrors into the sight line [mm], less the higher it is;
        NaN above the water, minus infinity where the mirror image is none of the plate's plane.
    """

    pixels: FloatArray
    path_mm: FloatArray
    depth_mm: FloatArray
    cos_air: FloatArray
    mirrored_mm: FloatArray


def look(eye: Eye, surface: Surface, plate_mm: FloatArray) -> Sight:
    """Follow the sight lines to places on the plate, shape (n, 2) [mm].

    Below the surface by Snell's law: the crossing is where sin(air) = n sin(water), found by
    Newton's method on the plane that holds camera, place and upright.
    """
    points = np.column_stack([plate_mm, np.zeros(len(plate_mm))])
    height = surface.height_mm(points)
    wet = height < 0
    crossing = points.copy()
    path = np.zeros(len(points))
    cos_air, mirrored = np.full((2, len(points)), np.nan)
    if wet.any():
        crossing[wet], path[wet], cos_air[wet] = _crossings(eye, surface, points[wet])
        mirrored[wet] = _mirrored_mm(eye, surface, crossing[wet])
    return Sight(
        pixels=eye.project(crossing),
        path_mm=path,
        depth_mm=-height,
        cos_air=cos_air,
        mirrored_mm=mirrored,
    )


def _crossings(
    eye: Eye, surface: Surface, points: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return where sight lines cross the surface, their way below it, their cosine in air."""
    above = float(surface.height_mm(eye.place_mm[np.newaxis])[0])
    depth = -surface.height_mm(points)
    foot = points + depth[:, None] * surface.up  # on the surface, straight above the points
    level = (eye.place_mm - above * surface.up) - foot
    distance = np.linalg.norm(level, axis=1)
    near = _solve(distance, above, depth)
    crossing = foot + level * (near / np.maximum(distance, 1e-9))[:, None]
    path = np.hypot(near, depth)
    cos_air = above / np.hypot(distance - near, above)
    return crossing, path, cos_air


def _mirrored_mm(eye: Eye, surface: Surface, crossing: FloatArray) -> FloatArray:
    """Return y where sight lines that the surface mirrors at these points meet the plate [mm]."""
    way = crossing - eye.place_mm
    way = way - 2 * (way @ surface.up)[:, None] * surface.up
    towards = way[:, 2] > 0
    reach = -crossing[:, 2] / np.where(towards, way[:, 2], 1.0)
    return np.where(towards, crossing[:, 1] + reach * way[:, 1], -np.inf)


def _solve(distance: FloatArray, above: float, depth: FloatArray) -> FloatArray:
    """Solve Snell's law for the level distance between a point and the crossing [mm]."""
    near = distance * depth / (depth + WATER_INDEX * max(above, 1e-3))
    for _ in range(ROUNDS):
        far = distance - near
        air, water = np.hypot(far, above), np.hypot(near, depth)
        miss = far / air - WATER_INDEX * near / water
        slope = -(above**2) / air**3 - WATER_INDEX * depth**2 / np.maximum(water, 1e-9) ** 3
        before = near
        near = np.minimum(np.maximum(near - miss / slope, 0.0), distance)
        if np.abs(near - before).max() < NEAR_ENOUGH_MM:
            break
    return near
