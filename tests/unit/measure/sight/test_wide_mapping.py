"""Paper that lightens among what is dark tells local tone mapping from lamps and shadows."""

import numpy as np
import pytest

from greasecheck.measure.sight.wide_mapping import lift_of

RNG = np.random.default_rng(3)
PLACES = RNG.uniform(-1, 1, (14, 2))
PRINT = RNG.normal(0, 0.02, 14)  # of the surroundings' logarithm, by what is printed there
NOISE = RNG.normal(0, 0.001, 14)


def lamp(places: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> list[float]:
    """Light that falls off to a side, and to the edges."""
    return [0.5 * x - 0.2 * y - 0.3 * x**2 + 0.1 * x * y for x, y in places]


@pytest.mark.parametrize("share", [0.3, 0.55])
def test_a_camera_that_takes_a_share_from_surroundings_is_told(share: float) -> None:
    light = np.array(lamp(PLACES))
    around = light + PRINT
    mapped, picture = light - share * around, (1 - share) * around
    found = lift_of(mapped + NOISE, picture, PLACES)
    assert found == pytest.approx(share / (1 - share), rel=0.15)
    assert found < share / (1 - share)  # less what is unsure


def test_a_plain_camera_and_a_shadow_show_no_lift() -> None:
    light = np.array(lamp(PLACES))
    assert lift_of(light + NOISE, light + PRINT, PLACES) < 0.1
    shadow = np.where(PLACES[:, 0] > 0.3, -0.1, 0.0)
    assert lift_of(light + NOISE + shadow, light + PRINT + 0.6 * shadow, PLACES) == 0


def test_the_lift_is_less_two_standard_errors_of_least_squares() -> None:
    """The slope beside the other terms at once, and its error (Draper & Smith 1998, 5.1)."""
    light = np.array(lamp(PLACES)) + NOISE
    around = light + PRINT
    x, y = PLACES.T
    terms = np.column_stack([np.ones(14), x, y, x**2, x * y, y**2, around])
    mapped = light - 0.4 * around
    found, [squares], *_ = np.linalg.lstsq(terms, mapped, rcond=None)
    std = np.sqrt(squares / (14 - 7) * np.linalg.inv(terms.T @ terms)[6, 6])
    assert lift_of(mapped, around, PLACES) == pytest.approx(-found[6] - 2 * std)
