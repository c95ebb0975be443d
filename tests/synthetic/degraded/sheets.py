"""A bad sheet, or something before it: fingers, wet paper, faded print, folds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.reference import known_sheets
from tests.synthetic.degraded.finger import SKIN, finger_shape
from tests.synthetic.degraded.picture import (
    DISTANCE_MM,
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
INK = 0.03 / 0.88  # light of full ink over that of bare paper
PAPER_MM = (-8.0, -8.0, 268.0, 190.0)  # left, top, right, bottom; the lower margin is folded back
CREASE_MM = 1.5
FOLDS = (  # a point on each fold [mm] and the direction of what is folded: all beside the jar
    (150.0, 95.0, 0.0), (220.0, 60.0, 0.0), (130.0, 64.0, -np.pi / 2),
    (36.0, 95.0, np.pi), (200.0, 60.0, -np.pi / 4), (215.0, 140.0, np.pi / 5),
)  # fmt: skip


def finger_on_patch(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Finger over some patches, come in from the nearer side."""
    boxes = list(SHEET.patches.values())
    x, y = boxes[rng.integers(len(boxes))].centre_mm
    return _with_finger(scenery, rng, (x, y), severity, -1.0 if x < 130 else 1.0)


def finger_on_marker(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Finger over a corner marker."""
    corners = [marker.box for marker in SHEET.markers if marker.corner]
    x, y = corners[rng.integers(len(corners))].centre_mm
    return _with_finger(scenery, rng, (x, y), severity, -1.0 if x < 130 else 1.0)


def finger_on_sight(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Finger over the bars, wet or dry."""
    sight = SHEET.sight
    boxes = (sight.wet_fine, sight.wet_coarse, sight.dry_fine, sight.dry_coarse)
    chosen = rng.integers(4)
    return _with_finger(
        scenery, rng, boxes[chosen].centre_mm, severity, -1.0 if chosen < 2 else 1.0
    )


def _with_finger(
    scenery: Scenery, rng: Generator, at_mm: tuple[float, float], severity: float, side: float
) -> Picture:
    """Lay a finger that ends up to 25 mm short of a place, or up to 25 mm beyond it."""
    width, tilt = rng.uniform(11, 20), rng.uniform(-0.7, 0.7)
    tip_x = at_mm[0] + side * 25 * (1 - 2 * severity)
    tip = np.array([tip_x, at_mm[1] + rng.uniform(-5, 5)])
    along = np.array([side * np.cos(tilt), np.sin(tilt)])
    shadow = finger_shape(scenery.mm, tip + rng.uniform(1, 6, 2), along, width, rng.uniform(3, 10))
    finger = finger_shape(scenery.mm, tip, along, width, 1.0)[..., None]
    lit = scenery.light * (1 - 0.4 * shadow)[..., None]
    skin = SKIN * rng.uniform(0.5, 1.4) * float(np.quantile(scenery.light, 0.9))
    return developed(lit * (1 - finger) + skin * finger)


def wet_sheet(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """A splash: the paper darker where it is wet, and glossy."""
    blotch = _blotch(scenery, rng, between(severity, 8.0, 90.0))
    dark = 1 - between(rng.uniform(), 0.05, 0.35) * blotch
    gloss = _blotch(scenery, rng, 12.0) * blotch * between(rng.uniform(), 0.01, 0.3)
    wet = scenery.light * (dark[..., None] ** np.array([0.8, 1.0, 1.3], dtype=np.float32))
    return developed(wet + gloss[..., None])


def _blotch(scenery: Scenery, rng: Generator, size_mm: float) -> Light:
    """Return an irregular blotch somewhere on the sheet, 1 inside and 0 outside."""
    centre = np.array([rng.uniform(0, 260), rng.uniform(0, 190)], dtype=np.float32)
    away = scenery.mm - centre
    angle = np.arctan2(away[..., 1], away[..., 0])
    ripple = sum(
        rng.normal(0, 0.25 / order) * np.cos(order * angle + rng.uniform(0, 6))
        for order in range(1, 6)
    )
    radius = size_mm / 2 * np.maximum(1 + ripple, 0.2)
    on_sheet = soft_box(scenery.mm, PAPER_MM, 0.5)
    return np.asarray(soft_step(radius - np.hypot(away[..., 0], away[..., 1]), 2.0) * on_sheet)


def faded(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """Print bleached by the sun, its colours before its black, and the paper yellowed."""
    chroma_kept = 1 - between(severity, 0.02, 0.8)
    black_kept = 1 - (1 - chroma_kept) * rng.uniform(0.05, 0.4)
    yellowed = (1 - chroma_kept) * rng.uniform(0, 0.15)
    paper = _paper_light(scenery)
    relative = np.clip(scenery.light / paper, INK / 2, 1)
    density = -np.log(relative)
    black = density.min(axis=-1, keepdims=True)
    bleached = np.exp(-(black_kept * black + chroma_kept * (density - black)))
    colour = np.array([1.0, 1 - 0.2 * yellowed, 1 - yellowed], dtype=np.float32)
    dry = bleached * paper * colour
    jar = soft_box(scenery.mm, scenery.jar, 0.3)[..., None]
    wet = _paled(scenery.light, (1 - INK**black_kept) / (1 - INK)) * colour
    printed = soft_box(scenery.mm, PAPER_MM, 0.3)[..., None]
    return developed(
        scenery.light * (1 - printed) + printed * (dry * (1 - jar) + wet.astype(np.float32) * jar)
    )


def _paper_light(scenery: Scenery) -> Light:
    """Return the light that bare paper would send from everywhere."""
    small = cv2.resize(scenery.light, None, fx=0.125, fy=0.125, interpolation=cv2.INTER_AREA)
    places = cv2.resize(scenery.mm, (small.shape[1], small.shape[0]))
    windows = np.array([box.centre_mm for box in SHEET.paper_windows])
    pixels = np.rint(scenery.pixels_of(windows)).astype(int)
    logs = np.log(scenery.light[pixels[:, 1], pixels[:, 0]])
    fit = np.linalg.lstsq(_terms(windows), logs, rcond=None)[0]
    level = np.exp(_terms(places.reshape(-1, 2)) @ fit).reshape(small.shape)
    height, width = scenery.light.shape[:2]
    return np.asarray(cv2.resize(level.astype(np.float32), (width, height)))


def _terms(points_mm: np.ndarray) -> np.ndarray:
    x, y = points_mm[:, 0] / 260, points_mm[:, 1] / 190
    return np.column_stack([np.ones(len(x)), x, y, x * x, x * y, y * y])


def _paled(light: Light, kept: float) -> Light:
    """Return the bars behind the jar with a share of their contrast, their white as it is."""
    white = cv2.blur(cv2.dilate(light, np.ones((1, 61), np.uint8)), (31, 1))
    return np.asarray(white - (white - light) * kept)


def creased(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """A fold beside the jar: what lies beyond it is tilted, nearer, and lit otherwise."""
    tilt = np.radians(between(severity, 1.0, 40.0))
    x, y, angle = FOLDS[rng.integers(len(FOLDS))]
    across = np.array([np.cos(angle), np.sin(angle)], dtype=np.float32)
    beyond = (scenery.mm - np.array([x, y], dtype=np.float32)) @ across
    sheet = soft_box(scenery.mm, PAPER_MM, 0.5)
    jar = soft_box(scenery.mm, scenery.jar, 1.0)
    folded = sheet * (1 - jar)
    towards = rng.choice([-1.0, 1.0]) * np.sin(tilt)
    nearer = 1 / np.cos(tilt) - 1 - towards * np.maximum(beyond, 0) / DISTANCE_MM
    shift = np.maximum(beyond, 0) * nearer * folded
    moved = scenery.sample(scenery.mm + shift[..., None] * across)
    step = 1 + rng.choice([-1.0, 1.0]) * rng.uniform(0.2, 0.8) * np.sin(tilt)
    line = 1 - 0.3 * np.sin(tilt) * np.exp(-0.5 * (beyond / CREASE_MM) ** 2)
    lit = 1 + (step - 1) * soft_step(beyond, 1.0)
    return developed(moved * (1 + (lit * line - 1) * folded)[..., None])
