"""The path tracer against what must hold: a white furnace, Beer's law, a lamp's form factor."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.synthetic.path_tracer.stand import EYE, JAR, Light, lamp, scene
from tests.synthetic.path_tracer.tracer import (
    Medium,
    Rays,
    Rectangle,
    Room,
    Scene,
    Texture,
    Vessel,
    available,
    trace,
)

pytestmark = pytest.mark.skipif(not available(), reason="no C++ compiler is there")

WHITE = Texture(codes=np.full((2, 2, 3), 255, np.uint8), reflectance=np.ones(256))
PLACES = np.array([[90.0, 140.0, 0.0], [90.0, 75.0, 0.0], [180.0, 100.0, 0.0]])
FURNACE = Room(reflectance=(0.0,) * 6, radiance=(1.0, 1.0, 1.0))


def stand(extinction_per_m: float, albedo: float, room: Room = FURNACE) -> Scene:
    medium = Medium(
        extinction_per_m=(extinction_per_m, 1.3 * extinction_per_m, 1.7 * extinction_per_m),
        albedo=(albedo,) * 3,
        asymmetry=0.8,
    )
    return scene(Light(lamps=(), room=room), medium)


def view(paths: int, seed: int = 1) -> Rays:
    return Rays(
        targets=PLACES,
        origin=EYE,
        jitter_u=(2.0, 0.0, 0.0),
        jitter_v=(0.0, 2.0, 0.0),
        paths=paths,
        seed=seed,
    )


def light_at(place: NDArray[np.float64], paths: int) -> Rays:
    return replace(view(paths), targets=place[np.newaxis], origin=(0.0, 0.0, 1.0), irradiance=True)


@pytest.mark.parametrize("extinction_per_m", [0.0, 25.0])
def test_nothing_is_lost_in_a_white_furnace(extinction_per_m: float) -> None:
    """Where nothing absorbs and light comes alike from all round, all looks alike."""
    seen = trace(stand(extinction_per_m, 1.0), WHITE, view(4000))
    assert seen == pytest.approx(np.ones((3, 3)), abs=0.02)


def test_absorbing_water_follows_beer() -> None:
    """No scattering: white behind 60 mm of water keeps exp(-c L) twice, in and out, or less."""
    light = np.ones((2, 2, 3))
    seen = trace(stand(20.0, 0.0), WHITE, view(4000), light)
    assert seen[0] == pytest.approx(seen[0, 0], abs=0.03)  # only what walls and surface mirror
    assert seen[0].max() < 0.12


def test_a_lamp_gives_the_irradiance_of_its_form_factor() -> None:
    """A small parallel lamp on the axis: pi L times its area over pi d squared."""
    far = Vessel(outer=(-900.0, -800.0, 0.0, 100.0, 500.0, 560.0), wall_mm=2.5, surface_y=10.0)
    board = Rectangle(centre=(0.0, 0.0, 0.0), half_u=(50.0, 0.0, 0.0), half_v=(0.0, 50.0, 0.0))
    small = Rectangle(
        centre=(0.0, 0.0, 1000.0),
        half_u=(0.0, 20.0, 0.0),
        half_v=(20.0, 0.0, 0.0),
        colour=(5.0, 5.0, 5.0),
        lamp=True,
    )
    dark = Room(reflectance=(0.0,) * 6)
    medium = Medium(extinction_per_m=(0.0,) * 3, albedo=(0.0,) * 3, asymmetry=0.0)
    lit = Scene(vessel=far, medium=medium, rectangles=(board, small), room=dark)
    rays = light_at(np.zeros(3), 2000)
    assert trace(lit, WHITE, rays)[0] == pytest.approx(5.0 * 40.0**2 / 1000.0**2, rel=0.01)


def test_rays_that_pass_straight_are_all_that_a_map_leaves_out() -> None:
    """Brute force is what is left with a map of light, and the known straight part."""
    murky = stand(15.0, 0.9)
    everything = trace(murky, WHITE, view(20000, seed=2))[0]
    behind = trace(murky, WHITE, light_at(PLACES[0], 20000))
    light = np.tile(behind, (2, 2, 1))
    scattered = trace(murky, WHITE, view(20000, seed=3), light)[0]
    walls = np.prod([4 * n / (1 + n) ** 2 for n in (1.49, 1.49 / 1.333)]) ** 2
    path_mm = JAR[5] - JAR[4] - 5.0
    straight = walls * np.exp(-0.001 * path_mm * 15.0 * np.array([1.0, 1.3, 1.7]))
    assert scattered + straight * behind[0] / np.pi == pytest.approx(everything, rel=0.03)


def test_a_lamp_points_at_the_sheet() -> None:
    one = lamp((500.0, -200.0, 700.0), (100.0, 100.0))
    towards = np.cross(one.half_u, one.half_v)
    assert towards @ (np.array([100.0, 120.0, 0.0]) - one.centre) > 0
