"""Bad light: shadows, glare, lamps off, lamps of another hue, too much light."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.reference import known_sheets
from tests.synthetic.degraded.picture import (
    Picture,
    around,
    between,
    developed,
    soft_box,
    soft_step,
)

if TYPE_CHECKING:
    from numpy.random import Generator

    from tests.synthetic.degraded.picture import Light, Scenery

SHEET = known_sheets()[0]
REST = SHEET.rest_zone
WET = around(SHEET.sight.wet_fine, SHEET.sight.wet_coarse, margin_mm=6.0)
DRY = around(SHEET.sight.dry_fine, SHEET.sight.dry_coarse, margin_mm=4.0)
DEEPEST = 0.8  # share of the light that a shadow takes at most


def shadow_across(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Shadow of something large over a third to a half of the sheet, hard or soft."""
    angle = rng.uniform(0, 2 * np.pi)
    along = (scenery.mm[..., 0] - 130) * np.cos(angle) + (scenery.mm[..., 1] - 95) * np.sin(angle)
    edge = between(rng.uniform(), 0.5, 60.0)
    return _shaded(scenery, soft_step(along - rng.uniform(0, 45), edge), severity)


def shadow_on_wet(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Shadow on the jar alone, over all of its bars or some."""
    return _shaded(scenery, _patch_of(scenery, rng, WET), severity)


def shadow_on_dry(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Shadow on the dry bars alone, over all of them or some."""
    return _shaded(scenery, _patch_of(scenery, rng, DRY), severity)


def _patch_of(scenery: Scenery, rng: Generator, box: tuple[float, float, float, float]) -> Light:
    """Return a shadow's shape over a box: all of it, or cut off somewhere on any of its sides."""
    left, top, right, bottom = box
    cut = rng.integers(5)
    share = rng.uniform(0.3, 0.8)
    wide, high = share * (right - left), share * (bottom - top)
    shapes = (
        box,
        (left, top, left + wide, bottom),
        (right - wide, top, right, bottom),
        (left, top, right, top + high),
        (left, bottom - high, right, bottom),
    )
    return soft_box(scenery.mm, shapes[cut], between(rng.uniform(), 0.5, 12.0))


def _shaded(scenery: Scenery, shape: Light, severity: float) -> Picture:
    depth = between(severity, 0.03, DEEPEST)
    return developed(scenery.light * (1 - depth * shape)[..., None])


def glare_on_sight(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Lamp mirrored by the sheet's print in the dry bars."""
    return _glared(scenery, rng, severity, DRY)


def glare_on_jar(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Lamp or window mirrored by the jar's front."""
    return _glared(scenery, rng, severity, WET)


def glare_on_patches(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Lamp mirrored by a column of patches."""
    sides = ((4.0, 28.0, 38.0, 162.0), (204.0, 28.0, 256.0, 162.0))
    return _glared(scenery, rng, severity, sides[rng.integers(2)])


def _glared(
    scenery: Scenery, rng: Generator, severity: float, box: tuple[float, float, float, float]
) -> Picture:
    left, top, right, bottom = box
    x, y = rng.uniform(left, right), rng.uniform(top, bottom)
    half = rng.uniform(4, 30, 2)
    if rng.random() < 0.5:  # a window, sharply seen, or a glossy lamp, spread out
        edge = between(rng.uniform(), 0.5, 5.0)
        shape = soft_box(scenery.mm, (x - half[0], y - half[1], x + half[0], y + half[1]), edge)
    else:
        away = (scenery.mm - np.array([x, y], dtype=np.float32)) / half.astype(np.float32)
        shape = np.exp(-0.5 * (away**2).sum(axis=-1))
    lamp = np.array([1.05, 1.0, 0.92], dtype=np.float32) * between(severity, 0.01, 1.5)
    return developed(scenery.light + shape[..., None] * lamp)


def lamp_off(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """One of two lamps off: light from one side, from a near lamp."""
    side = rng.choice([-1.0, 1.0])
    lamp_mm = np.array([130 + side * rng.uniform(250, 600), rng.uniform(-300, 50)])
    height = between(1 - severity, 60.0, 700.0)
    away = scenery.mm - lamp_mm.astype(np.float32)
    distance2 = (away**2).sum(axis=-1) + height**2
    lit = distance2**-1.5  # inverse square, and the cosine of a sheet lit from the side
    middle = (((130, 95) - lamp_mm) ** 2).sum() + height**2
    share = rng.uniform(0.5, 0.9)
    relative = (1 - share) + share * lit / middle**-1.5
    return developed(scenery.light * relative.astype(np.float32)[..., None])


def hue_of_lamp(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Lamp of another hue over the whole picture, the camera's balance left behind."""
    return developed(scenery.light * _hue(rng, severity))


def mixed_light(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """A warm lamp from one side, a cold window from the other."""
    one, other = _hue(rng, severity), _hue(rng, severity)
    if (one[0] - one[2]) * (other[0] - other[2]) > 0:
        other = np.asarray(1 / other, dtype=np.float32)
    angle = rng.uniform(-0.6, 0.6)
    along = scenery.mm[..., 0] * np.cos(angle) + scenery.mm[..., 1] * np.sin(angle)
    share = 1 / (1 + np.exp(-(along - rng.uniform(60, 280)) / between(rng.uniform(), 15.0, 120.0)))
    mixed = one + (other - one) * share[..., None]
    return developed(scenery.light * mixed.astype(np.float32))


def lamp_on_rest(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """A second lamp of another hue on the rest alone: over all of it, or a round pool."""
    pool = rng.random() < 0.5
    edge = between(rng.uniform(), 5.0, 60.0)
    middle = np.array([REST.x_mm + REST.width_mm / 2, REST.y_mm + REST.height_mm / 2])
    if pool:
        aim = middle + rng.uniform(-15, 15, 2)
        away = np.hypot(*np.moveaxis(scenery.mm - aim.astype(np.float32), -1, 0))
        shape = soft_step(np.asarray(rng.uniform(45, 75) - away), edge)
    else:
        shape = soft_step(scenery.mm[..., 0] - REST.x_mm - rng.uniform(0, 15), edge / 4)
    lamp = _hue(rng, rng.uniform(0.3, 1)) * between(severity, 0.05, 1.5)
    return developed(scenery.light * (1 + lamp * shape[..., None]))


def _hue(rng: Generator, severity: float) -> Light:
    """Gains of R, G, B: warm or cold, a little green or magenta, none above 1.2."""
    strength = between(severity, 0.02, 0.7)
    warm, green = rng.choice([-1.0, 1.0]) * strength, rng.normal(0, 0.15) * strength
    gains = np.exp(np.array([warm / 2, green, -warm / 2]))
    return np.asarray(gains / max(gains.max() / 1.2, 1.0), dtype=np.float32)


def overexposed(scenery: Scenery, _: Generator, severity: float) -> Picture:
    """Exposed too long."""
    return developed(scenery.light * between(severity, 1.05, 4.0))


def too_dark(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Low light: few electrons, with or without the camera's gain."""
    electrons, gain = between(1 - severity, 40.0, 8000.0), rng.choice([1.0, 0.0])
    exposure = between(severity, 0.9, 0.03)
    counts = rng.poisson(np.maximum(scenery.light, 0) * electrons)
    noisy = (counts + rng.normal(0, 3.0, scenery.light.shape)) / electrons
    return developed(noisy * (1.0 if gain else exposure))
