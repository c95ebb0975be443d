"""The albedo that a veil shows, worked by hand from the law that the module states."""

import pytest

from greasecheck.measure.water.albedo import albedo_from_veil


def test_the_usual_veil_is_that_of_milky_water() -> None:
    usual = albedo_from_veil(0.46 * 0.5**0.71, 0.5)
    assert (usual.value, usual.std) == pytest.approx((0.95, 0.02), abs=1e-9)


def test_half_the_usual_veil_is_brown_water() -> None:
    # log 1/2 = -0.6931, believed by 0.4805 / (0.4805 + 0.2^2) = 0.9232: 0.95 - 0.27 x 0.6399
    half = albedo_from_veil(0.23 * 0.5**0.71, 0.5)
    assert half.value == pytest.approx(0.7772, abs=5e-5)
    assert half.std == pytest.approx(0.02 + 0.25 * (0.95 - 0.7772), abs=5e-5)


def test_the_albedo_stays_within_what_water_has() -> None:
    dark, bright = albedo_from_veil(0.0, 0.0), albedo_from_veil(0.9, 0.5)
    assert (dark.value, dark.std) == pytest.approx((0.2, 0.02 + 0.25 * 0.75))
    assert (bright.value, bright.std) == (0.95, 0.02)


@pytest.mark.parametrize(("lost", "is_known"), [(0.049, False), (0.051, True)])
def test_water_that_takes_a_twentieth_of_contrast_shows_an_albedo(
    lost: float, is_known: bool
) -> None:
    found = albedo_from_veil(0.005, 1 - lost)
    assert (found.value < 0.9) is is_known
    assert (found.std > 0.021) is is_known
