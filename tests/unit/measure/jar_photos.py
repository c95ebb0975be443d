"""Drawn photographs of a jar, saved as a camera would, and the clear-water reference from one."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from greasecheck.measure.reading import ReadSettings
from greasecheck.measure.stand import view_clear_water
from greasecheck.measure.water.albedo import USUAL_VEIL, VEIL_POWER
from greasecheck.measure.water.light import FINE_LOSS
from greasecheck.measure.water.reference import make_clear_water
from greasecheck.measure.water.scatter import usual_factor
from tests.synthetic.jar_scene import FIELD_MM, JarScene, photograph

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.measure.water.reference import ClearWater
    from greasecheck.model import Box


CLEAR_JAR = JarScene().jar or 1.0


def save(folder: Path, scene: JarScene) -> Path:
    """Save the drawn photo with an EXIF time, as a camera would."""
    path = folder / f"{abs(hash(scene))}.jpg"
    picture = Image.fromarray(photograph(scene).pixels)
    exif = Image.Exif()
    details = exif.get_ifd(0x8769)
    details[0x9003], details[0x9011] = "2026:03:01 12:00:00", "+01:00"
    exif[0x8769] = details
    exif[0x010F], exif[0x0110] = "drawn", "by tests"
    picture.save(path, quality=92, exif=exif)
    return path


@cache
def reference(folder: Path) -> ClearWater:
    path = save(folder, JarScene(seed=100, tub=None))
    return make_clear_water([view_clear_water(path, ReadSettings())], 60.0)


def murky(attenuation_per_m: float, **other: object) -> JarScene:
    """Water whose bars fade, and whose veil grows, as those of a usual suspension do."""
    kept = tuple(
        float(np.exp(-attenuation_per_m * usual_factor(2.0, 60.0, attenuation_per_m, 0.9) * 0.06))
        for _ in range(3)
    )
    lost = 1 - kept[0]
    veil = min(USUAL_VEIL * lost**VEIL_POWER, (1 - FINE_LOSS) * lost * CLEAR_JAR)
    return JarScene(transmittance=kept, veil=veil, **other)  # type: ignore[arg-type]


def painted(folder: Path, scene: JarScene, *boxes: Box, level: int) -> Path:
    """Save the drawn photo with boxes of the sheet, and 8 mm around them, in one flat grey."""
    pixels = photograph(scene).pixels.copy()
    per_mm = pixels.shape[1] / FIELD_MM.width_mm
    for box in (box.inset(-8.0).moved(-FIELD_MM.x_mm, -FIELD_MM.y_mm) for box in boxes):
        rows = slice(round(box.y_mm * per_mm), round((box.y_mm + box.height_mm) * per_mm))
        columns = slice(round(box.x_mm * per_mm), round((box.x_mm + box.width_mm) * per_mm))
        pixels[rows, columns] = level
    path = folder / f"painted{level}.png"
    Image.fromarray(pixels).save(path)
    return path
