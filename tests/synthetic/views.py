"""Random photographs of the sheet, with the truth: pinhole camera, uneven light, noise, JPEG."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from greasecheck.measure.sheet.lens import project, undistort
from greasecheck.measure.sheet.pose import box_corners
from greasecheck.model import Box, Lens, Photo, SheetGeometry, TimeSource
from greasecheck.print.layout import sheet_drawing
from greasecheck.print.marker import marker_cells
from greasecheck.print.raster import draw_pixels
from greasecheck.reference import known_sheets
from greasecheck.reference.patches.values import nominal_values

Pixels = NDArray[np.uint8]
FloatArray = NDArray[np.float64]

FINEST_PX_PER_MM = 12.0
PX_PER_MM_LEVELS = (1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, FINEST_PX_PER_MM)
PAPER_MARGIN_MM = 8.0
SIZES_PX = ((1600, 1200), (2000, 1500), (1500, 2000), (2592, 1944), (4000, 3000))
SIZE_ODDS = (0.25, 0.3, 0.15, 0.2, 0.1)
SKIN_RGB = (190, 140, 115)
GAMMA = 2.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What a view is made of; lengths in pixels unless named otherwise."""

    size_px: tuple[int, int]
    focal_px: float
    tilt_deg: float
    tilt_axis_deg: float
    roll_deg: float
    width_share: float
    centre_share: tuple[float, float] = (0.5, 0.5)
    tub: int | None = 17
    hidden: int | None = None
    jar_veil: float = 0.0
    light_ratio: float = 1.0
    light_angle_deg: float = 0.0
    exposure: float = 0.8
    blur_px: float = 0.6
    noise: float = 0.0
    jpeg: int = 95
    distortion: tuple[float, float, float, float, float] = (0, 0, 0, 0, 0)
    print_stretch: float = 1.0
    tag_scale: float = 1.0
    version_marker: int = 4
    seed: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A photo with the truth it was made from."""

    photo: Photo
    setting: Setting
    homography: FloatArray
    lens: Lens

    def error_mm(self, homography: FloatArray, lens: Lens | None) -> FloatArray:
        """Distance [mm] between where true and found pose put points all over the sheet."""
        sheet = known_sheets()[0]
        x, y = np.meshgrid(np.linspace(0, sheet.width_mm, 9), np.linspace(0, sheet.height_mm, 7))
        points = np.column_stack([x.ravel(), y.ravel()])
        found_px = project(homography, lens, points)
        inverse = np.asarray(np.linalg.inv(self.homography), dtype=np.float64)
        true_mm = project(inverse, None, undistort(found_px, self.lens))
        return np.asarray(np.linalg.norm(true_mm - points, axis=1), dtype=np.float64)


def random_setting(rng: np.random.Generator) -> Setting:
    """Draw a setting within the stated limits: tilt to 35 degrees, width from 15 %, and so on."""
    size = SIZES_PX[rng.choice(len(SIZES_PX), p=SIZE_ODDS)]
    while True:
        setting = Setting(
            size_px=size,
            focal_px=max(size) * rng.uniform(0.6, 1.6),
            tilt_deg=rng.uniform(0, 35),
            tilt_axis_deg=rng.uniform(0, 360),
            roll_deg=rng.uniform(0, 360),
            width_share=float(np.exp(rng.uniform(np.log(0.15), np.log(1.0)))),
            centre_share=(rng.uniform(0.1, 0.9), rng.uniform(0.1, 0.9)),
            tub=int(rng.integers(10, 50)) if rng.random() < 0.8 else None,
            hidden=int(rng.integers(0, 4)) if rng.random() < 0.25 else None,
            jar_veil=rng.uniform(0, 1),
            light_ratio=float(np.exp(rng.uniform(0, np.log(4)))),
            light_angle_deg=rng.uniform(0, 360),
            exposure=rng.uniform(0.4, 1.0),
            blur_px=rng.uniform(0.4, 1.4),
            noise=rng.uniform(0, 5),
            jpeg=int(rng.integers(70, 96)),
            seed=int(rng.integers(2**31)),
        )
        if fits_frame(setting):
            return setting


def fits_frame(setting: Setting) -> bool:
    """Whether the whole sheet lies in the frame, at least 15 % of its width across."""
    sheet = known_sheets()[0]
    outline = project(true_homography(setting), None, box_corners(_printed_area(sheet)))
    sides = np.hypot(*(outline - np.roll(outline, -1, axis=0)).T)
    inside = (outline > 1).all() and (outline < np.array(setting.size_px) - 2).all()
    return bool(inside and sides.max() >= 0.15 * setting.size_px[0])


def true_homography(setting: Setting) -> FloatArray:
    """Sheet coordinates [mm] to pixels, by a pinhole camera with a centred axis."""
    sheet = known_sheets()[0]
    matrix = camera_matrix(setting)
    width_px = setting.size_px[0]
    depth = setting.focal_px * sheet.width_mm / (setting.width_share * width_px)
    target = np.array([*(np.array(setting.centre_share) * setting.size_px), 1.0])
    middle = depth * np.linalg.solve(matrix, target)
    rotation = _rotation(setting)
    centre = np.array([sheet.width_mm, sheet.height_mm, 0]) / 2
    plane = np.column_stack([rotation[:, :2], middle - rotation @ centre])
    stretch = np.diag([setting.print_stretch, 1, 1])
    homography = matrix @ plane @ stretch
    return np.asarray(homography / homography[2, 2], dtype=np.float64)


def camera_matrix(setting: Setting) -> FloatArray:
    x, y = ((side - 1) / 2 for side in setting.size_px)
    return np.array([[setting.focal_px, 0, x], [0, setting.focal_px, y], [0, 0, 1]])


def _rotation(setting: Setting) -> FloatArray:
    axis = np.radians(setting.tilt_axis_deg)
    turn = np.radians(setting.tilt_deg) * np.array([np.cos(axis), np.sin(axis), 0])
    roll = np.radians(setting.roll_deg) * np.array([0, 0, 1.0])
    return np.asarray(cv2.Rodrigues(turn)[0] @ cv2.Rodrigues(roll)[0], dtype=np.float64)


def render(setting: Setting, background: Pixels | None = None) -> View:
    """Photograph the sheet; the background defaults to clutter."""
    rng = np.random.default_rng(setting.seed)
    homography = true_homography(setting)
    lens = Lens(
        matrix=camera_matrix(setting),
        distortion=np.array(setting.distortion, dtype=np.float64),
        width_px=setting.size_px[0],
        height_px=setting.size_px[1],
    )
    behind = clutter(rng, setting.size_px) if background is None else background
    scene = _lay_on(behind, setting, homography, lens)
    pixels = _expose(scene, setting, rng)
    return View(photo=photo_of(pixels), setting=setting, homography=homography, lens=lens)


def photo_of(pixels: Pixels) -> Photo:
    """Wrap pixels as a photo with sRGB-like transfer curves."""
    curve = np.linspace(0, 1, 256, dtype=np.float32) ** np.float32(GAMMA)
    return Photo(
        path=Path("view.jpg"),
        sha256="0" * 64,
        pixels=pixels,
        taken_at=datetime(2026, 1, 1, tzinfo=UTC),
        time_source=TimeSource.EXIF,
        camera="synthetic",
        transfer=np.repeat(curve[:, None], 3, axis=1),
    )


def clutter(rng: np.random.Generator, size_px: tuple[int, int]) -> Pixels:
    """Overlapping boxes, discs, lines and grain: a workbench at random."""
    width, height = size_px
    image = np.full((height, width, 3), rng.integers(0, 256, 3), dtype=np.uint8)
    for _ in range(int(rng.integers(20, 120))):
        colour = tuple(int(value) for value in rng.integers(0, 256, 3))
        at = int(rng.integers(0, width)), int(rng.integers(0, height))
        reach = max(int(rng.exponential(width / 15)), 3)
        match rng.integers(0, 3):
            case 0:
                to = at[0] + reach, at[1] + int(reach * rng.uniform(0.3, 2))
                cv2.rectangle(image, at, to, colour, -1)
            case 1:
                cv2.circle(image, at, reach // 2, colour, -1)
            case _:
                to = int(rng.integers(0, width)), int(rng.integers(0, height))
                cv2.line(image, at, to, colour, max(reach // 20, 1))
    return image


def _printed_area(sheet: SheetGeometry) -> Box:
    return Box(x_mm=0, y_mm=0, width_mm=sheet.width_mm, height_mm=sheet.height_mm)


@cache
def sheet_raster() -> Pixels:
    """The printed sheet with its paper margin, at the finest level."""
    sheet = known_sheets()[0]
    drawing = sheet_drawing(sheet, nominal_values(sheet))
    printed = draw_pixels(drawing, FINEST_PX_PER_MM * 25.4)
    margin = round(PAPER_MARGIN_MM * FINEST_PX_PER_MM)
    return np.pad(printed, ((margin, margin), (margin, margin), (0, 0)), constant_values=255)


def _dressed_sheet(setting: Setting) -> Pixels:
    """The sheet with tag and jar, and a thumb on the hidden marker."""
    sheet = known_sheets()[0]
    raster = sheet_raster().copy()
    veil = 0.9 * setting.jar_veil
    jar = _area(raster, sheet.jar_zone)
    jar[...] = (1 - veil) * jar + veil * np.array([150, 130, 95])
    if setting.tub is not None:
        _hang_tag(raster, sheet, setting)
    for marker in sheet.markers:
        if not marker.corner:
            draw_marker(_area(raster, marker.box), setting.version_marker)
        if marker.id == setting.hidden:
            _area(raster, marker.box.inset(-1.5))[...] = SKIN_RGB
    return raster


def _hang_tag(raster: Pixels, sheet: SheetGeometry, setting: Setting) -> None:
    _area(raster, sheet.tag_slot)[...] = 255
    side = sheet.tag_marker.width_mm * setting.tag_scale
    x, y = sheet.tag_marker.centre_mm
    place = Box(x_mm=x - side / 2, y_mm=y - side / 2, width_mm=side, height_mm=side)
    draw_marker(_area(raster, place), setting.tub or 0)


def draw_marker(area: Pixels, number: int) -> None:
    """Fill an area of a picture, in place, with a marker of the sheet's dictionary."""
    inked = marker_cells(known_sheets()[0].dictionary, number)
    cells = np.where(inked, 0, 255).astype(np.uint8)
    size = area.shape[1], area.shape[0]
    area[...] = cv2.resize(cells, size, interpolation=cv2.INTER_NEAREST)[..., None]


def _area(raster: Pixels, box: Box) -> Pixels:
    left, top = (round((at + PAPER_MARGIN_MM) * FINEST_PX_PER_MM) for at in (box.x_mm, box.y_mm))
    width, height = (round(side * FINEST_PX_PER_MM) for side in (box.width_mm, box.height_mm))
    return raster[top : top + height, left : left + width]


def _lay_on(behind: Pixels, setting: Setting, homography: FloatArray, lens: Lens) -> Pixels:
    raster, to_raster = _at_level(_dressed_sheet(setting), homography)
    ones = np.full(raster.shape[:2], 255, dtype=np.uint8)
    from_photo = to_raster @ np.linalg.inv(homography)
    if any(setting.distortion):
        grid = _undistorted_grid(lens)
        places = project(from_photo, None, grid).astype(np.float32)
        at_x, at_y = (axis.reshape(lens.height_px, lens.width_px) for axis in places.T)
        warped = cv2.remap(raster, at_x, at_y, cv2.INTER_LINEAR)
        cover = cv2.remap(ones, at_x, at_y, cv2.INTER_LINEAR)
    else:
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        warped = cv2.warpPerspective(raster, from_photo, setting.size_px, flags=flags)
        cover = cv2.warpPerspective(ones, from_photo, setting.size_px, flags=flags)
    scene: Pixels = np.where(cover[..., None] > 127, warped, behind)
    return scene


def _at_level(raster: Pixels, homography: FloatArray) -> tuple[Pixels, FloatArray]:
    """The raster reduced to about the photo's scale, and the map from mm to its pixels."""
    outline = project(homography, None, box_corners(_printed_area(known_sheets()[0])))
    sheet = known_sheets()[0]
    perimeter = np.hypot(*(outline - np.roll(outline, -1, axis=0)).T).sum()
    scale = perimeter / 2 / (sheet.width_mm + sheet.height_mm)
    level = next((level for level in PX_PER_MM_LEVELS if level >= scale), FINEST_PX_PER_MM)
    rows, columns = (round(side * level / FINEST_PX_PER_MM) for side in raster.shape[:2])
    reduced = cv2.resize(raster, (columns, rows), interpolation=cv2.INTER_AREA)
    across, down = (
        columns / (raster.shape[1] / FINEST_PX_PER_MM),
        rows / (raster.shape[0] / FINEST_PX_PER_MM),
    )
    to_raster = np.array(
        [
            [across, 0, across * PAPER_MARGIN_MM - 0.5],
            [0, down, down * PAPER_MARGIN_MM - 0.5],
            [0, 0, 1],
        ]
    )
    return np.asarray(reduced, dtype=np.uint8), to_raster


def _undistorted_grid(lens: Lens) -> FloatArray:
    """Undistorted place of each pixel: worked out on a coarse grid, smooth in between."""
    height, width = lens.height_px, lens.width_px
    x, y = np.meshgrid(np.linspace(0, width - 1, 200), np.linspace(0, height - 1, 150))
    coarse = undistort(np.column_stack([x.ravel(), y.ravel()]), lens).reshape(150, 200, 2)
    across = np.arange(width, dtype=np.float32) * np.float32(199 / (width - 1))
    down = np.arange(height, dtype=np.float32) * np.float32(149 / (height - 1))
    at_x, at_y = np.meshgrid(across, down)
    fine = cv2.remap(coarse.astype(np.float32), at_x, at_y, cv2.INTER_LINEAR)
    return np.asarray(fine, dtype=np.float64).reshape(-1, 2)


def _expose(scene: Pixels, setting: Setting, rng: np.random.Generator) -> Pixels:
    """Uneven light, blur, tone curve, noise and JPEG."""
    width, height = setting.size_px
    angle = np.radians(setting.light_angle_deg)
    across = np.linspace(-1, 1, width, dtype=np.float32) * np.float32(np.cos(angle))
    down = np.linspace(-1, 1, height, dtype=np.float32)[:, None] * np.float32(np.sin(angle))
    place = (across + down) / np.float32(abs(np.cos(angle)) + abs(np.sin(angle)))
    light = setting.exposure * setting.light_ratio ** ((place - 1) / 2)
    lit = scene.astype(np.float32) * (light ** np.float32(1 / GAMMA))[..., None]
    soft = cv2.GaussianBlur(lit, (0, 0), setting.blur_px)
    coded = soft + setting.noise * rng.standard_normal(soft.shape, dtype=np.float32)
    shot = np.clip(np.rint(coded), 0, 255).astype(np.uint8)
    _, packed = cv2.imencode(".jpg", shot[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, setting.jpeg])
    return np.asarray(cv2.imdecode(packed, cv2.IMREAD_COLOR), dtype=np.uint8)[..., ::-1]
