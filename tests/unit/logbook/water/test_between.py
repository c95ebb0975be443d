from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.csv.write import export_tables
from greasecheck.logbook.dependents import with_dependents
from greasecheck.logbook.records import BathTemperature, ToppedUp, Tub
from greasecheck.logbook.renaming import renumber_tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.safety import faults
from greasecheck.logbook.undo import last_entry, undo
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub, list_baths
from greasecheck.logbook.water.between import (
    enter_temperature,
    enter_top_up,
    list_temperatures,
    list_top_ups,
)
from greasecheck.model import Recipe
from tests.logbook_samples import day

if TYPE_CHECKING:
    from pathlib import Path

SOAP = Filling(recipe=Recipe.SOAP, temperature_c=40.0)


@pytest.fixture
def filled(book: Logbook) -> Logbook:
    enter_tub(book, Tub(number=12, volume_l=60.0))
    change_water(book, [12], day(0), SOAP)
    return book


def found(at: float, temperature_c: float) -> BathTemperature:
    return BathTemperature(tub=12, at=day(at), temperature_c=temperature_c)


def poured(at: float, litres: float) -> ToppedUp:
    return ToppedUp(tub=12, at=day(at), litres=litres)


def test_entries_are_listed_chained_and_taken_back(filled: Logbook) -> None:
    enter_temperature(filled, found(2, 33.0))
    enter_top_up(filled, poured(3, 4.0))
    assert list_temperatures(filled, 12, day(0), day(9)) == (found(2, 33.0),)
    assert list_top_ups(filled, 12, day(0), day(9)) == (poured(3, 4.0),)
    assert list_top_ups(filled, 12, day(0), day(2.5)) == ()
    assert faults(filled) == ()
    last = last_entry(filled)
    assert last is not None
    assert (last.what, last.rows) == ("topped up tub 12", 1)
    undo(filled, last)
    assert list_top_ups(filled, 12, day(0), day(9)) == ()
    assert list_temperatures(filled, 12, day(0), day(9)) == (found(2, 33.0),)
    assert faults(filled) == ()


def test_a_change_repeats_the_temperature_that_was_found_last(filled: Logbook) -> None:
    enter_temperature(filled, found(2, 33.0))
    change_water(filled, [12], day(1), Filling())
    change_water(filled, [12], day(3), Filling())
    change_water(filled, [12], day(4), Filling(temperature_c=42.0))
    change_water(filled, [12], day(5), Filling())
    warmths = [bath.temperature_c for bath in list_baths(filled, 12)]
    assert warmths == [40.0, 40.0, 33.0, 42.0, 42.0]


def write(book: Logbook, entry: BathTemperature | ToppedUp) -> None:
    if isinstance(entry, ToppedUp):
        enter_top_up(book, entry)
    else:
        enter_temperature(book, entry)


@pytest.mark.parametrize(
    ("entry", "problem"),
    [
        (found(-1, 40.0), "holds no bath"),
        (found(90_000, 40.0), "in the future"),
        (found(1, 104.0), "temperature c"),
        (poured(1, 60.0), "no topping up"),
        (poured(1, 0.0), "litres"),
        (poured(-1, 2.0), "holds no bath"),
        (ToppedUp(tub=14, at=day(1), litres=2.0), "holds no bath"),
    ],
)
def test_what_cannot_be_is_refused(
    filled: Logbook, entry: BathTemperature | ToppedUp, problem: str
) -> None:
    with pytest.raises(LogbookError, match=problem):
        write(filled, entry)
    assert filled.rows("SELECT tub FROM temperatures UNION SELECT tub FROM top_ups") == []


def test_topping_up_needs_the_volume_and_one_time_each(book: Logbook) -> None:
    enter_tub(book, Tub(number=12))
    change_water(book, [12], day(0), SOAP)
    with pytest.raises(LogbookError, match="how many litres"):
        enter_top_up(book, poured(1, 2.0))
    enter_tub(book, Tub(number=12, volume_l=60.0))
    enter_top_up(book, poured(1, 2.0))
    with pytest.raises(LogbookError, match="entered already"):
        enter_top_up(book, poured(1, 3.0))


def test_they_follow_their_tub(filled: Logbook) -> None:
    enter_temperature(filled, found(2, 33.0))
    enter_top_up(filled, poured(3, 4.0))
    assert len(with_dependents(filled, 1)) == 4
    renumber_tub(filled, 12, 21)
    assert list_temperatures(filled, 12, day(0), day(9)) == ()
    assert list_temperatures(filled, 21, day(0), day(9))[0].temperature_c == 33.0
    assert list_top_ups(filled, 21, day(0), day(9))[0].litres == 4.0


def test_they_go_out_and_come_in_as_csv(filled: Logbook, tmp_path: Path) -> None:
    enter_temperature(filled, found(2, 33.0))
    enter_top_up(filled, poured(3, 4.0))
    export_tables(filled, tmp_path / "out")
    with Logbook(tmp_path / "new.logbook", create=True) as fresh:
        import_tables(fresh, [tmp_path / "out"])
        assert list_temperatures(fresh, 12, day(0), day(9)) == (found(2, 33.0),)
        assert list_top_ups(fresh, 12, day(0), day(9)) == (poured(3, 4.0),)
