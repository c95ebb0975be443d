"""Flat pictures of the sheet and a bone, drawn from spectra: for tests of colour and bone alone."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.model import Box, Photo, Placement, TimeSource
from greasecheck.reference import known_sheets
from greasecheck.reference.srgb import linear_of_srgb
from tests.synthetic.camera import Camera, Light, expose, shouldered, straight
from tests.synthetic.spectral_simulation import Print, camera_values, printed_sheet

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from greasecheck.model import FloatArray

SCENE = Box(x_mm=-14, y_mm=-12, width_mm=430, height_mm=216)  # what the photo shows, sheet plane


def even(points_mm: FloatArray) -> FloatArray:
    """Light that is the same everywhere, shape (n, 1)."""
    return np.ones((len(points_mm), 1))


def near_lamp(points_mm: FloatArray) -> FloatArray:
    """Light of a lamp half a metre before the sheet, to its upper right, shape (n, 1)."""
    offset = np.column_stack([points_mm - [220, -40], np.full(len(points_mm), 500.0)])
    distance = np.linalg.norm(offset, axis=1)
    return np.asarray((500 / distance) ** 3)[:, None]


REST_MARGIN_MM = 6.0  # of the dark rest around its zone


contrasty = partial(shouldered, lift=1.25, power=1.15, shoulder=0.30)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What is before the camera, and the camera."""

    lamp: str = "D65"
    camera: str = "Nikon 5100 (NPL)"
    light: Callable[[FloatArray], FloatArray] = even
    tone: Callable[[Light], Light] = straight
    exposure: float = 0.75
    noise: float = 0.01
    per_mm: float = 3.0
    tilt: float = 0.0
    bone: FloatArray | None = None
    bone_pixels: NDArray[np.int64] | None = None
    bone_margin_mm: float = 0.0
    shade: FloatArray | None = None
    rest: float = 0.035
    covered: tuple[Box, ...] = ()
    seed: int = 0
    sheet: Print = field(default_factory=printed_sheet)


def draw(scene: Scene) -> tuple[Photo, Placement]:
    """Draw the scene: shot noise, sRGB, 8 bits.

    `scene.bone` holds reflectances, shape (k, 61); `scene.bone_pixels` is a map of the rest zone,
    and of a margin around it, with 0 for the rest and i for bone i - 1; `scene.shade` dims it.
    """
    light = _scene_light(scene)
    homography = _homography(scene)
    size = (round(SCENE.width_mm * scene.per_mm), round(SCENE.height_mm * scene.per_mm))
    from_scene = homography @ _scene_to_sheet(scene)
    taken = cv2.warpPerspective(light, from_scene, size, flags=cv2.INTER_LINEAR)
    camera = Camera(
        blur_px=0.0,
        noise=scene.noise,
        dark_noise=scene.noise * 1e-3**0.5,
        tone=scene.tone,
    )
    pixels = expose(taken, camera, scene.exposure, scene.seed)
    return _photo(pixels), _placement(homography, scene.per_mm)


def bone_map(per_mm: float, yellow: Box | None = None) -> NDArray[np.int64]:
    """An oval bone with a hole, on a map of the rest zone; 2 inside `yellow` [mm in the zone]."""
    zone = known_sheets()[0].rest_zone
    shape = (round(zone.height_mm * per_mm), round(zone.width_mm * per_mm))
    y, x = (np.indices(shape) + 0.5) / per_mm
    inside = ((x - 65) / 45) ** 2 + ((y - 75) / 60) ** 2 < 1
    hole = ((x - 50) / 9) ** 2 + ((y - 60) / 9) ** 2 < 1
    drawn: NDArray[np.int64] = (inside & ~hole).astype(np.int64)
    if yellow is not None:
        across = (x >= yellow.x_mm) & (x < yellow.x_mm + yellow.width_mm)
        down = (y >= yellow.y_mm) & (y < yellow.y_mm + yellow.height_mm)
        drawn[inside & ~hole & across & down] = 2
    return drawn


def _scene_light(scene: Scene) -> NDArray[np.float32]:
    """Linear camera light, white (1, 1, 1), on the scene's raster."""
    geometry = known_sheets()[0]
    paper, ink = _camera(scene, scene.sheet.of("paper")), _camera(scene, scene.sheet.of("ink"))
    canvas = np.full((*_raster(scene, SCENE.height_mm, SCENE.width_mm), 3), 0.25, np.float32)
    _paint(canvas, scene, Box(x_mm=-5, y_mm=-5, width_mm=270, height_mm=200), paper)
    for marker in geometry.markers:
        _paint(canvas, scene, marker.box, ink)
    for name, box in geometry.patches.items():
        _paint(canvas, scene, box, _camera(scene, scene.sheet.of(name)))
    _paint_rest(canvas, scene, geometry.rest_zone)
    for box in scene.covered:
        _paint(canvas, scene, box, np.array([0.35, 0.22, 0.16]))
    return canvas * _light_map(scene)


def _camera(scene: Scene, reflectance: FloatArray) -> FloatArray:
    values = camera_values(np.atleast_2d(reflectance), scene.lamp, scene.camera)
    return values if reflectance.ndim == 2 else values[0]


def _paint_rest(canvas: NDArray[np.float32], scene: Scene, zone: Box) -> None:
    _paint(canvas, scene, zone.inset(-REST_MARGIN_MM), np.full(3, scene.rest))
    if scene.bone is None or scene.bone_pixels is None:
        return
    rows, columns = _slices(scene, zone.inset(-scene.bone_margin_mm))
    colours = np.concatenate([np.full((1, 3), scene.rest), _camera(scene, scene.bone)])
    size = (columns.stop - columns.start, rows.stop - rows.start)
    labels = cv2.resize(scene.bone_pixels.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    shade = np.ones(size[::-1]) if scene.shade is None else cv2.resize(scene.shade, size)
    canvas[rows, columns] = colours[labels] * shade[..., None]


def _paint(canvas: NDArray[np.float32], scene: Scene, box: Box, colour: FloatArray) -> None:
    rows, columns = _slices(scene, box)
    canvas[rows, columns] = colour


def _slices(scene: Scene, box: Box) -> tuple[slice, slice]:
    left, top = box.x_mm - SCENE.x_mm, box.y_mm - SCENE.y_mm
    rows = slice(*_raster(scene, top, top + box.height_mm))
    return rows, slice(*_raster(scene, left, left + box.width_mm))


def _raster(scene: Scene, *lengths_mm: float) -> tuple[int, ...]:
    return tuple(max(round(length * scene.per_mm), 0) for length in lengths_mm)


def _light_map(scene: Scene) -> NDArray[np.float32]:
    x = SCENE.x_mm + np.linspace(0, SCENE.width_mm, 87)
    y = SCENE.y_mm + np.linspace(0, SCENE.height_mm, 44)
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    coarse = scene.light(points).reshape(44, 87, -1).astype(np.float32)
    rows, columns = _raster(scene, SCENE.height_mm, SCENE.width_mm)
    fine = cv2.resize(coarse, (columns, rows), interpolation=cv2.INTER_CUBIC)
    return fine.reshape(rows, columns, -1).astype(np.float32)


def _scene_to_sheet(scene: Scene) -> FloatArray:
    """From raster pixels to sheet coordinates [mm]."""
    half = 0.5 / scene.per_mm
    return np.array(
        [
            [1 / scene.per_mm, 0, SCENE.x_mm + half],
            [0, 1 / scene.per_mm, SCENE.y_mm + half],
            [0, 0, 1],
        ]
    )


def _homography(scene: Scene) -> FloatArray:
    """From sheet coordinates [mm] to the photo, seen askew by `scene.tilt` of perspective."""
    width, height = SCENE.width_mm * scene.per_mm, SCENE.height_mm * scene.per_mm
    upright = np.linalg.inv(_scene_to_sheet(scene))
    square = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float32)
    shift = scene.tilt * height * np.array([[0, 1], [0, 0], [0, 0], [0, -1]])
    skew = cv2.getPerspectiveTransform(square, (square + shift).astype(np.float32))
    return np.asarray(skew @ upright)


def _transfer() -> NDArray[np.float32]:
    curve = linear_of_srgb(np.linspace(0, 1, 1024))
    return np.repeat(curve[:, None], 3, axis=1).astype(np.float32)


def _photo(pixels: NDArray[np.uint8]) -> Photo:
    return Photo(
        path=Path("drawn.png"),
        sha256="0" * 64,
        pixels=pixels,
        taken_at=datetime(2026, 11, 25, 9, tzinfo=UTC),
        time_source=TimeSource.EXIF,
        camera="drawn",
        transfer=_transfer(),
    )


def _placement(homography: FloatArray, per_mm: float) -> Placement:
    return Placement(
        homography=homography,
        lens=None,
        geometry=known_sheets()[0],
        marker_ids=(0, 1, 2, 3, 4),
        tag=None,
        pixels_per_mm=per_mm,
        tilt_deg=0.0,
        residual_px=0.1,
        tag_scale=None,
    )
