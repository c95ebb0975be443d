"""A bad jar: another depth, too narrow, out of place, with drops, foam or bubbles."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.reference import known_sheets
from sample_images.scene import PATH_MM, WATER_IOR
from tests.synthetic.degraded.picture import (
    DISTANCE_MM,
    FOOT_MM,
    Picture,
    between,
    developed,
    soft_box,
    soft_step,
)

if TYPE_CHECKING:
    from numpy.random import Generator

    from tests.synthetic.degraded.picture import Light, Scenery

SHEET = known_sheets()[0]
WET_LEFT, WET_RIGHT = 66.0, 114.0
TO_DRY_MM = 82.0  # from a bar behind the jar to its dry twin
AIRLIGHT = 0.5  # of paper white, by water that only scatters: half of what it scatters goes back


def other_depth(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """A jar of another depth than the one of the reference: fainter bars, moved by refraction."""
    ratio = between(severity, 1.02, 2.5) ** rng.choice([-1.0, 1.0])
    usual = 1 + PATH_MM * (1 - 1 / WATER_IOR) / DISTANCE_MM
    stretch = 1 + ratio * (usual - 1)
    foot = np.array(FOOT_MM, dtype=np.float32)
    inside = soft_box(scenery.mm, scenery.jar, 1.0)[..., None]
    seen = scenery.mm + inside * ((scenery.mm - foot) * np.float32(usual / stretch - 1))
    moved = scenery.sample(seen)
    white = cv2.blur(cv2.dilate(moved, np.ones((1, 61), np.uint8)), (31, 1))
    old = np.exp(-scenery.truth.red_per_m * PATH_MM / 1000)
    new = old**ratio
    level = _white(new, scenery.truth.albedo) / _white(old, scenery.truth.albedo)
    water = white * level - (white - moved) * (new / old)
    return developed(scenery.light * (1 - inside) + water * inside)


def _white(kept: float, albedo: float) -> float:
    """Return the light of white bars through water that keeps a share of the contrast.

    Koschmieder, H. (1924). Beitr. Phys. freien Atm. 12, 33: airlight grows with what is lost.
    """
    return kept + AIRLIGHT * albedo * (1 - kept)


def narrow_jar(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """A jar so narrow that bars stand out on one side or both."""
    out = between(severity, 1.0, 22.0)
    left = WET_LEFT + out if rng.random() < 0.7 else -1e3
    right = WET_RIGHT - out if rng.random() < 0.7 or left < 0 else 1e3
    return developed(_dry_outside(scenery, left, right))


def jar_shifted(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """The jar half beside the bars, so that some of them are seen dry."""
    out = between(severity, 1.0, 36.0)
    if rng.random() < 0.5:
        return developed(_dry_outside(scenery, WET_LEFT + out, 1e3))
    return developed(_dry_outside(scenery, -1e3, WET_RIGHT - out))


def _dry_outside(scenery: Scenery, left: float, right: float) -> Light:
    """Show the dry twins beside the walls of the jar at `left` and `right` [mm]."""
    shift = np.array([TO_DRY_MM, 0.0], dtype=np.float32)
    dry = scenery.sample(scenery.mm + shift)
    x = scenery.mm[..., 0]
    fields = soft_box(scenery.mm, (44.0, 104.0, 122.0, 172.0), 1.0)
    outside = fields * np.maximum(soft_step(left - x, 0.3), soft_step(x - right, 0.3))
    walls = sum(np.exp(-0.5 * ((x - edge) / 0.8) ** 2) for edge in (left, right))
    shown = scenery.light * (1 - outside)[..., None] + dry * outside[..., None]
    return np.asarray(shown * (1 - 0.3 * fields * walls)[..., None])


def drops(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Drops on the jar's front wall: small lenses with a dark and a bright rim."""
    mm, shade = scenery.mm.copy(), np.ones(scenery.mm.shape[:2], dtype=np.float32)
    for _ in range(round(between(severity, 2, 250))):
        centre, radius = _place(rng), rng.gamma(3.0, 0.5)
        rows, columns = _near(scenery, centre, radius)
        away = scenery.mm[rows, columns] - centre
        inside = soft_step(radius - np.hypot(away[..., 0], away[..., 1]), 0.3)
        mm[rows, columns] = scenery.mm[rows, columns] - 4 * away * inside[..., None]
        shade[rows, columns] *= 1 - inside * (0.1 - 0.25 * away[..., 1] / radius)
    return developed(scenery.sample(mm) * shade[..., None])


def bubbles(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Bubbles on the walls: pale discs with a dark rim and a spot of the lamp."""
    light = scenery.light.copy()
    for _ in range(round(between(severity, 3, 500))):
        centre, radius = _place(rng), rng.gamma(4.0, 0.2)
        rows, columns = _near(scenery, centre, radius)
        away = scenery.mm[rows, columns] - centre
        distance = np.hypot(away[..., 0], away[..., 1])
        inside = soft_step(radius - distance, 0.2)[..., None] * rng.uniform(0.3, 0.9)
        spot = np.exp(-0.5 * (((away + 0.4 * radius) / (0.2 * radius)) ** 2).sum(axis=-1))
        disc = 0.55 - 0.35 * (distance / radius) ** 4 + 0.6 * spot
        light[rows, columns] = light[rows, columns] * (1 - inside) + disc[..., None] * inside
    return developed(light)


def foam(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Foam from the fill line down, its lower edge uneven, thicker the more severe."""
    depth, thick = between(severity, 3.0, 70.0), rng.uniform(0.25 + 0.35 * severity, 1.0)
    left, _, right, _ = scenery.jar
    wave = 2.5 * np.sin(scenery.mm[..., 0] / rng.uniform(4, 12) + rng.uniform(0, 6))
    low = SHEET.fill_line_y_mm - 6 + depth + wave - scenery.mm[..., 1]
    column = soft_box(scenery.mm, (left + 4, SHEET.fill_line_y_mm - 8, right - 4, 1e3), 1.0)
    shape = (column * soft_step(low, 2.0) * thick)[..., None]
    grain = rng.normal(0, 1, scenery.light.shape[:2]).astype(np.float32)
    cells = cv2.GaussianBlur(grain, (0, 0), 0.5 * scenery.px_per_mm) * scenery.px_per_mm
    white = float(np.quantile(scenery.light, 0.9)) * np.clip(0.9 + 0.12 * cells, 0.3, 1.2)
    return developed(scenery.light * (1 - shape) + white[..., None] * shape)


def _place(rng: Generator) -> Light:
    """Return a place on the jar's front, before or near the bars [mm]."""
    return np.array([rng.uniform(50, 128), rng.uniform(100, 178)], dtype=np.float32)


def _near(scenery: Scenery, centre: Light, radius: float) -> tuple[slice, slice]:
    """Return the rows and columns around a place."""
    ends = np.array([centre - radius - 1, centre + radius + 1], dtype=np.float64)
    (x0, y0), (x1, y1) = np.rint(scenery.pixels_of(ends)).astype(int)
    return slice(y0, y1), slice(x0, x1)
