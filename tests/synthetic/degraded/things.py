"""A foreign thing on the rest: a card or a strip of wood of a bone's colour, beside it or at it."""

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
# Linear light of a thing over that of white paper: manila card, pine, beech.
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
