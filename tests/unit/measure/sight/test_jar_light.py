"""Light around the jar: shadows are told from brown and milky water by place and colour."""

import numpy as np
import pytest

from greasecheck.measure.sight.jar_light import (
    EDGE_FACTOR,
    USUAL_DIMMING,
    JarLight,
    JarLightChange,
    colourless,
    jar_light_change,
)

WHITE, HALF = (1.0, 1.0, 1.0), (0.5, 0.5, 0.5)
THEN = JarLight(places=((1.1, 1.1, 1.1), WHITE), glass=HALF)


def times(row: tuple[float, float, float], *shares: float) -> tuple[float, float, float]:
    red, green, blue = np.multiply(row, shares).tolist()
    return red, green, blue


def change(now: JarLight, then: JarLight = THEN, lost: float = 0.1) -> JarLightChange:
    return jar_light_change(now, then, lost)


@pytest.mark.parametrize("dark", [0.08, 0.3])
def test_a_shadow_on_one_place_or_on_the_glass_is_seen_by_its_size(dark: float) -> None:
    depth = -np.log(1 - dark)
    on_place = JarLight(
        places=(THEN.places[0], times(THEN.places[1], *(1 - dark,) * 3)), glass=HALF
    )
    on_glass = JarLight(places=THEN.places, glass=times(HALF, *(1 - dark,) * 3))
    for now in (on_place, on_glass):
        assert change(now).dimmed == pytest.approx(depth)
        assert change(now).brightened == 0
        assert change(now).depth_std == pytest.approx(EDGE_FACTOR * (depth - USUAL_DIMMING))


def test_brown_water_takes_more_blue_and_is_no_shadow() -> None:
    brown = JarLight(places=THEN.places, glass=times(HALF, 0.95, 0.92, 0.88))
    assert change(brown).largest == 0
    shaded = JarLight(places=THEN.places, glass=times(brown.glass, 0.8, 0.8, 0.8))
    assert change(shaded).dimmed > 0.1


def test_a_place_in_the_jars_own_shadow_may_lose_what_comes_through_the_water() -> None:
    then = JarLight(places=(WHITE, HALF), glass=HALF)
    now = JarLight(places=(WHITE, times(HALF, 0.7, 0.7, 0.7)), glass=HALF)
    assert change(now, then, lost=0.8).largest == 0
    assert change(now, then, lost=0.1).dimmed == pytest.approx(-np.log(0.7) - 0.05)


def test_milky_water_lights_the_glass_and_a_reflection_does_so_more() -> None:
    now = JarLight(places=THEN.places, glass=times(HALF, 1.08, 1.07, 1.06))
    assert change(now, lost=0.9).brightened == 0
    assert change(now, lost=0.1).brightened == pytest.approx(np.log(1.06) - 0.009, abs=1e-6)


def test_nothing_is_known_without_a_reference_that_kept_the_light() -> None:
    assert change(THEN).depth_std == 0
    for then in (None, JarLight(places=(WHITE,), glass=HALF)):
        assert jar_light_change(THEN, then, 0.5).largest == 0


@pytest.mark.parametrize(
    ("depths", "left"),
    [((0.1, 0.1, 0.1), 0.1), ((0.1, 0.12, 0.15), 0.05), ((0.1, 0.2, 0.3), 0), ((-0.1, 0, 0), 0)],
)
def test_colourless_is_what_blue_does_not_lose_more_of(
    depths: tuple[float, float, float], left: float
) -> None:
    assert colourless(np.array(depths)) == pytest.approx(left)
