from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from greasecheck.measure.ladder.refraction import Eye, Surface, look

MATRIX = np.array([[1500.0, 0, 1000], [0, 1500.0, 750], [0, 0, 1]])


def eye_at(view_deg: float, distance_mm: float) -> Eye:
    """Look at the middle of the plate's waterline, so far from straight down."""
    view = np.radians(view_deg)
    place = np.array([100.0, 88 - distance_mm * np.cos(view), -distance_mm * np.sin(view)])
    forward = np.array([100.0, 88.0, 0.0]) - place
    forward = forward / np.linalg.norm(forward)
    right = np.array([1.0, 0.0, 0.0])
    down = np.cross(forward, right)
    return Eye(
        matrix=MATRIX, rotation=np.stack([right, down, forward]), place_mm=place, residual_px=0.0
    )


SURFACE = Surface(level_mm=88.0, lean_rad=0.0, roll_rad=0.0, middle_mm=100.0)


@pytest.mark.parametrize("view_deg", [15.0, 30.0, 45.0, 60.0])
def test_sight_lines_keep_snells_law_and_the_shortest_time(view_deg: float) -> None:
    eye = eye_at(view_deg, 700.0)
    places = np.array([[70.0, 100.0], [100.0, 150.0], [130.0, 250.0]])
    sight = look(eye, SURFACE, places)
    sine_water = np.sqrt(1 - (sight.depth_mm / sight.path_mm) ** 2)
    assert np.sqrt(1 - sight.cos_air**2) == pytest.approx(1.333 * sine_water, rel=1e-6)
    for place, path in zip(places, sight.path_mm, strict=True):
        crossings = np.linspace(0.0, 400.0, 40001)  # of the surface, from the plate
        height = 700.0 * np.cos(np.radians(view_deg))
        foot = np.array([place[0], 0.0])
        away = np.array([100.0, 700.0 * np.sin(np.radians(view_deg))]) - foot
        distance = np.hypot(*away)
        water = np.hypot(crossings, place[1] - 88)
        time = 1.333 * water + np.hypot(distance - crossings, height)  # Fermat's principle
        assert path == pytest.approx(water[np.argmin(time)], abs=0.05)


def test_a_plate_above_the_water_is_seen_straight() -> None:
    eye = eye_at(40.0, 700.0)
    places = np.array([[10.0, 20.0], [190.0, 80.0]])
    sight = look(eye, SURFACE, places)
    straight = eye.project(np.column_stack([places, np.zeros(2)]))
    assert sight.pixels == pytest.approx(straight)
    assert not sight.path_mm.any()


@pytest.mark.parametrize(("lean_deg", "roll_deg"), [(0.0, 0.0), (-4.0, 0.0), (3.0, 2.0)])
def test_water_mirrors_the_plate_as_another_camera_below_would_see_it(
    lean_deg: float, roll_deg: float
) -> None:
    eye = eye_at(35.0, 600.0)
    surface = replace(
        SURFACE, lean_rad=float(np.radians(lean_deg)), roll_rad=float(np.radians(roll_deg))
    )
    sight = look(eye, surface, np.array([[90.0, 110.0], [120.0, 190.0]]))
    for pixel, mirrored in zip(sight.pixels, sight.mirrored_mm, strict=True):
        way = eye.rotation.T @ np.linalg.solve(eye.matrix, [*pixel, 1.0])
        image = eye.place_mm - 2 * surface.height_mm(eye.place_mm[np.newaxis])[0] * surface.up
        turned = way - 2 * (way @ surface.up) * surface.up
        assert mirrored == pytest.approx(image[1] - image[2] / turned[2] * turned[1], abs=0.01)


def test_from_straight_above_water_mirrors_none_of_the_plate() -> None:
    sight = look(eye_at(0.0, 600.0), replace(SURFACE, lean_rad=-0.02), np.array([[100.0, 110.0]]))
    assert sight.mirrored_mm[0] == -np.inf


def test_water_raises_what_is_in_it() -> None:
    eye = eye_at(40.0, 700.0)
    places = np.array([[100.0, 160.0]])
    wet = look(eye, SURFACE, places).pixels[0, 1]
    dry = eye.project(np.array([[100.0, 160.0, 0.0]]))[0, 1]
    assert wet < dry
