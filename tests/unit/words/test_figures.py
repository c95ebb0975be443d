"""Shares, hazes and figures in words."""

from __future__ import annotations

from math import log

import pytest

from greasecheck.model import Bound
from greasecheck.words.figures import (
    attenuation_words,
    murk_words,
    numbers_words,
    odds_words,
    share_words,
    with_error,
)
from greasecheck.words.photos.readings import patch_words

NAMED = {
    "a tenth": 1 / 10,
    "a quarter": 1 / 4,
    "a third": 1 / 3,
    "half": 1 / 2,
    "two thirds": 2 / 3,
    "three quarters": 3 / 4,
}


@pytest.mark.parametrize("percent", range(6, 85))
def test_a_share_goes_by_the_fraction_that_is_nearest_in_ratio(percent: int) -> None:
    """Nearly so: limits are rounded to whole percents."""
    apart = {words: abs(log(percent / 100 / fraction)) for words, fraction in NAMED.items()}
    assert apart[share_words(percent / 100)] < min(apart.values()) + 0.11


def test_the_ends_are_no_fractions() -> None:
    assert share_words(0.04) == "next to nothing"
    assert share_words(0.86) == "almost all"


@pytest.mark.parametrize(
    ("per_m", "words"),
    [
        (0.4, "clear"),
        (2.9, "nearly clear"),
        (7.9, "a little cloudy"),
        (24.0, "cloudy"),
        (54.0, "very cloudy"),
        (56.0, "like milk"),
    ],
)
def test_haze_has_the_same_words_up_to_its_limit(per_m: float, words: str) -> None:
    assert murk_words(per_m) == words


def test_a_bound_says_which() -> None:
    assert attenuation_words(0.5, 0.1, Bound.BELOW) == "below 0.5 per metre"
    assert attenuation_words(65.0, 0.1, Bound.ABOVE) == "above 65.0 per metre"


@pytest.mark.parametrize(
    ("std", "words"),
    [(12.0, "46 ± 12"), (1.2, "45.7 ± 1.2"), (0.12, "45.7 ± 0.1"), (0.02, "45.68 ± 0.02")],
)
def test_a_figure_has_no_more_digits_than_its_error_allows(std: float, words: str) -> None:
    assert with_error(45.678, std) == words


def test_odds_are_never_told_as_sure() -> None:
    assert [odds_words(odds) for odds in (0.009, 0.01, 0.99, 0.996)] == [
        "under 1%",
        "1%",
        "99%",
        "over 99%",
    ]


def test_three_numbers_in_a_row_are_a_range_and_two_are_not() -> None:
    assert numbers_words([3, 1, 2, 7, 8]) == "1-3, 7, 8"


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0.019, "without yellow patches"),
        (0.021, "with a few yellow patches"),
        (0.079, "with a few yellow patches"),
        (0.081, "yellow over a tenth of it"),
    ],
)
def test_yellow_patches_in_words(share: float, words: str) -> None:
    assert patch_words(share) == words
