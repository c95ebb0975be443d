"""The references and calibrations that readings rest on, and which were in force when."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.logbook.records import Standard, StandardKind
from greasecheck.logbook.store.mapping import select, values_of
from greasecheck.logbook.store.tables import STANDARDS
from greasecheck.logbook.store.times import to_text

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.logbook.store.book import Logbook


def put_in_force(book: Logbook, standard: Standard) -> None:
    """Keep a reference or calibration; it is in force until the next of its kind.

    Raises
    ------
    LogbookError
        When its time has no zone or its text is blank.
    """
    with book.entry(f"{standard.kind} in force".replace("_", " ")) as entry:
        entry.put(STANDARDS, values_of(standard))


def in_force(book: Logbook, kind: StandardKind, at: datetime) -> Standard | None:
    """Return the reference or calibration of a kind that is in force at a time, or None."""
    rest = "WHERE kind = ? AND in_force_from <= ? ORDER BY in_force_from DESC LIMIT 1"
    found = select(book, Standard, STANDARDS, rest, (kind, to_text(at)))
    return found[0] if found else None


def list_standards(book: Logbook) -> tuple[Standard, ...]:
    """Return every reference and calibration kept, oldest first for each kind."""
    return select(book, Standard, STANDARDS, "ORDER BY kind, in_force_from")


def photos_read_since(book: Logbook, since: datetime) -> int:
    """Return how many readings are of photos taken at a time or later."""
    sql = "SELECT count(*) FROM readings WHERE photo_path IS NOT NULL AND taken_at >= ?"
    [(number,)] = book.rows(sql, (to_text(since),))
    return int(number)
