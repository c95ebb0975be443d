"""Between water changes: the temperature of a bath, and what was poured in for what dried away."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.records import BathTemperature, ToppedUp
from greasecheck.logbook.store.mapping import select, values_of
from greasecheck.logbook.store.tables import TEMPERATURES, TOP_UPS
from greasecheck.logbook.store.times import to_text
from greasecheck.logbook.water.baths import (
    bath_at,
    list_tubs,
    refuse_boiling,
    require_possible_time,
)

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.logbook.store.book import Entry, Logbook
    from greasecheck.logbook.store.table import Table

WITHIN = "WHERE tub = ? AND at >= ? AND at <= ? ORDER BY at"


def enter_temperature(book: Logbook, found: BathTemperature) -> None:
    """Enter the temperature of a bath.

    Raises
    ------
    LogbookError
        When the tub holds no bath then, one is entered for that second already, or the time lies
        in the future.
    """
    bath = bath_at(book, found.tub, found.at)
    if bath is not None:
        refuse_boiling(bath.recipe, found.temperature_c)
    with book.entry(f"temperature of tub {found.tub}") as entry:
        _refuse(book, entry, TEMPERATURES, found.tub, found.at)
        entry.insert(TEMPERATURES, values_of(found))


def enter_top_up(book: Logbook, poured: ToppedUp) -> None:
    """Enter that a bath was topped up.

    Raises
    ------
    LogbookError
        When it is not known how much the tub holds, or it was more than that; and as
        `enter_temperature` does.
    """
    holds_l = next((tub.volume_l for tub in list_tubs(book) if tub.number == poured.tub), None)
    with book.entry(f"topped up tub {poured.tub}") as entry:
        _refuse(book, entry, TOP_UPS, poured.tub, poured.at)
        if holds_l is None:
            raise LogbookError(
                f"it is not known how many litres tub {poured.tub} holds", hint="enter them first"
            )
        if poured.litres >= holds_l:
            raise LogbookError(
                f"tub {poured.tub} holds {holds_l:g} litres; {poured.litres:g} were no topping up",
                hint="check both; if the tub was empty, enter a water change",
            )
        entry.insert(TOP_UPS, values_of(poured))


def list_temperatures(
    book: Logbook, tub: int, since: datetime, until: datetime
) -> tuple[BathTemperature, ...]:
    """Return the temperatures entered for a tub between two times, oldest first."""
    span = (tub, to_text(since), to_text(until))
    return select(book, BathTemperature, TEMPERATURES, WITHIN, span)


def list_top_ups(book: Logbook, tub: int, since: datetime, until: datetime) -> tuple[ToppedUp, ...]:
    """Return when a tub was topped up between two times, oldest first."""
    return select(book, ToppedUp, TOP_UPS, WITHIN, (tub, to_text(since), to_text(until)))


def _refuse(book: Logbook, entry: Entry, table: Table, tub: int, at: datetime) -> None:
    require_possible_time(at)
    if bath_at(book, tub, at) is None:
        raise LogbookError(f"tub {tub} holds no bath at that time", hint="enter its bath first")
    if entry.row(table, (tub, to_text(at))) is not None:
        raise LogbookError(
            f"the same is entered already for tub {tub} at that time",
            hint="give another time, or take the other entry back",
        )
