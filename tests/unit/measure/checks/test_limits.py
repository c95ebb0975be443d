"""Limits that laws of physics bound."""

import numpy as np

from greasecheck.measure.checks.limits import LOW_GRADIENT
from greasecheck.reference import known_sheets

LAMP_MM = float(np.hypot(400.0, 500.0))  # above and before the jar, as the README has it
AIM_MM = np.array([100.0, 120.0, 0.0])  # the jar's middle; z points from the sheet


def gradient(turn_deg: float, height_deg: float) -> float:
    """Brightest over darkest light of a small lamp, by inverse squares and Lambert's cosine law."""
    sheet = next(one for one in known_sheets() if one.version == 2)
    turn, height = np.deg2rad([turn_deg, height_deg])
    to_lamp = np.sin(turn) * np.cos(height), -np.sin(height), np.cos(turn) * np.cos(height)
    x, y = np.meshgrid(np.linspace(0, sheet.width_mm, 9), np.linspace(0, sheet.height_mm, 9))
    points = np.stack([x, y, np.zeros_like(x)], axis=-1)
    away = AIM_MM + LAMP_MM * np.array(to_lamp) - points
    light = away[..., 2] / np.linalg.norm(away, axis=-1) ** 3
    return float(light.max() / light.min())


def test_every_lamp_that_the_stand_allows_lights_the_sheet_evenly_enough() -> None:
    places = [(turn, height) for turn in range(-30, 31, 10) for height in range(20, 61, 5)]
    steepest = max(gradient(*place) for place in places)
    assert 3.0 < steepest < 3.2  # stated beside the limit
    assert LOW_GRADIENT.check(steepest).passed
