"""Cautions that are shown each time, and which entries bring a caution for the first time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from greasecheck.garage.cautions import (
    graver_of_bath,
    graver_of_whitening,
    subjects_of,
    used_before,
)
from greasecheck.logbook.records import Skull, SkullEvent, Tub
from greasecheck.logbook.skulls.skulls import enter_event, enter_skull
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub, list_baths
from greasecheck.model import Recipe
from greasecheck.reference.cautions import Ingredient, ingredients_of
from greasecheck.stages import EventKind

if TYPE_CHECKING:
    from pathlib import Path

START = datetime(2026, 3, 1, 18, tzinfo=UTC)
PEROXIDE = {"strong peroxide", "closed peroxide", "peroxide and bone"}


def whitening(strength: float | None, hours: float | None) -> SkullEvent:
    return SkullEvent(
        skull="fox",
        happened_at=START,
        kind=EventKind.WHITENED,
        strength_percent=strength,
        duration_h=hours,
    )


@pytest.mark.parametrize("recipe", list(Recipe))
@pytest.mark.parametrize(("temperature_c", "is_warm"), [(None, False), (25.0, False), (26.0, True)])
def test_a_bath_warmer_than_a_room_has_a_heater_and_acetone_may_not(
    recipe: Recipe, temperature_c: float | None, *, is_warm: bool
) -> None:
    assert (Ingredient.HEATER in subjects_of(recipe, temperature_c)) is is_warm
    has_acetone = Ingredient.ACETONE in ingredients_of(recipe)
    graver = [one.name for one in graver_of_bath(recipe, temperature_c)]
    assert graver == ["acetone and sparks"] * (is_warm and has_acetone)


# Strong from 12 % on (common practice), long beyond the 48 h of mild whitening (Faruk & Das 2023).
@pytest.mark.parametrize(
    ("strength", "hours", "expected"),
    [
        (None, None, set()),
        (3.0, 48.0, set()),
        (11.9, 24.0, set()),
        (12.0, 1.0, PEROXIDE),
        (35.0, None, PEROXIDE),
        (3.0, 49.0, {"peroxide and bone"}),
    ],
)
def test_strong_or_long_whitening_is_warned_of_each_time(
    strength: float | None, hours: float | None, expected: set[str]
) -> None:
    assert {one.name for one in graver_of_whitening(whitening(strength, hours))} == expected


def test_what_the_logbook_used_is_counted_but_for_the_bath_just_entered(tmp_path: Path) -> None:
    with Logbook(tmp_path / "season.logbook", create=True) as book:
        enter_tub(book, Tub(number=12))
        assert used_before(book) == ()
        soap = Filling(recipe=Recipe.SOAP, temperature_c=20.0)
        change_water(book, [12], START, soap)
        assert used_before(book) == (Recipe.SOAP,)
        warm = Filling(recipe=Recipe.SOAP, temperature_c=45.0)
        change_water(book, [12], START + timedelta(days=3), warm)
        assert used_before(book) == (Recipe.SOAP, Ingredient.HEATER)
        assert used_before(book, left_out=list_baths(book, 12)[-1]) == (Recipe.SOAP,)
        enter_skull(book, Skull(name="fox"))
        enter_event(book, whitening(3.0, 24.0))
        assert used_before(book)[-1] is Ingredient.PEROXIDE
