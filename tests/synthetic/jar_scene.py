"""Fast drawn photographs of a jar before the sheet, with known transmittance: no scattering."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from greasecheck.model import Box, Photo, Tag, TimeSource
from greasecheck.print.sheet import draw_sheet_png, draw_tag_png
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import nominal_values
from greasecheck.reference.srgb import linear_of_srgb
from tests.synthetic import camera

FloatArray = NDArray[np.floating[Any]]

DRAWN_PX_PER_MM = 6.0
MM_PER_INCH = 25.4
FIELD_MM = Box(x_mm=-12.0, y_mm=-12.0, width_mm=424.0, height_mm=220.0)
JAR = Box(x_mm=50.0, y_mm=70.0, width_mm=80.0, height_mm=118.0)
WATER = Box(x_mm=52.5, y_mm=98.0, width_mm=75.0, height_mm=87.0)
DEEP = Box(x_mm=52.5, y_mm=138.0, width_mm=75.0, height_mm=47.0)  # from between the fields down
DEEP_VEIL = 0.75  # of the veil above: white bars lose more light there (`light.COARSE_LOSS`)
AXIS_MM = (140.0, 100.0)
STAND_GREY = 0.30
REST_GREY = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class JarScene:
    """What stands before the sheet and how it is photographed.

    `transmittance` is that of the water for R, G, B; `jar` that of the jar itself; `veil` the light
    the water adds, paper white = 1; `stretch` the magnification of what is seen through the water.
    """

    transmittance: tuple[float, float, float] = (1.0, 1.0, 1.0)
    jar: float | None = 0.9
    filled: bool = True
    veil: float = 0.0
    stretch: float = 1.022
    tub: int | None = 12
    bone_lab_rgb: tuple[float, float, float] | None = None
    foam_mm: float = 0.0
    drops: int = 0
    px_per_mm: float = 4.7
    light: tuple[float, float] = (0.0, 0.0)
    exposure: float = 0.8
    blur_px: float = 0.6
    electrons: float = 8000.0
    seed: int = 0


def photograph(scene: JarScene) -> Photo:
    """Draw the scene and photograph it squarely."""
    rng = np.random.default_rng(scene.seed)
    linear = _lit(_with_bone(_with_jar(_bench(scene.tub), scene), scene), scene)
    size = (round(FIELD_MM.width_mm * scene.px_per_mm), round(FIELD_MM.height_mm * scene.px_per_mm))
    seen = cv2.resize(linear, size, interpolation=cv2.INTER_AREA)
    device = camera.Camera(blur_px=scene.blur_px, noise=scene.electrons**-0.5, dark_noise=3.2e-4)
    return as_photo(camera.expose(seen, device, scene.exposure, rng))


def as_photo(pixels: NDArray[np.uint8]) -> Photo:
    """Wrap pixels as a photo that carries a time."""
    levels = np.linspace(0, 1, 256)
    return Photo(
        path=Path("drawn.png"),
        sha256="0" * 64,
        pixels=pixels,
        taken_at=datetime(2026, 3, 1, 12, tzinfo=UTC),
        time_source=TimeSource.EXIF,
        camera="drawn",
        transfer=np.repeat(linear_of_srgb(levels)[:, None], 3, axis=1).astype(np.float32),
    )


@cache
def _bench(tub: int | None) -> FloatArray:
    """Reflectance of sheet, tag, stand and rest at the drawing's resolution."""
    shape = round(FIELD_MM.height_mm * DRAWN_PX_PER_MM), round(FIELD_MM.width_mm * DRAWN_PX_PER_MM)
    bench = np.full((*shape, 3), STAND_GREY, dtype=np.float32)
    geometry = known_sheets()[0]
    dpi = DRAWN_PX_PER_MM * MM_PER_INCH
    sheet = draw_sheet_png(geometry, nominal_values(geometry), dpi)
    margin = Box(x_mm=-8.0, y_mm=-8.0, width_mm=276.0, height_mm=206.0)
    bench[_cells(margin)] = 1.0
    _paste(bench, sheet, 0.0, 0.0)
    if tub is not None:
        slot = geometry.tag_slot
        _paste(bench, draw_tag_png(geometry, Tag(number=tub), dpi), slot.x_mm, slot.y_mm)
    bench[_cells(geometry.rest_zone)] = REST_GREY
    return bench


def _paste(bench: FloatArray, pixels: NDArray[np.uint8], x_mm: float, y_mm: float) -> None:
    rows, columns = pixels.shape[:2]
    top = round((y_mm - FIELD_MM.y_mm) * DRAWN_PX_PER_MM)
    left = round((x_mm - FIELD_MM.x_mm) * DRAWN_PX_PER_MM)
    reflectance = linear_of_srgb(pixels / 255)
    bench[top : top + rows, left : left + columns] = 0.03 + 0.85 * reflectance


def _cells(box: Box) -> tuple[slice, slice]:
    left, top = box.x_mm - FIELD_MM.x_mm, box.y_mm - FIELD_MM.y_mm
    return (
        slice(round(top * DRAWN_PX_PER_MM), round((top + box.height_mm) * DRAWN_PX_PER_MM)),
        slice(round(left * DRAWN_PX_PER_MM), round((left + box.width_mm) * DRAWN_PX_PER_MM)),
    )


def _with_jar(bench: FloatArray, scene: JarScene) -> FloatArray:
    if scene.jar is None:
        return bench
    seen = bench.copy()
    seen[_cells(JAR)] = bench[_cells(JAR)] * scene.jar
    if not scene.filled:
        return seen
    kept = scene.jar * np.array(scene.transmittance, np.float32)
    through = _magnified(bench, scene.stretch) * kept
    seen[_cells(WATER)] = through[_cells(WATER)] + scene.veil
    seen[_cells(DEEP)] = through[_cells(DEEP)] + DEEP_VEIL * scene.veil
    _splash(seen, scene)
    if scene.foam_mm:
        foam = Box(x_mm=WATER.x_mm, y_mm=WATER.y_mm, width_mm=75.0, height_mm=scene.foam_mm)
        seen[_cells(foam)] = 0.75
    return seen


def _splash(seen: FloatArray, scene: JarScene) -> None:
    """Set drops of 5 mm on the wall of the jar, each of one brightness."""
    rng = np.random.default_rng(scene.seed)
    radius = round(2.5 * DRAWN_PX_PER_MM)
    for _ in range(scene.drops):
        x_mm, y_mm = rng.uniform(60, 120), rng.uniform(105, 170)
        centre = (
            round((x_mm - FIELD_MM.x_mm) * DRAWN_PX_PER_MM),
            round((y_mm - FIELD_MM.y_mm) * DRAWN_PX_PER_MM),
        )
        cv2.circle(seen, centre, radius, (float(rng.uniform(0.2, 0.9)),) * 3, -1)


def _magnified(bench: FloatArray, stretch: float) -> FloatArray:
    centre = [
        (AXIS_MM[0] - FIELD_MM.x_mm) * DRAWN_PX_PER_MM,
        (AXIS_MM[1] - FIELD_MM.y_mm) * DRAWN_PX_PER_MM,
    ]
    matrix = np.array(
        [[stretch, 0, centre[0] * (1 - stretch)], [0, stretch, centre[1] * (1 - stretch)]]
    )
    size = bench.shape[1], bench.shape[0]
    return np.asarray(cv2.warpAffine(bench, matrix, size, flags=cv2.INTER_LINEAR))


def _with_bone(bench: FloatArray, scene: JarScene) -> FloatArray:
    if scene.bone_lab_rgb is None:
        return bench
    seen = bench.copy()
    rest = seen[_cells(known_sheets()[0].rest_zone)]
    rows, columns = np.indices(rest.shape[:2])
    middle = np.array(rest.shape[:2]) / 2
    oval = ((rows - middle[0]) / (0.35 * len(rest))) ** 2 + (
        (columns - middle[1]) / (0.35 * rest.shape[1])
    ) ** 2 < 1
    rest[oval] = scene.bone_lab_rgb
    return seen


def _lit(linear: FloatArray, scene: JarScene) -> FloatArray:
    rows, columns = linear.shape[:2]
    down, across = np.linspace(-1, 1, rows)[:, None], np.linspace(-1, 1, columns)[None, :]
    light = np.exp(scene.light[0] * across + scene.light[1] * down)
    return linear * light[..., None].astype(np.float32)
