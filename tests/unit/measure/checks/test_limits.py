"""Limits that laws of physics bound."""

import numpy as np
from numpy.typing import NDArray

from greasecheck.measure.checks.limits import LAMP_HEIGHT, LOW_GRADIENT
from greasecheck.measure.sight.stand_light import WALLS_MM, lamp_elevation_deg
from greasecheck.reference import known_sheets
from greasecheck.reference.water import WATER_INDEX

LAMP_MM = float(np.hypot(400.0, 500.0))  # above and before the jar, as the README has it
PATH_MM = 60.0
AIM_MM = np.array([100.0, 120.0, 0.0])  # the jar's middle; z points from the sheet
FRONT_EDGE_MM = np.array([90.5, 92.0, PATH_MM + WALLS_MM])  # of the water's surface
PLACES = [(turn, height) for turn in range(-30, 31, 10) for height in range(20, 61, 5)]


def lamp_mm(turn_deg: float, height_deg: float) -> NDArray[np.float64]:
    """Return where a lamp stands, in the README's range where the angles are."""
    turn, height = np.deg2rad([turn_deg, height_deg])
    to_lamp = np.sin(turn) * np.cos(height), -np.sin(height), np.cos(turn) * np.cos(height)
    return np.asarray(AIM_MM + LAMP_MM * np.array(to_lamp))


def gradient(turn_deg: float, height_deg: float) -> float:
    """Brightest over darkest light of a small lamp, by inverse squares and Lambert's cosine law."""
    sheet = next(one for one in known_sheets() if one.version == 2)
    x, y = np.meshgrid(np.linspace(0, sheet.width_mm, 9), np.linspace(0, sheet.height_mm, 9))
    points = np.stack([x, y, np.zeros_like(x)], axis=-1)
    away = lamp_mm(turn_deg, height_deg) - points
    light = away[..., 2] / np.linalg.norm(away, axis=-1) ** 3
    return float(light.max() / light.min())


def test_every_lamp_that_the_stand_allows_lights_the_sheet_evenly_enough() -> None:
    steepest = max(gradient(*place) for place in PLACES)
    assert 3.0 < steepest < 3.2  # stated beside the limit
    assert LOW_GRADIENT.check(steepest).passed


def seen_elevation(turn_deg: float, height_deg: float) -> float:
    """Height of a lamp by the shadow of the front edge (Snell's law), as a photo shows it."""
    away = lamp_mm(turn_deg, height_deg) - FRONT_EDGE_MM
    aside, down = -away[:2] / np.linalg.norm(away) / WATER_INDEX
    slope = down / np.sqrt(1 - aside**2 - down**2)
    return lamp_elevation_deg(float(slope) * (PATH_MM + WALLS_MM), PATH_MM)


def test_every_lamp_that_the_stand_allows_is_low_enough() -> None:
    highest = max(seen_elevation(*place) for place in PLACES)
    assert 65.5 < highest < 66.0  # stated beside the limit
    assert LAMP_HEIGHT.check(highest).passed
