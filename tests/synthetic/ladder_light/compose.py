"""Puts the traced light of tubs into photos: refraction by rays, mirror images, camera."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.print.ladder import draw_ladder_png
from greasecheck.reference.ladder.plate import dip_ladder
from greasecheck.reference.srgb import linear_of_srgb
from tests.synthetic.camera import Camera, expose
from tests.synthetic.ladder_light.scenes import INDEX, scene_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from tests.synthetic.ladder_light.photo_plan import LadderShot, Optics, PhotoPlan
    from tests.synthetic.ladder_light.scenes import Tub, Water

DPMM = 8.0
PAPER, INK = 0.85, 0.045  # reflectances of the print
SAMPLES = ((-0.25, -0.25), (0.25, -0.25), (-0.25, 0.25), (0.25, 0.25))
BRIGHTEST = 0.9  # of full scale: exposure keeps all but 0.5 % of the picture below it
# Contrast below this is lost in the tracer's noise, and far below what a photo shows: from there on
# it falls as before.
LEAST_TRACED, FEWEST_TRACED = 1e-3, 5
RIM_MM = 14.0  # thickness of a tub's rim
HALF_MM, LENGTH_MM = 130.0, 280.0  # most of a tub that is drawn, so that neighbours stay apart


@dataclass(frozen=True, slots=True)
class WetLight:
    """Light of one ladder under water, relative to dry white of reflectance 1, by channel.

    `paths_mm` and `depths_mm` have shape (points,), the others (3, points).
    """

    depths_mm: FloatArray
    paths_mm: FloatArray
    fine: FloatArray
    coarse: FloatArray
    fine_black: FloatArray
    coarse_black: FloatArray


@dataclass(slots=True)
class Spoil:
    """What spoils a ladder's picture; nothing by default.

    `slope` gives the tilt of the water's surface at x, y [mm]; `over` changes the light of the
    water's surface region; `plate` changes the reflectance of the plate at X, Y; `front` changes
    the whole picture before the camera.
    """

    slope: Callable[[FloatArray, FloatArray], tuple[FloatArray, FloatArray]] | None = None
    over: Callable[[FloatArray, FloatArray, FloatArray], FloatArray] | None = None
    plate: Callable[[FloatArray, FloatArray, FloatArray], FloatArray] | None = None
    front: Callable[[NDArray[np.float32], np.random.Generator], NDArray[np.float32]] | None = None


@dataclass(frozen=True, slots=True)
class Shooting:
    """How a photo is taken: exposure, colour of the light, noise, tone."""

    exposure: float = 0.75  # of full scale for dry white
    light: tuple[float, float, float] = (1.0, 1.0, 1.0)
    noise: float = 0.006  # relative standard deviation at full scale
    curve: float = 0.0  # strength of an S-shaped tone curve
    local: float = 0.0  # share of base compression of a local tone map
    quality: int = 92
    gradient: tuple[float, float] = (0.0, 0.0)  # relative change of light across 200 mm
    backdrop: tuple[float, float] = (0.12, 0.3)  # darkest and brightest light behind the tubs

    def camera(self, of: Optics) -> Camera:
        """Return the camera that takes it."""
        return Camera(
            blur_px=of.blur_px,
            noise=self.noise,
            dark_noise=0.1 * self.noise,
            curve=self.curve,
            local=self.local,
            base_px=of.width_px / 40,
            quality=self.quality,
        )


@dataclass(slots=True)
class Scene:
    """A photo plan with the tub numbers of its ladders, their wet light and what spoils them."""

    plan: PhotoPlan
    tubs: list[int | None]
    lights: list[WetLight]
    spoils: list[Spoil] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Hung:
    """A ladder as it hangs in a photo, with the light of its water."""

    plan: PhotoPlan
    shot: LadderShot
    tub: int | None
    wet: WetLight
    spoil: Spoil


@cache
def plate_texture(tub: int | None) -> NDArray[np.float32]:
    """Return the plate's reflectance, shape (rows, columns), `DPMM` pixels per mm; NaN outside."""
    plate = dip_ladder()
    grey = draw_ladder_png(plate, tub, DPMM * 25.4)[:, :, 1] / 255.0
    texture = INK + (PAPER - INK) * linear_of_srgb(grey)
    inside = np.zeros(texture.shape, dtype=bool)
    for box in (*plate.wings, plate.body, plate.black):
        left, top = round(box.x_mm * DPMM), round(box.y_mm * DPMM)
        right = left + round(box.width_mm * DPMM)
        inside[top : top + round(box.height_mm * DPMM), left:right] = True
    return np.where(inside, texture, np.nan).astype(np.float32)


def wet_light(tub: Tub, water: Water, light: FloatArray) -> WetLight:
    """Return the light of a traced tub; `light` has shape (3, depths, patterns)."""
    scenes = [scene_of(tub, water, channel) for channel in range(3)]
    deepest = max(scene.points_mm[-1] for scene in scenes)
    depths = np.linspace(0.5, deepest, 120)
    parts: list[list[FloatArray]] = [[], [], [], []]
    for scene, seen in zip(scenes, light, strict=True):
        traced = np.array(scene.points_mm)
        for place, (white, black) in enumerate(((0, 1), (2, 3))):
            contrast = (seen[:, white] - seen[:, black]) / (scene.white - scene.black)
            sound = max(int(np.cumprod(contrast > LEAST_TRACED).sum()), FEWEST_TRACED)
            contrast = np.maximum(contrast, LEAST_TRACED)
            logs = np.log(contrast[:sound])
            parts[place].append(np.exp(_extended(depths, traced[:sound], logs)))
            bottom = seen[:, black] - scene.black * contrast
            parts[2 + place].append(np.interp(depths, traced, bottom))
    fine, coarse, fine_black, coarse_black = (np.array(part) for part in parts)
    return WetLight(depths, depths / scenes[0].sight_cos, fine, coarse, fine_black, coarse_black)


def _extended(at: FloatArray, known: FloatArray, values: FloatArray) -> FloatArray:
    """Interpolate, and go on straight beyond the last points."""
    slope = min((values[-1] - values[-5]) / (known[-1] - known[-5]), 0.0)
    inside = np.interp(at, known, values)
    return np.where(at > known[-1], values[-1] + slope * (at - known[-1]), inside)


def camera_axes(plan: PhotoPlan) -> FloatArray:
    """Return the camera's axes as rows: right, down, forward, in the world."""
    forward = np.array(plan.look_mm) - np.array(plan.eye_mm)
    forward = forward / np.linalg.norm(forward)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right = right / np.linalg.norm(right)
    down = np.cross(forward, right)
    roll = np.radians(plan.roll_deg)
    turned = np.cos(roll) * right + np.sin(roll) * down
    return np.stack([turned, np.cross(forward, turned), forward])


def world_to_pixels(plan: PhotoPlan, points: FloatArray) -> FloatArray:
    """Return pixels of world points, straight lines of sight."""
    camera = plan.camera
    seen = (points - np.array(plan.eye_mm)) @ camera_axes(plan).T
    scale = camera.focal * max(camera.width_px, camera.height_px)
    middle = np.array([camera.width_px - 1, camera.height_px - 1]) / 2
    return np.asarray(scale * seen[:, :2] / seen[:, 2:] + middle)


def plate_to_world(shot: LadderShot, plate_mm: FloatArray) -> FloatArray:
    """Return world places of places on a plate."""
    across, down = dip_ladder().width_mm / 2 - plate_mm[:, 0], plate_mm[:, 1] - shot.level_mm
    lean = np.radians(shot.lean_deg)
    away = np.column_stack([across, down * np.sin(lean), -down * np.cos(lean)])
    return np.asarray(np.array(shot.at_mm) + away)


def compose(scene: Scene, shooting: Shooting, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Render a photo, shape (height, width, 3)."""
    camera = scene.plan.camera
    light = _background(camera.width_px, camera.height_px, shooting.backdrop, rng)
    spoils = scene.spoils or [Spoil() for _ in scene.plan.ladders]
    for place, shot in enumerate(scene.plan.ladders):
        hung = Hung(scene.plan, shot, scene.tubs[place], scene.lights[place], spoils[place])
        _paint_tub(light, hung)
        _paint_ladder(light, hung, shooting)
        if hung.spoil.front is not None:
            light[:] = hung.spoil.front(light, rng)
    most = BRIGHTEST / np.percentile(light[::8, ::8], 99.5)
    exposure = np.array(shooting.light) * min(shooting.exposure / PAPER, most)
    return expose(light, shooting.camera(camera), exposure, rng)


def _background(
    width: int, height: int, span: tuple[float, float], rng: np.random.Generator
) -> NDArray[np.float32]:
    small = rng.uniform(*span, (height // 40 + 2, width // 40 + 2)).astype(np.float32)
    grey = cv2.resize(small, (width, height), interpolation=cv2.INTER_CUBIC)
    return np.repeat(grey[:, :, None], 3, axis=2)


def _paint_tub(light: NDArray[np.float32], hung: Hung) -> None:
    """Paint the rim, the inner walls and the water of a tub as flat patches."""
    plan, shot, wet = hung.plan, hung.shot, hung.wet
    x, y, z = shot.at_mm
    half, length = min(shot.tub.width_mm / 2, HALF_MM), min(shot.tub.length_mm, LENGTH_MM)
    rim = min(shot.tub.rim_mm, 60.0)

    def level(height: float, grow: float) -> FloatArray:
        left, right, near = x - half - grow, x + half + grow, y + length + grow
        corners = [(left, y - grow), (right, y - grow), (right, near), (left, near)]
        return np.array([(*corner, z + height) for corner in corners])

    deep = wet.coarse_black[:, -1] * _through(np.cos(np.radians(shot.tub.view_deg)))
    for corners, colour in (
        (level(rim, RIM_MM), np.full(3, shot.tub.wall)),
        (level(rim, 0.0), np.full(3, shot.tub.wall * 0.6)),
        (level(0.0, 0.0), deep),
    ):
        pixels = world_to_pixels(plan, corners).round().astype(np.int32)
        cv2.fillConvexPoly(light, pixels, tuple(float(c) for c in colour))


def _through(cos_air: FloatArray | float) -> FloatArray:
    """Return the share of light that passes the surface upward, the n squared law left out."""
    cos_water = np.sqrt(1 - (1 - np.square(cos_air)) / INDEX**2)
    across = (cos_air - INDEX * cos_water) / (cos_air + INDEX * cos_water)
    along = (INDEX * cos_air - cos_water) / (INDEX * cos_air + cos_water)
    return np.asarray(1 - (across**2 + along**2) / 2)


def _paint_ladder(light: NDArray[np.float32], hung: Hung, shooting: Shooting) -> None:
    left, top, right, bottom = _box_of(hung.plan, hung.shot)
    if right - left < 2 or bottom - top < 2:
        return
    region = light[top:bottom, left:right]
    total, weight = np.zeros_like(region), np.zeros(region.shape[:2], dtype=np.float32)
    rows, columns = np.mgrid[top:bottom, left:right].astype(np.float32)
    for dx, dy in SAMPLES:
        seen = _seen(hung, columns + dx, rows + dy)
        shown = ~np.isnan(seen[:, :, 0])
        total += np.where(shown[:, :, None], seen, 0)
        weight += shown
    share = (weight / len(SAMPLES))[:, :, None]
    mean = total / np.maximum(weight, 1)[:, :, None]
    across = (columns - columns.mean()) / max(np.ptp(columns), 1)
    down = (rows - rows.mean()) / max(np.ptp(rows), 1)
    ramp = 1 + shooting.gradient[0] * across + shooting.gradient[1] * down
    region[:] = share * mean * ramp[:, :, None] + (1 - share) * region


def _box_of(plan: PhotoPlan, shot: LadderShot) -> tuple[int, int, int, int]:
    plate = dip_ladder()
    corners = np.array(
        [(x, y) for x in (0, plate.width_mm) for y in (0, plate.height_mm)], dtype=float
    )
    pixels = world_to_pixels(plan, plate_to_world(shot, corners))
    size = np.array([plan.camera.width_px, plan.camera.height_px])
    low = np.clip(pixels.min(axis=0) - 8, 0, size).astype(int)
    high = np.clip(pixels.max(axis=0) + 8, 0, size).astype(int)
    return int(low[0]), int(low[1]), int(high[0]), int(high[1])


def _seen(hung: Hung, columns: FloatArray, rows: FloatArray) -> FloatArray:
    """Return the light of sight lines through pixels, NaN where they miss plate and water."""
    plan, shot = hung.plan, hung.shot
    camera = plan.camera
    scale = camera.focal * max(camera.width_px, camera.height_px)
    middle = (camera.width_px - 1) / 2, (camera.height_px - 1) / 2
    ways = np.stack([(columns - middle[0]) / scale, (rows - middle[1]) / scale, np.ones_like(rows)])
    ways = np.einsum("ij,jhw->ihw", camera_axes(plan).T.astype(np.float32), ways)
    ways /= np.linalg.norm(ways, axis=0)
    eye = (np.array(plan.eye_mm) - np.array(shot.at_mm)).astype(np.float32)
    plate_x, plate_y = _on_plate(eye[:, None, None], ways, shot)
    dry = _texture(hung, plate_x, plate_y)
    reach = -eye[2] / ways[2]
    x, y = eye[0] + reach * ways[0], eye[1] + reach * ways[1]
    in_water = (np.abs(x) < HALF_MM) & (y > 0) & (y < LENGTH_MM)
    wet_seen = _through_water(hung, ways, x, y)
    below = plate_y > shot.level_mm
    above = np.repeat(dry[:, :, None], 3, axis=2)
    return np.where(
        (~np.isnan(dry) & ~below)[:, :, None],
        above,
        np.where(in_water[:, :, None], wet_seen, np.nan),
    )


def _on_plate(
    start: FloatArray, ways: FloatArray, shot: LadderShot
) -> tuple[FloatArray, FloatArray]:
    """Return plate coordinates where rays meet the plate's plane (start relative to the ladder)."""
    normal = _normal_of(shot)
    towards = np.einsum("i,ihw->hw", normal, ways)
    reach = -np.einsum("i,ihw->hw", normal, np.broadcast_to(start, ways.shape)) / towards
    hit = start + reach * ways
    down = hit[1] * normal[2] - hit[2] * normal[1]
    ahead = reach > 0
    return (
        np.where(ahead, dip_ladder().width_mm / 2 - hit[0], np.nan),
        np.where(ahead, down + shot.level_mm, np.nan),
    )


def _normal_of(shot: LadderShot) -> NDArray[np.float32]:
    lean = np.radians(shot.lean_deg)
    return np.array([0.0, np.cos(lean), np.sin(lean)], np.float32)


def _texture(hung: Hung, x: FloatArray, y: FloatArray) -> FloatArray:
    texture = plate_texture(hung.tub)
    column = np.nan_to_num(x * DPMM - 0.5, nan=-9.0).astype(np.float32)
    row = np.nan_to_num(y * DPMM - 0.5, nan=-9.0).astype(np.float32)
    found: FloatArray = np.asarray(
        cv2.remap(
            texture,
            column,
            row,
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=np.nan,
        )
    )
    return found if hung.spoil.plate is None else hung.spoil.plate(found, x, y)


def _through_water(hung: Hung, ways: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    """Return the light from below and by mirror image, shape (rows, columns, 3)."""
    shot, spoil = hung.shot, hung.spoil
    normal = np.stack([np.zeros_like(x), np.zeros_like(x), np.ones_like(x)])
    if spoil.slope is not None:
        tilt_x, tilt_y = spoil.slope(x, y)
        normal = np.stack([-tilt_x, -tilt_y, np.ones_like(x)])
        normal = normal / np.linalg.norm(normal, axis=0)
    cos_air = np.clip(-np.einsum("ihw,ihw->hw", normal, ways), 1e-3, 1)
    cos_water = np.sqrt(1 - (1 - cos_air**2) / INDEX**2)
    below = ways / INDEX + (cos_air / INDEX - cos_water) * normal
    start = np.stack([x, y, np.zeros_like(x)])
    plate_x, plate_y = _on_plate(start, below, shot)
    path = (plate_y - shot.level_mm) / np.maximum(-below[2], 1e-6)
    seen = _wet_plate(hung, plate_x, plate_y, path)
    mirrored = ways + 2 * cos_air * normal
    mirror_x, mirror_y = _on_plate(start, mirrored, shot)
    image = np.nan_to_num(_texture(hung, mirror_x, mirror_y), nan=0.25)
    through = _through(cos_air)
    total = seen * through[:, :, None] + (image * (1 - through))[:, :, None]
    return total if spoil.over is None else spoil.over(total, x, y)


def _wet_plate(hung: Hung, x: FloatArray, y: FloatArray, path: FloatArray) -> FloatArray:
    """Return radiance under the surface; beside the plate, that of the deep water."""
    stripes, wet = dip_ladder().stripes.fine, hung.wet
    depth = y - hung.shot.level_mm
    reflectance = _texture(hung, x, y)
    on_plate = ~np.isnan(reflectance)
    fine = (x >= stripes.x_mm) & (x <= stripes.x_mm + stripes.width_mm)
    out = np.empty((*x.shape, 3), np.float32)
    out[:] = wet.coarse_black[:, -1]
    for pixels, contrast, black in (
        (on_plate & fine, wet.fine, wet.fine_black),
        (on_plate & ~fine, wet.coarse, wet.coarse_black),
    ):
        for channel in range(3):
            logs = np.interp(path[pixels], wet.paths_mm, np.log(contrast[channel]))
            veil = np.interp(depth[pixels], wet.depths_mm, black[channel])
            out[pixels, channel] = veil + reflectance[pixels] * np.exp(logs)
    return out
