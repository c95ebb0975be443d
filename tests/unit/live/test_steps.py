"""Which steps the first evening has for a way of measuring, and which are done."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from greasecheck.live.setup.steps import CARD, EYE, LADDER, STAND, Steps, setup_steps
from greasecheck.logbook.records import Tub
from greasecheck.logbook.settings import Setting
from greasecheck.logbook.water.baths import Filling, change_water, dump_water, enter_tub
from greasecheck.model import Recipe
from tests.logbook_samples import day

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook


@pytest.mark.parametrize(
    ("measured_by", "asked"),
    [
        (STAND, ["how", "print", "stand", "clear", "tubs", "tags", "prices"]),
        (LADDER, ["how", "print", "stand", "tubs", "prices"]),
        (CARD, ["how", "print", "stand", "tubs", "tags", "prices"]),
        (EYE, ["how", "tubs", "prices"]),
    ],
)
def test_the_setup_asks_for_what_a_way_of_measuring_needs(
    measured_by: str, asked: list[str]
) -> None:
    """A ladder bears its tag, an eye needs none; clear water is for the jar before a stand."""
    nothing = Steps(measured_by=measured_by)
    assert [name for name, done in nothing.done.items() if not done] == asked
    assert nothing.next_step == "how"


def test_tubs_without_water_are_no_filled_tubs() -> None:
    chosen = {Setting.MEASURED_BY: EYE}
    assert Steps(measured_by=EYE, chosen=chosen, tubs=(12,)).next_step == "tubs"
    assert Steps(measured_by=EYE, chosen=chosen, tubs=(12,), filled=1).next_step == "prices"


def test_tubs_that_hold_a_bath_are_counted(book: Logbook) -> None:
    for number in (1, 2, 3):
        enter_tub(book, Tub(number=number))
    assert setup_steps(book).filled == 0
    change_water(book, [1, 2], day(0), Filling(recipe=Recipe.SOAP))
    dump_water(book, [2], day(1))
    found = setup_steps(book)
    assert (found.tubs, found.filled, found.done["tubs"]) == ((1, 2, 3), 1, True)
