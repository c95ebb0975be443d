"""Renders a stand to linear light: most samples where the water is looked through.

The bench outside the jar is matte, so its light is smooth and is filtered after division by the
surfaces' own reflectance. The sight behind the water is filtered along its upright bars only, with
windows symmetric about each pixel, which leaves the contrast across the bars as it is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from skimage.restoration import denoise_nl_means

from greasecheck.reference import known_sheets
from sample_images.optics import pixel, pixel_through_water
from sample_images.scene import (
    INNER_WIDTH_MM,
    JAR_CENTRE_X_MM,
    JAR_GAP_MM,
    JAR_TOP_Y_MM,
    PATH_MM,
    TABLE_Y_MM,
    WALL_MM,
    Stand,
    View,
    build,
    mitsuba,
)

if TYPE_CHECKING:
    import numpy.typing as npt

    Image = npt.NDArray[Any]
    Crop = tuple[int, int, int, int]

MAX_DEPTH = 400
ROULETTE_DEPTH = 40
PASS_SAMPLES = 6_000_000
BRIGHTEST = 100.0  # a path that slips through an edge of the glass may return nonsense
GUIDE_SAMPLES = 8
BENCH_STEPS_PX = (1, 2, 4, 6)
BAR_REACH_PX = 14
SIGHT_MARGIN_MM = 5.0
TAG_MARGIN_MM = 1.5
SIGHT_TOP_Y_MM = 106.0
REST_X_MM, REST_Y_MM = (274.0, 403.0), (43.0, 170.0)  # all felt behind the bone
SPECKLE_FACTOR = 3.0
OPAQUE_DEPTH = 7.0
MAD_TO_SIGMA = 1.4826 / 2**0.5  # of a difference of two normal values
COARSE_PX = 8
COARSE_SAMPLES = 48


@dataclass(frozen=True, slots=True, kw_only=True)
class Samples:
    """Samples per pixel of the whole frame, the jar, the sight behind it, the bone."""

    frame: int = 24
    jar: int = 16
    sight: int = 160
    bone: int = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """The bench around the jar, and the stand it was rendered with."""

    light: Image
    stand: Stand


def render_bench(stand: Stand, view: View, samples: Samples, seed: int) -> Image:
    """Return the whole frame in linear light, right outside the jar, shape (rows, columns, 3)."""
    return _matte(stand, view, None, samples.frame, seed)


def render_linear(stand: Stand, view: View, bench: Bench, samples: Samples, seed: int) -> Image:
    """Return the frame in linear light, shape (rows, columns, 3)."""
    frame = bench.light * _relight(stand, bench.stand, view)
    has_bone, other_tag = "bone" in stand.extras, stand.tag != bench.stand.tag
    for crop, changed in ((rest_crop(view), has_bone), (tag_crop(view), other_tag)):
        if changed:
            _paste(frame, crop, _matte(stand, view, crop, samples.bone, seed + 300))
    jar, sight = jar_crop(view), sight_crop(view)
    _paste(frame, jar, denoise(_light(stand, view, jar, samples.jar, seed + 100)))
    wet = _light(stand, view, sight, samples.sight, seed + 200)
    fields = np.zeros_like(frame)
    _paste(fields, sight, wet)
    _paste(frame, sight, denoise(wet))
    if not stand.sheet or stand.level_y_mm > SIGHT_TOP_Y_MM:
        return frame
    return _set_fields(frame, fields, view, opaque=is_opaque(stand))


def _matte(stand: Stand, view: View, crop: Crop | None, spp: int, seed: int) -> Image:
    return filter_bench(_light(stand, view, crop, spp, seed), guide(stand, view, crop, seed))


def is_opaque(stand: Stand) -> bool:
    """Tell whether bars behind the water are far below one code value of the camera."""
    return min(stand.water.extinction_per_m) * PATH_MM / 1000.0 > OPAQUE_DEPTH


def _relight(stand: Stand, other: Stand, view: View) -> Image:
    """Return the smooth factor by which the jar's content changes the light around it."""
    width, height = view.size_px
    small = replace(view, size_px=(width // COARSE_PX, height // COARSE_PX))
    same_props = replace(other, water=stand.water, level_y_mm=stand.level_y_mm)
    new, old = (_light(one, small, None, COARSE_SAMPLES, 1) for one in (same_props, other))
    outside = np.ones(new.shape[:2], dtype=np.float32)
    left, top, columns, rows = jar_crop(small)
    outside[top : top + rows, left : left + columns] = 0.0
    ratio = cv2.medianBlur(new / np.maximum(old, 1e-4), 5)
    blurred = cv2.GaussianBlur(ratio * outside[..., None], (0, 0), 2.0)
    share = np.maximum(cv2.GaussianBlur(outside, (0, 0), 2.0), 1e-6)
    return cv2.resize(blurred / share[..., None], (width, height), interpolation=cv2.INTER_CUBIC)


def jar_crop(view: View) -> Crop:
    """Return the box of the frame that holds the jar: left, top, width, height [px]."""
    half = INNER_WIDTH_MM / 2 + WALL_MM + 0.5
    front = JAR_GAP_MM + 2 * WALL_MM + PATH_MM
    corners = [
        pixel(view, (JAR_CENTRE_X_MM + side, y, z))
        for side in (-half, half)
        for y in (JAR_TOP_Y_MM - 0.5, TABLE_Y_MM)
        for z in (JAR_GAP_MM, front)
    ]
    return _bounds(np.array(corners), view)


def rest_crop(view: View) -> Crop:
    """Return the box of the frame that holds the bone on its rest [px]."""
    corners = [pixel(view, (x, y, 0.0)) for x in REST_X_MM for y in REST_Y_MM]
    return _bounds(np.array(corners), view)


def tag_crop(view: View) -> Crop:
    """Return the box of the frame that holds the tag in its slot [px]."""
    slot = known_sheets()[0].tag_slot
    corners = [
        pixel(view, (x, y, 0.0))
        for x in (slot.x_mm - TAG_MARGIN_MM, slot.x_mm + slot.width_mm + TAG_MARGIN_MM)
        for y in (slot.y_mm - TAG_MARGIN_MM, slot.y_mm + slot.height_mm + TAG_MARGIN_MM)
    ]
    return _bounds(np.array(corners), view)


def sight_crop(view: View) -> Crop:
    """Return the box of the frame that holds the sight behind the jar [px]."""
    sight = known_sheets()[0].sight
    fine, coarse, margin = sight.wet_fine, sight.wet_coarse, SIGHT_MARGIN_MM
    corners = [
        pixel_through_water(view, x, y)
        for x in (fine.x_mm - margin, fine.x_mm + fine.width_mm + margin)
        for y in (fine.y_mm - margin, coarse.y_mm + coarse.height_mm + margin)
    ]
    return _bounds(np.array(corners), view)


def _bounds(corners: npt.NDArray[np.float64], view: View) -> Crop:
    low = np.maximum(np.floor(corners.min(axis=0)), 0).astype(int)
    high = np.minimum(np.ceil(corners.max(axis=0)), view.size_px).astype(int)
    return int(low[0]), int(low[1]), int(high[0] - low[0]), int(high[1] - low[1])


def _light(stand: Stand, view: View, crop: Crop | None, spp: int, seed: int) -> Image:
    mi = mitsuba()
    scene = build(stand, view, crop)
    coloured = len(set(stand.water.extinction_per_m)) > 1
    kind = "volpathmis" if coloured else "volpath"
    integrator = mi.load_dict({"type": kind, "max_depth": MAX_DEPTH, "rr_depth": ROULETTE_DEPTH})
    width, height = view.size_px if crop is None else crop[2:]
    passes = -(-spp * width * height // PASS_SAMPLES)
    part = -(-spp // passes)
    total = np.zeros((height, width, 3), dtype=np.float32)
    for index in range(passes):
        light = np.array(mi.render(scene, integrator=integrator, spp=part, seed=seed + index))
        total += np.where(np.isfinite(light), np.clip(light, 0.0, BRIGHTEST), 0.0)
    return _despeckle(total / passes)


def guide(stand: Stand, view: View, crop: Crop | None, seed: int) -> Image:
    """Return reflectance, normal and depth of what is seen, shape (rows, columns, 7)."""
    mi = mitsuba()
    names = {"type": "aov", "aovs": "a:albedo,n:sh_normal,d:depth"}
    scene, integrator = build(stand, view, crop), mi.load_dict(names)
    layers = mi.render(scene, integrator=integrator, spp=GUIDE_SAMPLES, seed=seed)
    return np.nan_to_num(np.array(layers, dtype=np.float32)[..., -7:])


def _despeckle(light: Image) -> Image:
    """Replace the rare pixels that a ray lost at an edge of the glass has made far too bright."""
    median = np.stack([cv2.medianBlur(light[..., c], 3) for c in range(3)], axis=2)
    speckled = (light > SPECKLE_FACTOR * median + 0.05).any(axis=2, keepdims=True)
    return np.where(speckled, median, light)


def filter_bench(light: Image, seen: Image) -> Image:
    """Smooth the light on matte surfaces, keeping their edges; shape (rows, columns, 3)."""
    reflectance = np.maximum(seen[..., :3], 1e-3)
    shape = np.concatenate([seen[..., 3:6] * 8.0, seen[..., 6:7] / 3.0], axis=2)
    irradiance = light / reflectance
    trust = evenness(reflectance)
    for step in BENCH_STEPS_PX:
        irradiance, trust = _smooth(irradiance, trust, shape, step)
    return irradiance * reflectance


def evenness(reflectance: Image) -> Image:
    """Return the weight of each pixel's light: little where reflectance changes within it."""
    kernel = np.ones((3, 3), dtype=np.uint8)
    spread = cv2.dilate(reflectance, kernel) - cv2.erode(reflectance, kernel)
    relative = spread.max(axis=2, keepdims=True) / reflectance.mean(axis=2, keepdims=True)
    return np.where(relative < 0.05, 1.0, 1e-4).astype(np.float32)


def _smooth(light: Image, trust: Image, shape: Image, step: int) -> tuple[Image, Image]:
    total, weights = np.zeros_like(light), np.zeros_like(trust)
    for shift in ((dy * step, dx * step) for dy in (-2, -1, 0, 1, 2) for dx in (-2, -1, 0, 1, 2)):
        apart = np.roll(shape, shift, axis=(0, 1)) - shape
        weight = np.exp(-0.5 * np.sum(apart**2, axis=2, keepdims=True))
        weight *= np.roll(trust, shift, axis=(0, 1))
        total += weight * np.roll(light, shift, axis=(0, 1))
        weights += weight
    return total / weights, np.minimum(weights, 1.0)


def _paste(frame: Image, crop: Crop, light: Image) -> None:
    left, top, width, height = crop
    frame[top : top + height, left : left + width] = light


def denoise(light: Image) -> Image:
    """Smooth by non-local means; for parts of the picture that are only looked at."""
    root = np.sqrt(np.maximum(light, 0.0))
    sigma = float(np.median(np.abs(np.diff(root, axis=1)))) * MAD_TO_SIGMA
    smooth = denoise_nl_means(
        root, patch_size=5, patch_distance=6, h=0.7 * sigma, sigma=sigma, channel_axis=-1
    )
    light_again: Image = smooth.astype(np.float32) ** 2
    return light_again


def _set_fields(frame: Image, fields: Image, view: View, *, opaque: bool) -> Image:
    """Set the sight behind the water, filtered along its bars; across them too if opaque."""
    sight = known_sheets()[0].sight
    if opaque:
        fields = cv2.blur(fields, (BAR_REACH_PX, 1))
    result = frame.copy()
    for box in (sight.wet_fine, sight.wet_coarse):
        right, bottom = box.x_mm + box.width_mm, box.y_mm + box.height_mm
        corners = [pixel_through_water(view, x, y) for x in (box.x_mm, right)
                   for y in (box.y_mm, bottom)]  # fmt: skip
        left, top, width, height = _bounds(np.array(corners), view)
        for row in range(top, top + height):
            reach = max(0, min(BAR_REACH_PX, row - top - 3, top + height - 4 - row))
            rows = fields[row - reach : row + reach + 1, left : left + width]
            result[row, left : left + width] = rows.mean(axis=0)
    return result
