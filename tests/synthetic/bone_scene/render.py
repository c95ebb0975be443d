"""Renders a skull and the bone card on cloth: rays through heights, one lamp and sky, a camera.

It shares nothing with the code that measures but the card's printed design.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.print.sheet import draw_sheet_png
from greasecheck.reference import known_cards
from greasecheck.reference.patches.values import nominal_values
from tests.synthetic.bone_scene.materials import Palette

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tests.synthetic.bone_scene.shapes import Map, Shape

    Matrix = NDArray[np.float64]

CARD_DPI = 254.0  # 10 px per mm
STEPS = 72  # of a ray through the heights
SHADOW_STEPS = 40
REMAP_COLUMNS = 1024  # of the pictures that OpenCV looks heights up in
CARD_MM = (136.0, 99.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """A key lamp and light from all around.

    `towards` points from the scene to the lamp; `distance_mm` makes it fall off; `softness` blurs
    its shadows [share of the skull's length]; `fill` is the share of the light that comes from
    all around, from the lamp called `fill_lamp`.
    """

    lamp: str
    towards: tuple[float, float, float]
    distance_mm: float
    softness: float
    fill: float
    fill_lamp: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stray:
    """What falls on the skull and hardly on the card: a second lamp's pool, a shade across.

    The pool is round, `radius_mm` wide about the skull's middle, its rim `soft_mm` wide; in it a
    lamp adds `level` times the light in the open. Where `level` is negative, something takes that
    share of the key lamp away: a shade.
    """

    lamp: str
    level: float
    radius_mm: float
    soft_mm: float
    towards: tuple[float, float, float] = (-0.3, -0.6, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """Where the camera is.

    `projection` takes space [mm] to pixels, `homography` the cloth's plane; `centre_mm` is the
    camera [mm].
    """

    projection: Matrix
    homography: Matrix
    centre_mm: Matrix
    size_px: tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """What lies where on the cloth [mm]: turned and moved skull, turned and moved card."""

    skull_at_mm: tuple[float, float]
    skull_turn: float
    card_at_mm: tuple[float, float]
    card_turn: float
    cloth_edge_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rendered:
    """Linear camera light, shape (rows, columns, 3), and the truth in pixels.

    `material` is 0 on all but the skull; `grease` is that of the spot seen.
    """

    linear: NDArray[np.float32]
    material: NDArray[np.uint8]
    grease: Map


def look_at_all(
    points_mm: Matrix,
    tilt_deg: float,
    azimuth_deg: float,
    size_px: tuple[int, int],
    share: float,
    distance_mm: float | None,
) -> View:
    """Point a camera so that points, shape (n, 3) [mm], fill a share of the picture.

    It goes as near as that takes; from a given distance it looks through a longer lens.
    """
    target, distance, focal = points_mm[:, :2].mean(axis=0), distance_mm or 600.0, 0.8
    for _ in range(8):
        view = look_from(distance, tilt_deg, azimuth_deg, target, size_px, focal)
        seen = np.column_stack([points_mm, np.ones(len(points_mm))]) @ view.projection.T
        places = seen[:, :2] / seen[:, 2:]
        low, high = places.min(axis=0), places.max(axis=0)
        middle = np.append((low + high) / 2, 1) @ np.linalg.inv(view.homography).T
        target = middle[:2] / middle[2]
        filled = float(((high - low) / np.array(size_px)).max()) / share
        distance, focal = (distance, focal / filled) if distance_mm else (distance * filled, focal)
    return view


def look_from(
    distance_mm: float,
    tilt_deg: float,
    azimuth_deg: float,
    target_mm: Matrix,
    size_px: tuple[int, int],
    focal_share: float,
) -> View:
    """Point a camera of a focal length [share of the picture's longer side] at a spot of cloth."""
    tilt, azimuth = np.radians([tilt_deg, azimuth_deg])
    away = np.array([np.sin(tilt) * np.cos(azimuth), np.sin(tilt) * np.sin(azimuth), np.cos(tilt)])
    forward = -away
    up = np.array([0.0, 1.0, 0.0]) if tilt < 0.02 else np.array([0.0, 0.0, 1.0])
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    rotation = np.stack([right, np.cross(forward, right), forward])
    centre = np.append(target_mm, 0.0) + distance_mm * away
    focal = focal_share * max(size_px)
    camera = np.array([[focal, 0, size_px[0] / 2], [0, focal, size_px[1] / 2], [0, 0, 1]])
    projection = camera @ rotation @ np.column_stack([np.eye(3), -centre])
    return View(
        projection=projection,
        homography=projection[:, [0, 1, 3]],
        centre_mm=centre,
        size_px=size_px,
    )


def render(
    shape: Shape,
    layout: Layout,
    light: Light,
    view: View,
    palette: Palette,
    stray: Stray | None = None,
) -> Rendered:
    """Render the scene without the camera's faults."""
    plane = _plane_points(view)
    places = np.concatenate([plane, np.zeros_like(plane[..., :1])], axis=-1)
    hit = np.zeros(plane.shape[:2], bool)
    near = _window(shape, layout, light, view)
    places[near], hit[near] = _march(shape, layout, view, plane[near])
    columns, rows = _samples(shape, layout, places)
    material = np.where(hit, _nearest(shape.material, columns, rows), 0).astype(np.uint8)
    grease = _bilinear(shape.grease, columns, rows)
    normal = _normals(shape, layout, columns, rows, material)
    hidden = np.zeros(plane.shape[:2], np.float32)
    hidden[near] = _shade(shape, layout, light, places[near])
    key, fill = _light_on(light, places, normal, hidden, _openness(shape, columns, rows))
    colours = palette.colours(material, grease)
    _paint_ground(colours, material, places, layout, palette)
    if stray is not None and stray.level < 0:
        key *= 1 + stray.level * _pool(stray, places, layout)
    linear = key[..., None] * colours[0] + fill[..., None] * colours[1]
    if stray is not None and stray.level > 0:
        linear += _stray_light(stray, places, normal, layout)[..., None] * colours[2]
    gloss = _gloss(light, view, places, normal, key) * (material > 0)
    return Rendered(
        linear=(linear + gloss[..., None]).astype(np.float32), material=material, grease=grease
    )


def _plane_points(view: View) -> Map:
    """Where each pixel's ray meets the cloth, shape (rows, columns, 2) [mm]."""
    x, y = np.meshgrid(np.arange(view.size_px[0]), np.arange(view.size_px[1]))
    inverse = np.linalg.inv(view.homography)
    points = np.stack([x, y, np.ones_like(x)], axis=-1) @ inverse.T
    return np.asarray(points[..., :2] / points[..., 2:], dtype=np.float32)


def _samples(shape: Shape, layout: Layout, places: Map) -> tuple[Map, Map]:
    """Columns and rows of the shape's arrays at places on the scene [mm]."""
    cos, sin = np.cos(layout.skull_turn), np.sin(layout.skull_turn)
    dx, dy = places[..., 0] - layout.skull_at_mm[0], places[..., 1] - layout.skull_at_mm[1]
    per_mm = (len(shape.height_mm) - 1) / shape.side_mm
    middle = (len(shape.height_mm) - 1) / 2
    columns = (dx * cos + dy * sin) * per_mm + middle
    rows = (dy * cos - dx * sin) * per_mm + middle
    return columns.astype(np.float32), rows.astype(np.float32)


def _bilinear(values: Map, columns: Map, rows: Map) -> Map:
    return np.asarray(cv2.remap(values, columns, rows, cv2.INTER_LINEAR))


def _nearest(values: NDArray[np.uint8], columns: Map, rows: Map) -> NDArray[np.uint8]:
    return np.asarray(cv2.remap(values, columns, rows, cv2.INTER_NEAREST))


def _crosses(shape: Shape, layout: Layout, begin: Map, end: Map) -> NDArray[np.intp]:
    """Return the indices of rays, shape (..., 2 or 3) [mm], that may meet the skull."""
    ends = np.array([_samples(shape, layout, each) for each in (begin, end)]).reshape(2, 2, -1)
    low, high = ends.min(axis=0), ends.max(axis=0)
    return np.flatnonzero(((high > -1) & (low < len(shape.height_mm))).all(axis=0))


def _heights(shape: Shape, layout: Layout, at: Map) -> Map:
    """Heights [mm] at places, shape (n, 2 or 3) [mm]."""
    lines = np.zeros((2, (len(at) // REMAP_COLUMNS + 1) * REMAP_COLUMNS), np.float32)
    lines[:, : len(at)] = _samples(shape, layout, at)
    columns, rows = lines.reshape(2, -1, REMAP_COLUMNS)
    return _bilinear(shape.height_mm, columns, rows).ravel()[: len(at)]


def _march(shape: Shape, layout: Layout, view: View, plane: Map) -> tuple[Map, NDArray[np.bool_]]:
    """Follow each ray down to the heights: where it ends, (x, y, z) [mm], and whether on bone."""
    top = float(shape.height_mm.max())
    rise = (view.centre_mm[:2].astype(np.float32) - plane) / np.float32(view.centre_mm[2])
    places = np.concatenate([plane, np.zeros_like(plane[..., :1])], axis=-1).reshape(-1, 3)
    hit = np.zeros(len(places), bool)
    left = _crosses(shape, layout, plane, plane + rise * np.float32(top))
    ground, rise = plane.reshape(-1, 2)[left], rise.reshape(-1, 2)[left]
    for z in np.linspace(top, 0.0, STEPS, endpoint=False, dtype=np.float32):
        at = ground + rise * z
        new = _heights(shape, layout, at) >= z
        places[left[new], :2], places[left[new], 2] = at[new], z
        hit[left[new]] = True
        left, ground, rise = left[~new], ground[~new], rise[~new]
    return places.reshape(*plane.shape[:2], 3), hit.reshape(plane.shape[:2])


def _normals(
    shape: Shape, layout: Layout, columns: Map, rows: Map, material: NDArray[np.uint8]
) -> Map:
    """Unit normals, shape (rows, columns, 3); upright on the cloth."""
    step_mm = shape.side_mm / (len(shape.height_mm) - 1)
    soft = cv2.GaussianBlur(shape.height_mm, (0, 0), 1.2)
    slope_u, slope_v = (
        _bilinear(
            np.asarray(cv2.Sobel(soft, cv2.CV_32F, *way) / 8 / step_mm, np.float32), columns, rows
        )
        for way in ((1, 0), (0, 1))
    )
    cos, sin = np.cos(layout.skull_turn), np.sin(layout.skull_turn)
    slopes = np.stack([slope_u * cos - slope_v * sin, slope_u * sin + slope_v * cos], axis=-1)
    slopes *= (material > 0)[..., None]
    normal = np.concatenate([-slopes, np.ones_like(slopes[..., :1])], axis=-1)
    return np.asarray(normal / np.linalg.norm(normal, axis=-1, keepdims=True), dtype=np.float32)


def _lamp_mm(light: Light) -> Map:
    towards = np.asarray(light.towards, np.float32)
    return np.asarray(light.distance_mm * towards / np.linalg.norm(towards))


def _light_on(
    light: Light, places: Map, normal: Map, hidden: Map, openness: Map
) -> tuple[Map, Map]:
    """Light of the lamp and of all around on each spot; 1 is the cloth's in the open."""
    lamp = _lamp_mm(light)
    to_lamp = lamp - places
    distance = np.linalg.norm(to_lamp, axis=-1)
    cosine = np.clip((normal * to_lamp).sum(axis=-1) / distance, 0, None)
    falloff = (light.distance_mm / distance) ** 2
    key = (1 - light.fill) * cosine * falloff * (1 - hidden) * light.distance_mm / lamp[2]
    open_sky = (0.5 + 0.5 * normal[..., 2]) * openness
    return key.astype(np.float32), (light.fill * open_sky).astype(np.float32)


def _pool(stray: Stray, places: Map, layout: Layout) -> Map:
    """How much of the stray light falls on each spot of the scene, 0 to 1."""
    away = np.hypot(*(places[..., axis] - layout.skull_at_mm[axis] for axis in (0, 1)))
    return np.asarray(np.clip((stray.radius_mm - away) / stray.soft_mm + 0.5, 0, 1), np.float32)


def _stray_light(stray: Stray, places: Map, normal: Map, layout: Layout) -> Map:
    towards = np.asarray(stray.towards, np.float32)
    cosine = np.clip((normal * towards).sum(axis=-1) / towards[2], 0, None)
    return np.asarray(stray.level * cosine * _pool(stray, places, layout), np.float32)


def _window(shape: Shape, layout: Layout, light: Light, view: View) -> tuple[slice, slice]:
    """Rows and columns of the picture that the skull and its shadow reach."""
    top = float(shape.height_mm.max())
    tangent = np.hypot(*light.towards[:2]) / light.towards[2]
    reach = shape.side_mm / 2 * 1.42 + top * max(tangent, 1.0)
    signs = np.array([[-1, -1], [-1, 1], [1, -1], [1, 1]])
    corners = np.asarray(layout.skull_at_mm) + reach * signs
    homogeneous = np.column_stack([corners, np.ones(4)]) @ view.homography.T
    seen = homogeneous[:, :2] / homogeneous[:, 2:]
    (left, upper), (right, lower) = seen.min(axis=0), seen.max(axis=0)
    columns, rows = (
        slice(int(np.clip(a, 0, size)), int(np.clip(b, 0, size)))
        for a, b, size in ((left, right, view.size_px[0]), (upper, lower, view.size_px[1]))
    )
    return rows, columns


def _shade(shape: Shape, layout: Layout, light: Light, places: Map) -> Map:
    """Share of the lamp that the skull hides: how far a ray towards it runs below the heights."""
    to_lamp = _lamp_mm(light) - places
    to_lamp /= np.linalg.norm(to_lamp, axis=-1, keepdims=True)
    top = float(shape.height_mm.max()) + 1e-3
    reach = top / max(float(to_lamp[..., 2].mean()), 0.1)
    soft = max(light.softness * shape.side_mm, 1e-3)
    hidden = np.zeros(places[..., 0].size, np.float32)
    left = _crosses(shape, layout, places, places + np.float32(reach) * to_lamp)
    begin, way = places.reshape(-1, 3)[left], to_lamp.reshape(-1, 3)[left]
    for along in np.linspace(0.02, 1.0, SHADOW_STEPS, dtype=np.float32) ** 1.5 * reach:
        at = begin + along * way
        depth = (_heights(shape, layout, at) - at[:, 2]) / (soft * (0.15 + along / reach))
        hidden[left] = np.maximum(hidden[left], np.clip(depth, 0, 1))
        lit = (at[:, 2] < top) & (hidden[left] < 1)
        left, begin, way = left[lit], begin[lit], way[lit]
    return hidden.reshape(places.shape[:2])


def _openness(shape: Shape, columns: Map, rows: Map) -> Map:
    """How much of the sky a spot sees, by how deep it lies below its surroundings."""
    spread = len(shape.height_mm) / 24
    around = cv2.GaussianBlur(shape.height_mm, (0, 0), spread)
    step_mm = shape.side_mm / len(shape.height_mm)
    depth = np.clip(around - shape.height_mm, 0, None) / (spread * step_mm)
    openness = (1 / (1 + 0.8 * depth)).astype(np.float32)
    border = cv2.BORDER_REPLICATE
    return np.asarray(cv2.remap(openness, columns, rows, cv2.INTER_LINEAR, borderMode=border))


def _gloss(light: Light, view: View, places: Map, normal: Map, key: Map) -> Map:
    """Mirror-like reflection of the lamp, as of bone with a little wax on it (Blinn 1977)."""
    to_lamp = _lamp_mm(light) - places
    to_eye = view.centre_mm - places
    half = to_lamp / np.linalg.norm(to_lamp, axis=-1, keepdims=True)
    half = half + to_eye / np.linalg.norm(to_eye, axis=-1, keepdims=True)
    half /= np.linalg.norm(half, axis=-1, keepdims=True)
    lobe = np.clip((half * normal).sum(axis=-1), 0, 1) ** 60
    return np.asarray(0.12 * lobe * np.minimum(key, 1.0), dtype=np.float32)


def _paint_ground(
    colours: tuple[Map, ...],
    material: NDArray[np.uint8],
    places: Map,
    layout: Layout,
    palette: Palette,
) -> None:
    """Paint cloth, table and card onto the colours of what is not bone, in place."""
    ground = material == 0
    cloth = _weave(places, palette.seed)
    for colour, own in zip(colours, palette.cloth, strict=True):
        colour[ground] = (cloth[..., None] * own)[ground]
    if layout.cloth_edge_mm is not None:
        table = ground & (places[..., 1] > layout.cloth_edge_mm)
        for colour, own in zip(colours, palette.table, strict=True):
            colour[table] = own * (0.9 + 0.2 * np.sin(places[table, 0:1] / 9))
    _paint_card(colours, ground, places, layout, palette)


def _weave(places: Map, seed: int) -> Map:
    """Unevenness of the cloth: weave and folds."""
    rng = np.random.default_rng(seed)
    phases = rng.uniform(0, 6.28, 4)
    x, y = places[..., 0], places[..., 1]
    folds = 0.10 * np.sin(x / 61 + y / 83 + phases[0]) + 0.07 * np.sin(x / 33 - y / 47 + phases[1])
    weave = 0.08 * np.sin(x * 4.1 + phases[2]) * np.sin(y * 4.3 + phases[3])
    return np.asarray(1 + folds + weave, dtype=np.float32)


def _paint_card(
    colours: tuple[Map, ...],
    ground: NDArray[np.bool_],
    places: Map,
    layout: Layout,
    palette: Palette,
) -> None:
    cos, sin = np.cos(layout.card_turn), np.sin(layout.card_turn)
    dx, dy = places[..., 0] - layout.card_at_mm[0], places[..., 1] - layout.card_at_mm[1]
    x = dx * cos + dy * sin + CARD_MM[0] / 2
    y = dx * sin - dy * cos + CARD_MM[1] / 2  # down the card, up the cloth
    inside = ground & (x > 0) & (x < CARD_MM[0]) & (y > 0) & (y < CARD_MM[1])
    per_mm = CARD_DPI / 25.4
    for colour, raster in zip(colours, palette.card, strict=True):
        seen = cv2.remap(
            raster,
            (x * per_mm - 0.5).astype(np.float32),
            (y * per_mm - 0.5).astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        colour[inside] = seen[inside]


def ink_coverage() -> Map:
    """How dark the card is printed at each spot, 0 to 1, at `CARD_DPI`."""
    geometry = known_cards()[-1]
    codes = draw_sheet_png(geometry, nominal_values(geometry), CARD_DPI).astype(np.float32)
    return np.asarray(1 - (codes.mean(axis=-1) / 255) ** 2.2, dtype=np.float32)
