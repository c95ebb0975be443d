"""What a water change and a day cost by the user's own prices, where they are set."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from greasecheck.logbook.settings import Setting, settings_of

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.predict.advice.change_interval import ChangeCost


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What the user says a water change and a day of soaking cost; None takes the table's."""

    change: float | None = None
    day: float | None = None


def set_prices(book: Logbook) -> Prices:
    """Return the prices that are set in a logbook."""
    chosen = settings_of(book)

    def price(name: Setting) -> float | None:
        return float(chosen[name]) if name in chosen else None

    return Prices(change=price(Setting.CHANGE_PRICE), day=price(Setting.DAY_PRICE))


def at_prices(cost: ChangeCost, prices: Prices) -> ChangeCost:
    """Return a cost by the user's prices where they are set."""
    if prices.change is not None:
        cost = replace(cost, soap=0.0, heat=0.0, work=prices.change)
    return cost if prices.day is None else replace(cost, day=prices.day)
