"""Skulls as heights above the cloth: six invented kinds, none of them the sample's fox."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Map = NDArray[np.float32]

SAMPLES = 620  # along a skull's longer side
BONE, ANTLER, TOOTH, BLOOD = 1, 2, 3, 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """Heights over a square of the cloth, each array shaped (n, n).

    Attributes
    ----------
    side_mm : float
        Side of the square [mm], centred on the origin.
    height_mm : ndarray
        Height above the cloth [mm]; 0 on the cloth.
    material : ndarray, uint8
        0 for cloth, else one of `BONE`, `ANTLER`, `TOOTH`, `BLOOD`.
    grease : ndarray
        Grease, 0 to 1.
    """

    side_mm: float
    height_mm: Map
    material: NDArray[np.uint8]
    grease: Map


@dataclass(slots=True)
class _Clay:
    """A height field under construction, in units of the skull's length."""

    u: Map
    v: Map
    height: Map
    material: NDArray[np.uint8]

    def put(self, top: Map, material: int = BONE) -> None:
        higher = top > self.height
        self.height = np.where(higher, top, self.height)
        self.material = np.where(higher, np.uint8(material), self.material)

    def blob(
        self,
        at: tuple[float, float],
        radii: tuple[float, float],
        height: float,
        material: int = BONE,
        turn: float = 0.0,
    ) -> None:
        """Add an ellipsoid that stands on the cloth."""
        du, dv = self.u - at[0], self.v - at[1]
        cos, sin = np.cos(turn), np.sin(turn)
        q = ((du * cos + dv * sin) / radii[0]) ** 2 + ((dv * cos - du * sin) / radii[1]) ** 2
        self.put((height * np.sqrt(np.clip(1 - q, 0, None))).astype(np.float32), material)

    def tube(
        self, points: list[tuple[float, float]], radius: float, height: float, material: int = BONE
    ) -> None:
        """Add a bent tube, its middle at `height`."""
        distance = np.full(self.u.shape, 9.0, np.float32)
        for (u0, v0), (u1, v1) in pairwise(points):
            du, dv = u1 - u0, v1 - v0
            t = np.clip(((self.u - u0) * du + (self.v - v0) * dv) / (du * du + dv * dv), 0, 1)
            distance = np.minimum(distance, np.hypot(self.u - u0 - t * du, self.v - v0 - t * dv))
        bulge = np.sqrt(np.clip(radius**2 - distance**2, 0, None))
        self.put(np.where(distance < radius, height + bulge, 0).astype(np.float32), material)

    def pit(self, at: tuple[float, float], radii: tuple[float, float], depth: float) -> None:
        """Press a pit into the surface; the cloth is not seen through it."""
        q = ((self.u - at[0]) / radii[0]) ** 2 + ((self.v - at[1]) / radii[1]) ** 2
        lower = self.height - (depth * np.clip(1 - q, 0, None) ** 0.5).astype(np.float32)
        pressed = np.maximum(lower, 0.15 * self.height)
        self.height = np.where((q < 1) & (self.material > 0), pressed, self.height)

    def hole(self, at: tuple[float, float], radii: tuple[float, float]) -> None:
        """Cut a hole through which the cloth is seen."""
        q = ((self.u - at[0]) / radii[0]) ** 2 + ((self.v - at[1]) / radii[1]) ** 2
        self.height = np.where(q < 1, np.float32(0), self.height)
        self.material = np.where(q < 1, np.uint8(0), self.material)


def _arched(clay: _Clay) -> None:
    clay.blob((-0.16, 0.0), (0.30, 0.17), 0.24)
    clay.blob((0.22, 0.0), (0.27, 0.10), 0.15)
    for side in (-1, 1):
        points = [(-0.26, 0.13), (-0.17, 0.27), (0.0, 0.29), (0.14, 0.22), (0.22, 0.07)]
        clay.tube([(u, side * v) for u, v in points], 0.022, 0.09)
        clay.pit((0.12, side * 0.08), (0.06, 0.045), 0.10)


def _round(clay: _Clay) -> None:
    clay.blob((-0.12, 0.0), (0.36, 0.33), 0.34)
    clay.blob((0.28, 0.0), (0.20, 0.16), 0.17)
    for side in (-1, 1):
        clay.pit((0.20, side * 0.12), (0.085, 0.075), 0.14)


def _antlered(clay: _Clay) -> None:
    clay.blob((-0.02, -0.16), (0.17, 0.10), 0.15)
    clay.blob((0.22, -0.16), (0.22, 0.065), 0.10)
    for side in (-1, 1):
        v = -0.16
        points = [(-0.10, v + side * 0.07), (-0.24, v + side * 0.18), (-0.34, v + side * 0.30)]
        clay.tube(points, 0.026, 0.10, ANTLER)
        clay.tube([points[1], (-0.10, v + side * 0.28)], 0.018, 0.10, ANTLER)
        clay.tube([points[2], (-0.22, v + side * 0.36)], 0.016, 0.09, ANTLER)


def _toothed(clay: _Clay) -> None:
    clay.blob((-0.20, 0.0), (0.26, 0.19), 0.25)
    clay.blob((0.20, 0.0), (0.29, 0.105), 0.16)
    for side in (-1, 1):
        for place in np.linspace(0.0, 0.34, 7):
            clay.blob((place, side * 0.105), (0.022, 0.024), 0.075, TOOTH)
        clay.tube([(0.40, side * 0.09), (0.47, side * 0.16)], 0.016, 0.05, TOOTH)


def _two_pieces(clay: _Clay) -> None:
    clay.blob((-0.18, 0.16), (0.28, 0.15), 0.22)
    clay.blob((0.18, 0.16), (0.27, 0.085), 0.14)
    for points in ([(-0.36, -0.15), (0.30, -0.28)], [(-0.36, -0.38), (0.30, -0.28)]):
        clay.tube(points, 0.034, 0.05)
    clay.blob((0.30, -0.28), (0.09, 0.045), 0.10)


def _holed(clay: _Clay) -> None:
    clay.blob((-0.10, 0.0), (0.36, 0.26), 0.20)
    clay.blob((0.28, 0.0), (0.20, 0.11), 0.12)
    for side in (-1, 1):
        clay.hole((0.02, side * 0.12), (0.10, 0.055))
    clay.hole((-0.28, 0.0), (0.07, 0.06))


KINDS: dict[str, Callable[[_Clay], None]] = {
    "thin arches": _arched,
    "round brain case": _round,
    "antlered": _antlered,
    "toothed": _toothed,
    "two pieces": _two_pieces,
    "holed": _holed,
}


def make_shape(kind: str, length_mm: float, grease: float, seed: int) -> Shape:
    """Model a skull of a length [mm] with grease patches of a strength, 0 to 1."""
    axis = np.linspace(-0.55, 0.55, SAMPLES, dtype=np.float32)
    u, v = np.meshgrid(axis, axis)
    empty = np.zeros_like(u)
    clay = _Clay(u=u, v=v, height=empty, material=np.zeros(u.shape, np.uint8))
    KINDS[kind](clay)
    rng = np.random.default_rng(seed)
    rough = clay.height * (1 + 0.03 * _smooth_noise(rng, 12) + 0.012 * _smooth_noise(rng, 3))
    return Shape(
        side_mm=1.1 * length_mm,
        height_mm=np.where(clay.material > 0, rough * length_mm, 0).astype(np.float32),
        material=clay.material,
        grease=_grease(rng, grease),
    )


def side_by_side(shape: Shape) -> Shape:
    """Two skulls of one kind in one square."""
    half = cv2.resize(shape.height_mm, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA) / 2
    kinds, grease = (
        cv2.resize(a, half.shape[::-1], interpolation=cv2.INTER_NEAREST)
        for a in (shape.material, shape.grease)
    )
    pads = ((half.shape[0] // 2, half.shape[0] - half.shape[0] // 2), (0, 0))
    height, material, fat = (
        np.pad(np.concatenate([a, a], axis=1), pads) for a in (half, kinds, grease)
    )
    return Shape(
        side_mm=shape.side_mm,
        height_mm=np.where(material > 0, height, 0),
        material=material,
        grease=fat,
    )


def _smooth_noise(rng: np.random.Generator, grain: float) -> Map:
    """Noise of unit spread whose grains are so many samples wide."""
    noise = rng.normal(0, 1, (SAMPLES, SAMPLES)).astype(np.float32)
    soft = cv2.GaussianBlur(noise, (0, 0), grain)
    return np.asarray(soft / soft.std(), dtype=np.float32)


def _grease(rng: np.random.Generator, strength: float) -> Map:
    """Grease that sits in patches with soft edges."""
    field = _smooth_noise(rng, 38)
    patches = 1 / (1 + np.exp(-4 * (field - 0.7)))
    base = 0.10 + 0.04 * _smooth_noise(rng, 60)
    return np.asarray(np.clip(base + strength * patches, 0, 1), dtype=np.float32)
