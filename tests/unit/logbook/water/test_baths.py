from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.records import Bath, BathTemperature, Tub
from greasecheck.logbook.store.tables import TUBS
from greasecheck.logbook.store.times import now
from greasecheck.logbook.water.baths import (
    Filling,
    bath_at,
    change_water,
    correct_change,
    dump_water,
    enter_tub,
    list_baths,
    list_tubs,
    tub_start,
)
from greasecheck.logbook.water.between import enter_temperature
from greasecheck.model import Recipe
from tests.logbook_samples import day

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook

SOAP = Filling(recipe=Recipe.SOAP, temperature_c=40.0)


@pytest.fixture
def tubs(book: Logbook) -> Logbook:
    for number in (12, 14):
        enter_tub(book, Tub(number=number))
    return book


def test_entering_a_tub_again_changes_only_what_is_given(book: Logbook) -> None:
    enter_tub(book, Tub(number=12, name="by the door", volume_l=60.0))
    enter_tub(book, Tub(number=12, name="by the window"))
    enter_tub(book, Tub(number=12))
    assert list_tubs(book) == (Tub(number=12, name="by the window", volume_l=60.0),)


def test_one_change_fills_several_tubs(tubs: Logbook) -> None:
    baths = change_water(tubs, [12, 14, 12], day(0), SOAP)
    assert [bath.tub for bath in baths] == [12, 14]
    assert list_baths(tubs, 14) == (
        Bath(tub=14, filled_at=day(0), recipe=Recipe.SOAP, temperature_c=40.0),
    )


def test_a_change_repeats_the_last_bath_unless_told(tubs: Logbook) -> None:
    change_water(tubs, [12], day(0), SOAP)
    (bath,) = change_water(tubs, [12], day(3), Filling(temperature_c=35.0, why="murky"))
    assert (bath.recipe, bath.temperature_c, bath.why) == (Recipe.SOAP, 35.0, "murky")
    (bath,) = change_water(tubs, [12], day(1), Filling())
    assert bath.temperature_c == 40.0


def test_a_change_repeats_the_warmth_that_was_measured_last(tubs: Logbook) -> None:
    change_water(tubs, [12], day(0), SOAP)
    for at, celsius in ((1, 38.0), (2, 36.0), (5, 20.0)):
        enter_temperature(tubs, BathTemperature(tub=12, at=day(at), temperature_c=celsius))
    (bath,) = change_water(tubs, [12], day(3), Filling())
    assert bath.temperature_c == 36.0


def test_acetone_takes_no_warmth_over_and_gives_none(tubs: Logbook) -> None:
    change_water(tubs, [12], day(0), SOAP)
    (acetone,) = change_water(tubs, [12], day(1), Filling(recipe=Recipe.ACETONE))
    assert acetone.temperature_c is None
    change_water(tubs, [12], day(2), Filling(recipe=Recipe.ACETONE, temperature_c=20.0))
    (again,) = change_water(tubs, [12], day(3), Filling())
    assert again.temperature_c == 20.0
    (soap,) = change_water(tubs, [12], day(4), Filling(recipe=Recipe.SOAP))
    assert soap.temperature_c is None


def test_a_change_is_entered_for_all_tubs_or_none(tubs: Logbook) -> None:
    with pytest.raises(LogbookError, match="tub 99 is not in the logbook"):
        change_water(tubs, [12, 99], day(0), SOAP)
    assert list_baths(tubs, 12) == ()


def test_a_first_change_must_say_the_recipe(tubs: Logbook) -> None:
    with pytest.raises(LogbookError, match="no earlier bath") as caught:
        change_water(tubs, [12], day(0), Filling())
    assert caught.value.hint == "say what goes in"


def test_the_same_change_twice_is_refused(tubs: Logbook) -> None:
    change_water(tubs, [12], day(0), SOAP)
    with pytest.raises(LogbookError, match="already has a water change"):
        change_water(tubs, [12], day(0), SOAP)


def test_a_change_in_the_future_is_refused(tubs: Logbook) -> None:
    with pytest.raises(LogbookError, match="lies in the future"):
        change_water(tubs, [12], now() + timedelta(hours=1), SOAP)


def test_a_change_whose_year_was_mistyped_is_refused(tubs: Logbook) -> None:
    with pytest.raises(LogbookError, match=r"2 Mar 226, .* is too long ago"):
        change_water(tubs, [12], datetime(226, 3, 2, tzinfo=UTC), SOAP)


def test_a_tub_does_not_begin_in_the_future(tubs: Logbook) -> None:
    with pytest.raises(LogbookError, match="lies in the future"):
        enter_tub(tubs, Tub(number=12, started_at=now() + timedelta(days=2)))


def test_a_dumped_tub_holds_no_bath_until_it_is_filled(tubs: Logbook) -> None:
    change_water(tubs, [12], day(0), SOAP)
    dump_water(tubs, [12], day(2))
    assert bath_at(tubs, 12, day(1)) is not None
    assert bath_at(tubs, 12, day(2)) is None
    change_water(tubs, [12], day(3), Filling())
    assert bath_at(tubs, 12, day(4)) is not None


def test_an_empty_tub_cannot_be_dumped(tubs: Logbook) -> None:
    with pytest.raises(LogbookError, match="holds no bath"):
        dump_water(tubs, [12], day(0))


def test_a_tub_starts_on_its_entered_day_or_with_its_first_bath(tubs: Logbook) -> None:
    assert tub_start(tubs, 12) is None
    change_water(tubs, [12], day(5), SOAP)
    assert tub_start(tubs, 12) == day(5)
    enter_tub(tubs, Tub(number=12, started_at=day(2)))
    assert tub_start(tubs, 12) == day(2)


def test_a_tub_starts_with_the_first_of_its_baths(tubs: Logbook) -> None:
    for at in (4, 2, 6):
        change_water(tubs, [12], day(at), SOAP)
    assert tub_start(tubs, 12) == day(2)


@pytest.mark.parametrize(("near", "others"), [(0.9, (2, 4)), (2.9, (0, 4)), (9.0, (0, 2))])
def test_of_several_changes_the_nearest_is_corrected(
    tubs: Logbook, near: float, others: tuple[int, int]
) -> None:
    for at in (0, 2, 4):
        change_water(tubs, [12], day(at), SOAP)
    correct_change(tubs, 12, day(near), day(3), Filling())
    left = {bath.filled_at for bath in list_baths(tubs, 12)} - {day(3)}
    assert left == {day(at) for at in others}


def test_a_change_is_corrected_where_it_stands_or_at_a_free_time(tubs: Logbook) -> None:
    change_water(tubs, [12], day(0), SOAP)
    change_water(tubs, [12], day(3), SOAP)
    warmer = correct_change(tubs, 12, day(2), day(3), Filling(temperature_c=42.0))
    assert (warmer.filled_at, warmer.temperature_c) == (day(3), 42.0)
    assert correct_change(tubs, 12, day(3), day(4), Filling()).filled_at == day(4)
    with pytest.raises(LogbookError, match="already has a water change"):
        correct_change(tubs, 12, day(4), day(0), Filling())
    assert [bath.filled_at for bath in list_baths(tubs, 12)] == [day(0), day(4)]


def test_a_corrected_change_is_as_possible_as_a_new_one(tubs: Logbook) -> None:
    change_water(tubs, [12], day(0), Filling(recipe=Recipe.SOAP, temperature_c=60.0))
    with pytest.raises(LogbookError, match="acetone boils"):
        correct_change(tubs, 12, day(0), day(0), Filling(recipe=Recipe.ACETONE))
    dump_water(tubs, [12], day(2))
    with pytest.raises(LogbookError, match="was emptied before"):
        correct_change(tubs, 12, day(0), day(2), Filling())
    [bath] = list_baths(tubs, 12)
    assert (bath.filled_at, bath.recipe, bath.dumped_at) == (day(0), Recipe.SOAP, day(2))


@pytest.mark.parametrize("name", ["by the door", "By the Door", "by the\N{NO-BREAK SPACE}door"])
def test_two_tubs_do_not_get_one_name(tubs: Logbook, name: str) -> None:
    enter_tub(tubs, Tub(number=12, name="by the door"))
    with pytest.raises(LogbookError, match="tub 12 and tub 14 would have the same name") as caught:
        enter_tub(tubs, Tub(number=14, name=name))
    assert "give one of them another name" in caught.value.hint
    enter_tub(tubs, Tub(number=12, name="By the door"))  # its own, written otherwise
    enter_tub(tubs, Tub(number=14, name="by the doors"))
    assert [tub.name for tub in list_tubs(tubs)] == ["By the door", "by the doors"]


def test_tubs_that_had_one_name_before_it_was_refused_can_be_told_apart(tubs: Logbook) -> None:
    with tubs.entry("as older versions entered it") as entry:
        for number in (12, 14, 15):
            entry.put(TUBS, {"number": number, "name": "door"})
    enter_tub(tubs, Tub(number=14, volume_l=60.0))
    enter_tub(tubs, Tub(number=12, name="window"))
    with pytest.raises(LogbookError, match="tub 14 and tub 15 would have the same name"):
        enter_tub(tubs, Tub(number=12, name="door"))
