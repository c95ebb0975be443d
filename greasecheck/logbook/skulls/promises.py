"""Days promised to owners: kept with their odds, so that a promise in danger is seen early."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.records import Promise
from greasecheck.logbook.skulls.skulls import require_skull
from greasecheck.logbook.store.mapping import select, values_of
from greasecheck.logbook.store.tables import PROMISES
from greasecheck.logbook.water.baths import require_possible_time
from greasecheck.model.longest_soak import LATEST_DAYS

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook

FURTHEST = timedelta(days=LATEST_DAYS)


def enter_promise(book: Logbook, promise: Promise) -> None:
    """Enter a promise; it takes the place of an earlier one for the same skull.

    Raises
    ------
    LogbookError
        When the skull is unknown, the promised day had gone by when it was promised, or it lies
        further away than any soak lasts that is forecast.
    """
    require_possible_time(promise.promised_at)
    if promise.ready_by <= promise.promised_at:
        raise LogbookError("that day has gone by", hint="promise a day to come")
    if promise.ready_by > promise.promised_at + FURTHEST:
        raise LogbookError(
            f"that day is more than {LATEST_DAYS / 365:.0f} years away: no soak that is "
            "forecast lasts so long",
            hint="check its year, and promise an earlier day",
        )
    with book.entry(f"promise of skull {promise.skull}") as entry:
        require_skull(entry, promise.skull)
        entry.put(PROMISES, values_of(promise))


def standing_promises(book: Logbook) -> tuple[Promise, ...]:
    """Return the last promise of each skull that has not been given back since, by its day."""
    rest = """WHERE promised_at = (SELECT max(later.promised_at) FROM promises AS later
            WHERE later.skull = promises.skull)
        AND NOT EXISTS (SELECT 1 FROM skull_events WHERE skull_events.skull = promises.skull
            AND kind = 'returned' AND happened_at >= promises.promised_at)
        ORDER BY ready_by, skull"""
    return select(book, Promise, PROMISES, rest)
