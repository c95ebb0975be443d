"""Light around the jar: shadows are told from brown and milky water by place and colour."""

import numpy as np
import pytest
from numpy.typing import NDArray

from greasecheck.measure.sight.jar_light import (
    EDGE_FACTOR,
    FROM_WATER,
    NOTHING_LOST,
    USUAL_DIMMING,
    WAY_TO_GLASS,
    WAY_TO_PAPER,
    ContrastLost,
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


def milky(lost: float) -> ContrastLost:
    return ContrastLost(scattered=np.full(3, lost), absorbed=np.zeros(3))


def brown(red: float) -> ContrastLost:
    """Water that absorbs so deep in red, and two and three times that in green and blue."""
    return ContrastLost(scattered=np.zeros(3), absorbed=red * np.array([1.0, 2.0, 3.0]))


def behind(lost: ContrastLost, way: float, share: float) -> NDArray[np.float64]:
    """Light that is left where a share of it comes through the water."""
    return 1 - share * (1 - np.exp(-way * lost.absorbed))


def change(
    now: JarLight, then: JarLight = THEN, lost: ContrastLost = NOTHING_LOST
) -> JarLightChange:
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


@pytest.mark.parametrize("depth", [0.2, 1.0, 2.5])
@pytest.mark.parametrize("share", [0.2, 0.6])
def test_brown_water_takes_its_part_of_the_light_and_is_no_shadow(
    depth: float, share: float
) -> None:
    """However deep: where it takes nearly all of a part of the light, red fades as blue does."""
    water = brown(depth)
    place = times(WHITE, *behind(water, WAY_TO_PAPER, share))
    glass = times(HALF, *behind(water, WAY_TO_GLASS, share / 4))
    sound = JarLight(places=(THEN.places[0], place), glass=glass)
    assert change(sound, lost=water).largest < 0.015
    for shaded in (
        JarLight(places=(THEN.places[0], times(place, 0.8, 0.8, 0.8)), glass=glass),
        JarLight(places=sound.places, glass=times(glass, 0.8, 0.8, 0.8)),
    ):
        assert change(shaded, lost=water).dimmed == pytest.approx(-np.log(0.8), abs=0.06)


def test_a_shadow_alike_on_bars_and_paper_is_no_brown_water() -> None:
    shadow = ContrastLost(scattered=np.zeros(3), absorbed=np.array([0.25, 0.251, 0.252]))
    now = JarLight(places=(THEN.places[0], times(WHITE, 0.8, 0.799, 0.798)), glass=HALF)
    assert change(now, lost=shadow).dimmed == pytest.approx(-np.log(0.8), abs=0.01)


def test_a_place_in_the_jars_own_shadow_may_lose_what_comes_through_the_water() -> None:
    then = JarLight(places=(WHITE, HALF), glass=HALF)
    now = JarLight(places=(WHITE, times(HALF, 0.7, 0.7, 0.7)), glass=HALF)
    assert change(now, then, milky(0.8)).largest == 0
    assert change(now, then, milky(0.1)).dimmed == pytest.approx(-np.log(0.7) - 0.05)


def test_a_place_that_the_jar_lights_may_lose_as_much_of_its_light() -> None:
    then = JarLight(places=((2.0, 2.0, 2.0), WHITE), glass=HALF)
    now = JarLight(places=(times(then.places[0], 0.7, 0.7, 0.7), WHITE), glass=HALF)
    assert change(now, then, milky(0.8)).largest == 0
    assert change(now, then, milky(0.1)).dimmed == pytest.approx(-np.log(0.7) - 0.05)


def test_milky_water_lights_the_glass_and_a_reflection_does_so_more() -> None:
    now = JarLight(places=THEN.places, glass=times(HALF, 1.08, 1.07, 1.06))
    assert change(now, lost=milky(0.9)).brightened == 0
    assert change(now, lost=milky(0.1)).brightened == pytest.approx(np.log(1.06) - 0.009, abs=1e-6)


def test_murk_takes_what_comes_up_out_of_clear_water_to_the_glass() -> None:
    now = JarLight(places=THEN.places, glass=times(HALF, *(1 - 0.8 * FROM_WATER,) * 3))
    assert change(now, lost=milky(0.9)).largest == 0
    assert change(now).dimmed == pytest.approx(0.8 * FROM_WATER, rel=0.05)


def test_nothing_is_known_without_a_reference_that_kept_the_light() -> None:
    assert change(THEN).depth_std == 0
    for then in (None, JarLight(places=(WHITE,), glass=HALF)):
        assert jar_light_change(THEN, then, milky(0.5)).largest == 0


@pytest.mark.parametrize(
    ("depths", "left"),
    [((0.1, 0.1, 0.1), 0.1), ((0.1, 0.12, 0.15), 0.05), ((0.1, 0.2, 0.3), 0), ((-0.1, 0, 0), 0)],
)
def test_colourless_is_what_blue_does_not_lose_more_of(
    depths: tuple[float, float, float], left: float
) -> None:
    assert colourless(np.array(depths)) == pytest.approx(left)
