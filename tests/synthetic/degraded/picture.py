"""Rendered photographs taken back to linear light, with their camera and truth, and saved again."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from PIL import Image

from greasecheck.reference import data_folder
from greasecheck.reference.lookup import read_lookup
from sample_images.camera import garage_camera
from sample_images.optics import pixel
from sample_images.render import VIEW as SAMPLE_VIEW
from sample_images.render_water import VIEW as WATER_VIEW
from sample_images.scene import (
    INNER_WIDTH_MM,
    JAR_CENTRE_X_MM,
    JAR_GAP_MM,
    JAR_TOP_Y_MM,
    PATH_MM,
    TABLE_Y_MM,
    WALL_MM,
)
from tests.synthetic.camera import encoded

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import Box
    from sample_images.scene import View

    Pixels = NDArray[np.uint8]
    Light = NDArray[np.float32]

SAMPLES = data_folder("sample_images")
WATERS = Path(__file__).parent.parent / "water_renders"
CLEAR_PER_M = 0.3  # of the reference water; readings are above it
*FOOT_MM, DISTANCE_MM = SAMPLE_VIEW.origin  # both cameras' perpendicular on the sheet
CAMERA = garage_camera()
CODES = 65535
SCENE_OF_GLASS_MM = JAR_GAP_MM + 2 * WALL_MM + PATH_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What is true of a photograph: attenuation above clear water [1/m], albedo, the bone."""

    file: Path
    red_per_m: float
    albedo: float
    yi_e313: float | None
    yellow_patch_share: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenery:
    """A photograph in linear light.

    Attributes
    ----------
    truth : Truth
        What it shows.
    light : ndarray, shape (rows, columns, 3), float32
        Linear light, full scale = 1.
    mm : ndarray, shape (rows, columns, 2), float32
        The place on the sheet's plane that each pixel shows [mm].
    homography : ndarray, shape (3, 3)
        From sheet coordinates [mm] to pixels.
    jar : tuple of float
        Left, top, right and bottom of the jar as it covers the sheet's plane [mm].
    """

    truth: Truth
    light: Light
    mm: Light
    homography: NDArray[np.float64]
    jar: tuple[float, float, float, float]

    @property
    def px_per_mm(self) -> float:
        """Scale at the middle of the sheet [px/mm]."""
        ends = np.array([[130.0, 95.0], [140.0, 95.0]])
        here, there = self.pixels_of(ends)
        return float(np.hypot(*(there - here)) / 10)

    def pixels_of(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return where points of the sheet's plane, shape (n, 2) [mm], are seen [px]."""
        image = np.column_stack([points_mm, np.ones(len(points_mm))]) @ self.homography.T
        return np.asarray(image[:, :2] / image[:, 2:])

    def sample(self, mm: Light) -> Light:
        """Return the light at other places of the sheet's plane, shape (rows, columns, 2) [mm]."""
        points = self.pixels_of(mm.reshape(-1, 2).astype(np.float64)).astype(np.float32)
        x, y = (points[:, axis].reshape(mm.shape[:2]) for axis in (0, 1))
        moved = cv2.remap(self.light, x, y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(moved, dtype=np.float32)


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture ready to be saved."""

    pixels: Pixels
    jpeg_quality: int = CAMERA.quality


@cache
def truths() -> tuple[Truth, ...]:
    """Return what is true of the usable photographs: good ones, without the references."""
    return _sample_truths() + _water_truths()


def _sample_truths() -> tuple[Truth, ...]:
    table = read_lookup(SAMPLES / "truth.csv")
    names = ("extinction_r_per_m", "albedo", "yi_e313_median", "yellow_patch_share")
    numbers = np.column_stack([table.numbers(name) for name in names])
    rows = zip(table.texts("file"), table.texts("verdict"), numbers.tolist(), strict=True)
    return tuple(
        Truth(
            file=SAMPLES / file,
            red_per_m=red - CLEAR_PER_M,
            albedo=albedo,
            yi_e313=yi,
            yellow_patch_share=share,
        )
        for file, verdict, (red, albedo, yi, share) in rows
        if verdict == "good" and not np.isnan(yi)
    )


def _water_truths() -> tuple[Truth, ...]:
    table = read_lookup(WATERS / "truth.csv")
    rows = zip(
        table.texts("file"),
        table.texts("role"),
        table.numbers("extinction_per_m").tolist(),
        table.numbers("albedo").tolist(),
        strict=True,
    )
    return tuple(
        Truth(
            file=WATERS / file,
            red_per_m=extinction - CLEAR_PER_M,
            albedo=albedo,
            yi_e313=None,
            yellow_patch_share=None,
        )
        for file, role, extinction, albedo in rows
        if role == "sample"
    )


def load(truth: Truth) -> Scenery:
    """Take a photograph back to linear light."""
    with Image.open(truth.file) as file:
        codes = np.asarray(file.convert("RGB"))
    view = SAMPLE_VIEW if truth.file.parent == SAMPLES else WATER_VIEW
    corners = np.array([[0.0, 0.0], [260.0, 0.0], [260.0, 190.0], [0.0, 190.0]])
    seen = np.array([_seen(view, x, y, 0.0) for x, y in corners])
    homography = np.asarray(cv2.findHomography(corners, seen)[0], dtype=np.float64)
    inverse = np.asarray(np.linalg.inv(homography), dtype=np.float64)
    return Scenery(
        truth=truth,
        light=_light_of_codes()[codes],
        mm=_places(inverse, codes.shape[:2]),
        homography=homography,
        jar=_jar(view, inverse),
    )


def _seen(view: View, x_mm: float, y_mm: float, z_mm: float) -> NDArray[np.float64]:
    """Return the pixel of a point; the centre of the first pixel is (0, 0)."""
    return np.asarray(pixel(view, (x_mm, y_mm, z_mm)) - 0.5)


def _places(inverse: NDArray[np.float64], shape: tuple[int, ...]) -> Light:
    x = np.arange(shape[1])[None, :]
    y = np.arange(shape[0])[:, None]
    across, down, scale = (row[0] * x + row[1] * y + row[2] for row in inverse)
    return np.stack([across / scale, down / scale], axis=-1).astype(np.float32)


def _jar(view: View, inverse: NDArray[np.float64]) -> tuple[float, float, float, float]:
    half = INNER_WIDTH_MM / 2 + WALL_MM
    left, right = JAR_CENTRE_X_MM - half, JAR_CENTRE_X_MM + half
    ends = [
        _seen(view, x, y, SCENE_OF_GLASS_MM) for x, y in ((left, JAR_TOP_Y_MM), (right, TABLE_Y_MM))
    ]
    on_sheet = np.column_stack([np.array(ends), np.ones(2)]) @ inverse.T
    (x0, y0), (x1, y1) = (on_sheet[:, :2] / on_sheet[:, 2:]).tolist()
    return x0, y0, x1, y1


@cache
def _light_of_codes() -> Light:
    """Linear light of the 256 code values: the camera's tone curve undone."""
    linear = np.linspace(0, 1, CODES + 1) ** 2
    return np.interp(np.arange(256) / 255, encoded(linear, CAMERA.curve), linear).astype(np.float32)


@cache
def _codes_of_light() -> Pixels:
    return np.round(255 * encoded(np.arange(CODES + 1) / CODES, CAMERA.curve)).astype(np.uint8)


def developed(light: NDArray[Any], jpeg_quality: int = CAMERA.quality) -> Picture:
    """Turn linear light into the camera's picture; what is brighter than full scale is lost."""
    codes = (np.clip(light, 0, 1) * CODES + 0.5).astype(np.uint16)
    return Picture(pixels=_codes_of_light()[codes], jpeg_quality=jpeg_quality)


def save(picture: Picture, truth: Truth, path: Path) -> None:
    """Save as JPEG with the EXIF tags of the photograph it was made from."""
    with Image.open(truth.file) as file:
        exif = file.getexif()
    Image.fromarray(picture.pixels).save(
        path, quality=picture.jpeg_quality, subsampling="4:2:0", exif=exif
    )


def between(severity: float, mild: float, gross: float) -> float:
    """Return the size of a fault of a severity from 0 to 1, in equal ratios."""
    return float(mild * (gross / mild) ** severity)


def soft_step(values: Light, width: float) -> Light:
    """Return 0 below and 1 above zero, smoothly over a width."""
    return np.asarray(np.clip(values / max(width, 1e-6) + 0.5, 0, 1), dtype=np.float32)


def soft_box(mm: Light, box: tuple[float, float, float, float], edge_mm: float) -> Light:
    """Return 1 inside left, top, right, bottom [mm] and 0 outside, smoothly over `edge_mm`."""
    left, top, right, bottom = box
    x, y = mm[..., 0], mm[..., 1]
    across = soft_step(x - left, edge_mm) * soft_step(right - x, edge_mm)
    return across * soft_step(y - top, edge_mm) * soft_step(bottom - y, edge_mm)


def around(*boxes: Box, margin_mm: float) -> tuple[float, float, float, float]:
    """Return left, top, right and bottom around boxes [mm]."""
    grown = [box.inset(-margin_mm) for box in boxes]
    return (
        min(box.x_mm for box in grown),
        min(box.y_mm for box in grown),
        max(box.x_mm + box.width_mm for box in grown),
        max(box.y_mm + box.height_mm for box in grown),
    )
