"""Past entries as lines of a page, each with its way back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.logbook.store.tables import ATTEMPTS, NAMED_IN, READINGS, SKULLS, TUBS
from greasecheck.logbook.store.times import from_text
from greasecheck.words.figures import capital

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.logbook.store.book import Logbook
    from greasecheck.logbook.store.table import Table

OF_TUB = ((TUBS, "number"), *NAMED_IN[TUBS.name], (READINGS, "tub"), (ATTEMPTS, "tub"))
OF_SKULL = ((SKULLS, "name"), *NAMED_IN[SKULLS.name], (READINGS, "skull"))
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
    return _about(book, OF_TUB, tub)


def entries_of_skull(book: Logbook, skull: str) -> tuple[EntryLine, ...]:
    """Return the entries that wrote about a skull, the newest first."""
    return _about(book, OF_SKULL, skull)


def latest_entries(book: Logbook, most: int, before: int | None = None) -> tuple[EntryLine, ...]:
    """Return the newest entries, or those before the one of a number."""
    rest = f"AND id < {before:d}" if before is not None else ""
    return _lines(book, f"{EVERY} {rest} ORDER BY id DESC LIMIT {most:d}", ())


def _about(
    book: Logbook, columns: Sequence[tuple[Table, str]], what: str | int
) -> tuple[EntryLine, ...]:
    each = (f"SELECT entry_id FROM {table.name} WHERE {column} = ?" for table, column in columns)
    return _lines(book, " UNION ".join(each), (what,) * len(columns))


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
