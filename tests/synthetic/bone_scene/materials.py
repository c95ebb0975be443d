"""What the things in a scene are made of: invented spectra, as a camera sees them under lamps."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.reference import known_cards
from tests.synthetic.bone_scene.shapes import ANTLER, BLOOD, BONE, TOOTH
from tests.synthetic.spectral_simulation import (
    WAVELENGTHS_NM,
    camera_values_under,
    printed_card,
    xyz_of,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from tests.synthetic.bone_scene.shapes import Map

LEVELS = 64  # of grease
CLOTHS = {"black felt": 0, "blue": 1, "green": 2, "grey": 3, "white": 4}


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """Linear camera colours of everything under each lamp: the key lamp, all around, a stray one.

    `bone` has shape (3, `LEVELS`, 3); `other` (3, 5, 3) by material; `card` three rasters.
    """

    bone: Map
    other: Map
    cloth: tuple[Map, ...]
    table: tuple[Map, ...]
    card: tuple[Map, ...]
    seed: int

    def colours(self, material: NDArray[np.uint8], grease: Map) -> tuple[Map, ...]:
        """Return the colour of each spot of the skull under each lamp."""
        level = np.clip(grease * (LEVELS - 1), 0, LEVELS - 1).astype(np.int64)
        is_bone = (material == BONE)[..., None]
        return tuple(
            np.where(is_bone, bone[level], other[material]).astype(np.float32)
            for bone, other in zip(self.bone, self.other, strict=True)
        )


@cache
def bone_spectra() -> FloatArray:
    """Reflectances of bone, shape (`LEVELS`, 61), from clean to greasy (Kubelka-Munk layers)."""
    grease = np.linspace(0, 1, LEVELS)[:, np.newaxis] ** 1.3
    wave = WAVELENGTHS_NM[np.newaxis]
    fat = 0.95 * grease * np.exp(-(wave - 450) / 75)
    collagen = 0.016 * (wave / 500) ** -4.0
    absorption = 0.010 + collagen + fat + 0.05 * grease
    return np.asarray(1 + absorption - np.sqrt(absorption**2 + 2 * absorption))


def true_yellowness() -> FloatArray:
    """Yellowness index (ASTM E313-20, D65, 2 degrees), shape (`LEVELS`,), of `bone_spectra`."""
    x, y, z = xyz_of(bone_spectra()).T
    return np.asarray(100 * (1.2985 * x - 1.1335 * z) / y)


def _other_spectra() -> FloatArray:
    """Reflectances by material, shape (5, 61)."""
    wave = WAVELENGTHS_NM
    rows = np.zeros((5, len(wave)))
    rows[ANTLER] = 0.10 + 0.16 * (wave - 400) / 300
    rows[TOOTH] = 0.66 + 0.14 * (wave - 400) / 300
    rows[BLOOD] = 0.05 + 0.28 / (1 + np.exp(-(wave - 600) / 12))
    return rows


def cloth_spectrum(name: str) -> FloatArray:
    """Reflectance of a cloth, shape (61,)."""
    wave = WAVELENGTHS_NM
    blue = np.exp(-(((wave - 455) / 45) ** 2))
    green = np.exp(-(((wave - 530) / 40) ** 2))
    return np.asarray(
        [
            np.full(len(wave), 0.035),
            0.022 + 0.06 * blue,
            0.025 + 0.05 * green,
            np.full(len(wave), 0.075),
            np.full(len(wave), 0.78),
        ][CLOTHS[name]]
    )


def make_palette(
    camera: str, lamps: Sequence[str], cloth: str, coverage: Map, seed: int
) -> Palette:
    """Show everything under each lamp to a camera that is balanced for the first, the key lamp."""

    def seen(spectra: FloatArray) -> list[Map]:
        return [
            camera_values_under(np.atleast_2d(spectra), lamp, camera, lamps[0]).astype(np.float32)
            for lamp in lamps
        ]

    wood = 0.22 + 0.30 * (WAVELENGTHS_NM - 400) / 300
    cloths, woods = seen(cloth_spectrum(cloth)), seen(wood)
    return Palette(
        bone=np.stack(seen(bone_spectra())),
        other=np.stack(seen(_other_spectra())),
        cloth=tuple(each[0] for each in cloths),
        table=tuple(each[0] for each in woods),
        card=tuple(_card_raster(seen, coverage, light) for light in range(len(lamps))),
        seed=seed,
    )


def _card_raster(seen: object, coverage: Map, light: int) -> Map:
    """Draw the card: patches in their printed colours, everything else as so much ink."""
    printed = printed_card()
    colours = dict(zip(printed.names, seen(printed.reflectance)[light], strict=True))  # type: ignore[operator]  # the closure above
    share = coverage[..., None]
    raster = (1 - share) * colours["paper"] + share * colours["ink"]
    per_mm = 10.0
    for name, box in known_cards()[-1].patches.items():
        rows = slice(round(box.y_mm * per_mm), round((box.y_mm + box.height_mm) * per_mm))
        columns = slice(round(box.x_mm * per_mm), round((box.x_mm + box.width_mm) * per_mm))
        raster[rows, columns] = colours[name]
    return np.asarray(raster, dtype=np.float32)
