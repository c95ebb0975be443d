"""A foreign thing of a bone's colour on the rest: a card, a strip of wood, a stone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from greasecheck.reference import known_sheets
from tests.synthetic.degraded.picture import Picture, developed, soft_step

if TYPE_CHECKING:
    from numpy.random import Generator
    from numpy.typing import NDArray

    from tests.synthetic.degraded.picture import Scenery

REST = known_sheets()[0].rest_zone
# Linear light of a thing over that of white paper: limestone, manila card, pine, beech.
STONE = np.array([0.60, 0.55, 0.46])
CARD = np.array([0.80, 0.62, 0.36])
WOODS = (np.array([0.62, 0.44, 0.26]), np.array([0.70, 0.55, 0.38]))
GRAIN = 0.06  # standard deviation along a strip of wood


def card_on_rest(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """A yellow card beside the bone, from a stamp's to a business card's size."""
    width, height = 18 + 45 * severity, 12 + 28 * severity
    return _laid(scenery, rng, (width, height), CARD * rng.uniform(0.8, 1.2, 3), grain=0.0)


def strip_on_rest(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """A strip of wood beside the bone or against it."""
    size = 35 + 60 * severity, rng.uniform(8, 18)
    wood = WOODS[rng.integers(len(WOODS))] * rng.uniform(0.85, 1.15)
    return _laid(scenery, rng, size, wood, grain=GRAIN)


def stone_on_rest(scenery: Scenery, rng: Generator, severity: float) -> Picture:
    """A pebble in the rest's upper corner, 16 to 30 mm long."""
    long = 8 + 7 * severity
    middle = np.array([REST.x_mm + REST.width_mm - 12 - long, REST.y_mm + 12 + long])
    away = np.linalg.norm((scenery.mm - middle) / (long, long * rng.uniform(0.6, 1)), axis=-1)
    inside = soft_step(1 - away, 0.05)[..., None]
    rounded = 0.5 + 0.5 * np.sqrt(np.clip(1 - away**2, 0, 1))[..., None]
    thing = float(np.quantile(scenery.light, 0.95)) * STONE.astype(np.float32) * rounded
    return developed(scenery.light + inside * (thing - scenery.light))


def _laid(
    scenery: Scenery,
    rng: Generator,
    size_mm: tuple[float, float],
    colour: NDArray[np.float64],
    *,
    grain: float,
) -> Picture:
    """Lay a rectangle whole on the rest, at any angle."""
    angle = rng.uniform(0, np.pi)
    across = np.array([np.cos(angle), np.sin(angle)])
    half = np.abs(across) * size_mm[0] / 2 + np.abs(across[::-1]) * size_mm[1] / 2
    room = np.array([REST.width_mm, REST.height_mm]) / 2 - half - 9
    middle = np.array([REST.x_mm, REST.y_mm]) + np.array([REST.width_mm, REST.height_mm]) / 2
    off = scenery.mm - (middle + rng.uniform(-1, 1, 2) * np.maximum(room, 0))
    along = off @ across
    aside = off @ np.array([-across[1], across[0]])
    inside = soft_step(size_mm[0] / 2 - np.abs(along), 0.4)
    inside = inside * soft_step(size_mm[1] / 2 - np.abs(aside), 0.4)
    white = float(np.quantile(scenery.light, 0.95))
    rings = 1 + grain * np.sin(aside * 4 + 0.3 * np.sin(along / 9))
    thing = white * np.asarray(colour, np.float32) * rings[..., None]
    return developed(scenery.light + inside[..., None] * (thing - scenery.light))
