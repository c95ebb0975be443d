"""Twelve ways to spoil the photo of a ladder, and a print that is uneven."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.measure.ladder.haze import MOST_EMPTY_DECAY_PER_M
from greasecheck.reference.ladder.plate import dip_ladder
from tests.synthetic.ladder_light.compose import INK, PAPER, Spoil

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from tests.synthetic.ladder_light.compose import Shooting

    Made = tuple[Spoil, Shooting]
    Spoiler = Callable[[np.random.Generator, Shooting], Made]

WATER_FROM_MM = 90.0  # y of the plate about which water stands
USUAL_COSINE = 0.88  # of the refracted angle: that of a view 40 degrees from upright


def unspoilt(_rng: np.random.Generator, shooting: Shooting) -> Made:
    """Leave a photo as it is."""
    return Spoil(), shooting


def _foam(rng: np.random.Generator, shooting: Shooting) -> Made:
    places = rng.uniform((-55, 0), (55, 100), (int(rng.integers(10, 70)), 2))
    sizes = rng.uniform(3, 12, len(places))

    def over(light: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
        foam = np.zeros(x.shape, dtype=bool)
        for (px, py), size in zip(places, sizes, strict=True):
            foam |= (x - px) ** 2 + (y - py) ** 2 < size**2
        return np.where(foam[:, :, None], 0.75, light)

    return Spoil(over=over), shooting


def _film(rng: np.random.Generator, shooting: Shooting) -> Made:
    share = rng.uniform(0.15, 0.6)
    return Spoil(over=lambda light, _x, _y: (1 - share) * light + share * 0.5), shooting


def _glare(rng: np.random.Generator, shooting: Shooting) -> Made:
    px, py = rng.uniform(-35, 35), rng.uniform(5, 60)
    size, strength = rng.uniform(8, 30), rng.uniform(0.5, 3)

    def over(light: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
        spot = np.exp(-((x - px) ** 2 + (y - py) ** 2) / 2 / size**2)
        return light + (strength * spot)[:, :, None]

    return Spoil(over=over), shooting


def _waves(rng: np.random.Generator, shooting: Shooting) -> Made:
    height, length, turn = rng.uniform(0.04, 0.15), rng.uniform(4, 12), rng.uniform(0, 3)

    def slope(x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        wave = height * np.sin((np.cos(turn) * x + np.sin(turn) * y) / length)
        return np.cos(turn) * wave, np.sin(turn) * wave

    return Spoil(slope=slope), shooting


def _fouled(rng: np.random.Generator, shooting: Shooting) -> Made:
    grease, below = rng.uniform(0.3, 0.7), rng.uniform(96, 180)

    def plate(reflectance: FloatArray, _x: FloatArray, y: FloatArray) -> FloatArray:
        dull = (1 - grease) * reflectance + grease * 0.35
        return np.where((y > 90) & (y < below), dull, reflectance)

    return Spoil(plate=plate), shooting


def _bone(rng: np.random.Generator, shooting: Shooting) -> Made:
    px, top, half = rng.uniform(70, 130), rng.uniform(100, 150), rng.uniform(10, 30)

    def plate(reflectance: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
        return np.where((np.abs(x - px) < half) & (y > top), 0.65, reflectance)

    return Spoil(plate=plate), shooting


def _steam(rng: np.random.Generator, shooting: Shooting) -> Made:
    share = rng.uniform(0.2, 0.6)

    def front(light: NDArray[np.float32], _rng: np.random.Generator) -> NDArray[np.float32]:
        soft = cv2.GaussianBlur(light, (0, 0), 6)
        return np.asarray((1 - share) * light + share * (0.3 * soft + 0.35), dtype=np.float32)

    return Spoil(front=front), shooting


def _dark(rng: np.random.Generator, shooting: Shooting) -> Made:
    return Spoil(), replace(shooting, exposure=float(rng.uniform(0.01, 0.05)), noise=0.03)


def _blurred(rng: np.random.Generator, shooting: Shooting) -> Made:
    size = float(rng.uniform(2.5, 6))

    def front(light: NDArray[np.float32], _rng: np.random.Generator) -> NDArray[np.float32]:
        return np.asarray(cv2.GaussianBlur(light, (0, 0), size), dtype=np.float32)

    return Spoil(front=front), shooting


def _shadow(rng: np.random.Generator, shooting: Shooting) -> Made:
    edge, share = rng.uniform(110, 160), rng.uniform(0.35, 0.7)

    def plate(reflectance: FloatArray, _x: FloatArray, y: FloatArray) -> FloatArray:
        return np.where(y > edge, reflectance * share, reflectance)

    return Spoil(plate=plate), shooting


def _overexposed(rng: np.random.Generator, shooting: Shooting) -> Made:
    gain = float(rng.uniform(1.4, 2.5))

    def front(light: NDArray[np.float32], _rng: np.random.Generator) -> NDArray[np.float32]:
        return np.asarray(np.minimum(light * gain, 0.9), dtype=np.float32)

    return Spoil(front=front), shooting


def _drops(rng: np.random.Generator, shooting: Shooting) -> Made:
    places = rng.uniform((55, 92), (150, 200), (25, 2))

    def plate(reflectance: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
        spots = np.zeros(np.shape(x), dtype=bool)
        for px, py in places:
            spots |= (x - px) ** 2 + (y - py) ** 2 < 25
        return np.where(spots, 0.3, reflectance)

    return Spoil(plate=plate), shooting


def uneven_print(rng: np.random.Generator, shooting: Shooting) -> Made:
    """Print ink that is lighter or darker the lower, as far as stated errors allow for.

    That of either width of stripes by itself, so that the relative contrast of an empty ladder
    decays along the path by anything up to `MOST_EMPTY_DECAY_PER_M`.
    """
    most_per_mm = MOST_EMPTY_DECAY_PER_M * (PAPER - INK) / USUAL_COSINE / 1000
    fine, coarse = rng.uniform(-most_per_mm, most_per_mm, 2)
    wide_from = dip_ladder().stripes.coarse.x_mm

    def plate(reflectance: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
        rise = np.where(x < wide_from, fine, coarse) * np.maximum(y - WATER_FROM_MM, 0)
        inked = (PAPER - reflectance) / (PAPER - INK)
        return np.asarray(np.maximum(reflectance + rise * inked, 0))

    return Spoil(plate=plate), shooting


SPOILS: MappingProxyType[str, Spoiler] = MappingProxyType(
    {
        "foam": _foam,
        "fat film": _film,
        "glare": _glare,
        "waves": _waves,
        "fouled": _fouled,
        "bone": _bone,
        "steam": _steam,
        "dark": _dark,
        "blurred": _blurred,
        "shadow": _shadow,
        "overexposed": _overexposed,
        "grease spots": _drops,
    }
)
