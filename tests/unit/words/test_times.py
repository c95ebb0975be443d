"""Days, times and spans in words, at the places where another wording begins."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from greasecheck.words.times import age, day_range, moment, near_day, short_age

NOW = datetime(2026, 11, 20, 12).astimezone()


@pytest.mark.parametrize(
    ("days", "words"),
    [
        (269, "16 Aug"),
        (271, "18 Aug 2027"),
        (-269, "24 Feb"),
        (-271, "22 Feb 2026"),
        (-366, "19 Nov 2025"),
    ],
)
def test_a_day_more_than_nine_months_off_has_its_year(days: int, words: str) -> None:
    when = (NOW.replace(tzinfo=None) + timedelta(days=days)).astimezone()
    assert near_day(when, NOW) == words


def test_a_range_says_what_both_days_share_once() -> None:
    late = datetime(2026, 12, 3, 12).astimezone()
    other_year = datetime(2027, 11, 3, 12).astimezone()
    assert day_range(NOW, late, NOW) == "20 Nov to 3 Dec"
    assert day_range(NOW, other_year, NOW) == "20 Nov to 3 Nov 2027"


def test_the_same_day_of_another_month_is_not_today() -> None:
    assert moment(NOW - timedelta(hours=1), NOW) == "11:00"
    assert moment(datetime(2026, 10, 20, 11).astimezone(), NOW) == "20 Oct 2026, 11:00"


@pytest.mark.parametrize(
    ("minutes", "words", "short"),
    [
        (0.5, "less than a minute", "now"),
        (89, "89 minutes", "89 min"),
        (91, "2 hours", "2 h"),
        (47 * 60, "47 hours", "47 h"),
        (49 * 60, "2 days", "2 d"),
    ],
)
def test_an_age_is_told_in_the_unit_that_fits(minutes: float, words: str, short: str) -> None:
    span = timedelta(minutes=minutes)
    assert (age(span), short_age(span)) == (words, short)


def test_a_camera_s_clock_that_is_ahead_makes_no_negative_age() -> None:
    assert short_age(timedelta(hours=-3)) == "now"
