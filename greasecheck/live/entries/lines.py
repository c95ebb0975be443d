"""Past entries as lines of a page, each with its way back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.logbook.store.times import from_text
from greasecheck.words.figures import capital

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.logbook.store.book import Logbook

OF_TUB = """SELECT entry_id FROM baths WHERE tub = ?
    UNION SELECT entry_id FROM temperatures WHERE tub = ?
    UNION SELECT entry_id FROM top_ups WHERE tub = ?
    UNION SELECT entry_id FROM readings WHERE tub = ?
    UNION SELECT entry_id FROM skull_events WHERE tub = ?
    UNION SELECT entry_id FROM denials WHERE tub = ?
    UNION SELECT entry_id FROM tubs WHERE number = ?
    UNION SELECT entry_id FROM attempts WHERE tub = ?"""
OF_SKULL = """SELECT entry_id FROM skulls WHERE name = ?
    UNION SELECT entry_id FROM skull_events WHERE skull = ?
    UNION SELECT entry_id FROM follow_ups WHERE skull = ?
    UNION SELECT entry_id FROM readings WHERE skull = ?"""
EVERY = "SELECT id FROM entries WHERE undoes IS NULL"


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryLine:
    """An entry in a list; `taken_back` once it does not stand any more."""

    number: int
    made_at: datetime
    what: str
    taken_back: bool


def entries_of_tub(book: Logbook, tub: int) -> tuple[EntryLine, ...]:
    """Return the entries that wrote about a tub, the newest first."""
    return _lines(book, OF_TUB, (tub,) * OF_TUB.count("?"))


def entries_of_skull(book: Logbook, skull: str) -> tuple[EntryLine, ...]:
    """Return the entries that wrote about a skull, the newest first."""
    return _lines(book, OF_SKULL, (skull,) * OF_SKULL.count("?"))


def latest_entries(book: Logbook, most: int, before: int | None = None) -> tuple[EntryLine, ...]:
    """Return the newest entries, or those before the one of a number."""
    rest = f"AND id < {before:d}" if before is not None else ""
    return _lines(book, f"{EVERY} {rest} ORDER BY id DESC LIMIT {most:d}", ())


def _lines(book: Logbook, which: str, values: tuple[str | int, ...]) -> tuple[EntryLine, ...]:
    rows = book.rows(
        f"SELECT id, made_at, what, undone_at FROM entries WHERE id IN ({which}) ORDER BY id DESC",
        values,
    )
    return tuple(
        EntryLine(
            number=number,
            made_at=from_text(made_at),
            what=capital(what),
            taken_back=undone_at is not None,
        )
        for number, made_at, what, undone_at in rows
    )
