"""The user's own prices stand for those of the table, each for its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from greasecheck.garage.soaks.prices import Prices, at_prices, set_prices
from greasecheck.logbook.settings import Setting, put_settings
from greasecheck.predict.advice.change_interval import ChangeCost

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook

TABLE = ChangeCost(soap=1.0, heat=2.0, work=4.0, day=0.5)


@pytest.mark.parametrize(
    ("prices", "change", "day"),
    [
        (Prices(), 7.0, 0.5),
        (Prices(change=3.0), 3.0, 0.5),
        (Prices(day=0.1), 7.0, 0.1),
        (Prices(change=0.0, day=0.2), 0.0, 0.2),
    ],
)
def test_the_price_of_a_change_is_all_that_it_costs(
    prices: Prices, change: float, day: float
) -> None:
    found = at_prices(TABLE, prices)
    assert (found.soap + found.heat + found.work, found.day) == (change, day)


def test_each_price_is_that_of_its_own_setting(book: Logbook) -> None:
    assert set_prices(book) == Prices()
    put_settings(book, {Setting.CHANGE_PRICE: "7.5"})
    assert set_prices(book) == Prices(change=7.5)
    put_settings(book, {Setting.DAY_PRICE: "0.25"})
    assert set_prices(book) == Prices(change=7.5, day=0.25)
