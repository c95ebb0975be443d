from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from greasecheck.measure import read_photo
from greasecheck.measure.moments import Joined, group_moments, join, moments_of
from greasecheck.model import Bound, Reading, Verdict
from greasecheck.reference import data_folder

PHOTO = data_folder("sample_images") / "03_tub12_february.jpg"


@pytest.fixture(name="reading", scope="module")
def sample_reading() -> Reading:
    return read_photo(PHOTO)


def later(reading: Reading, seconds: float, name: str, haze: float = 0.0) -> Reading:
    assert reading.taken_at is not None
    assert reading.water is not None
    water = replace(reading.water, main_per_m=reading.water.main_per_m + haze)
    at = reading.taken_at + timedelta(seconds=seconds)
    return replace(reading, taken_at=at, photo_path=name, water=water)


def test_photos_within_two_minutes_of_the_first_are_one_moment() -> None:
    times = [timedelta(seconds=s) for s in (0, 119, 121, 500)]
    start = datetime(2026, 1, 1, tzinfo=UTC)
    found = group_moments(times, lambda step: start + step)
    assert [len(moment) for moment in found] == [2, 1, 1]


def test_scatter_goes_into_the_error() -> None:
    close, apart = join([10.0, 10.1], [0.5, 0.5]), join([8.0, 12.0], [0.5, 0.5])
    assert close.value == pytest.approx(10.05)
    assert close.std == pytest.approx(0.5, abs=0.01)
    assert apart.std > 2.0


def test_the_usual_stated_error_stands_with_that_of_the_mean() -> None:
    found = join([10.0, 10.2, 10.4], [0.1, 0.2, 1.0])
    scatter = 0.2 / 3**0.5  # standard deviation 0.2 of three values
    assert found.std == pytest.approx((0.2**2 + scatter**2) ** 0.5)


def test_one_value_stays_as_it_is() -> None:
    assert join([3.0], [0.2]) == Joined(value=3.0, std=0.2, sound=(True,))


def test_a_spoilt_photo_is_left_out_and_named(reading: Reading) -> None:
    burst = [later(reading, s, f"{s}.jpg", haze) for s, haze in ((0, 0), (20, 0.1), (40, 30.0))]
    (moment,) = moments_of([*burst, later(reading, 400, "alone.jpg")])
    assert moment.photos == ("0.jpg", "20.jpg", "40.jpg")
    assert moment.left_out == ("40.jpg",)
    assert reading.water is not None
    assert moment.attenuation is not None
    assert moment.attenuation.value == pytest.approx(reading.water.main_per_m + 0.05)


def test_a_refused_photo_is_part_of_no_moment(reading: Reading) -> None:
    refused = replace(later(reading, 5, "refused.jpg"), verdict=Verdict.REFUSED)
    assert moments_of([reading, refused]) == ()
    (moment,) = moments_of([reading, refused, later(reading, 9, "good.jpg")])
    assert "refused.jpg" not in moment.photos


def test_other_tubs_are_other_moments(reading: Reading) -> None:
    other = replace(later(reading, 5, "other.jpg"), tub=99)
    assert moments_of([reading, other]) == ()


def test_several_ladders_or_cards_of_one_photo_are_no_moment(reading: Reading) -> None:
    assert moments_of([reading, replace(later(reading, 5, "other.jpg"), part="right")]) == ()


def test_a_bound_is_no_value_to_join(reading: Reading) -> None:
    murky = later(reading, 5, "murky.jpg", haze=40.0)
    assert murky.water is not None
    bounded = replace(murky, water=replace(murky.water, bound=Bound.ABOVE))
    (moment,) = moments_of([reading, bounded])
    assert moment.attenuation is not None
    assert reading.water is not None
    assert moment.attenuation.value == pytest.approx(reading.water.main_per_m)
    assert moment.left_out == ()
