"""Takes the last entry back: its rows go, what it changed stands as before."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.readings.corrections import add_correction
from greasecheck.logbook.store.book import Entry, EntryKind, set_values
from greasecheck.logbook.store.tables import (
    CHECK_PLANS,
    READINGS,
    SKULLS,
    TABLES,
    TUBS,
    table_named,
)
from greasecheck.logbook.store.times import from_text, now, to_text

if TYPE_CHECKING:
    import sqlite3
    from datetime import datetime

    from greasecheck.logbook.store.book import Logbook
    from greasecheck.logbook.store.table import Row, Table

# The column of readings that names a row of the table.
NAMED_BY_READINGS = {TUBS.name: "tub", SKULLS.name: "skull", CHECK_PLANS.name: "check_plan"}


@dataclass(frozen=True, slots=True, kw_only=True)
class LastEntry:
    """The entry that `undo` would take back, and how many rows of each kind it holds."""

    number: int
    made_at: datetime
    kind: EntryKind
    what: str
    rows: int
    changed_rows: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PastEntry:
    """An entry, whether the last or not; `undone_at` is None while it stands."""

    number: int
    made_at: datetime
    what: str
    undone_at: datetime | None


def last_entry(book: Logbook) -> LastEntry | None:
    """Return the last entry that is not undone; None in an empty logbook."""
    entries = book.rows(
        "SELECT id, made_at, kind, what FROM entries WHERE undone_at IS NULL"
        " ORDER BY id DESC LIMIT 1"
    )
    if not entries:
        return None
    number, made_at, kind, what = entries[0]
    counts = " + ".join(
        f"(SELECT count(*) FROM {table.name} WHERE entry_id = ?1)" for table in TABLES
    )
    ((rows, changed),) = book.rows(
        f"SELECT {counts}, (SELECT count(*) FROM before_images WHERE entry_id = ?1)", (number,)
    )
    return LastEntry(
        number=number,
        made_at=from_text(made_at),
        kind=EntryKind(kind),
        what=what,
        rows=rows,
        changed_rows=changed,
    )


def entry_of(book: Logbook, table: Table, key: Row) -> int:
    """Return the number of the entry that added the row of `table` under `key`."""
    where = " AND ".join(f"{name} = ?" for name in table.key)
    [(number,)] = book.rows(f"SELECT entry_id FROM {table.name} WHERE {where}", key)
    return int(number)


def find_entry(book: Logbook, number: int) -> PastEntry | None:
    """Return the entry under a number; None when there is none."""
    found = book.rows("SELECT made_at, what, undone_at FROM entries WHERE id = ?", (number,))
    if not found:
        return None
    [(made_at, what, undone_at)] = found
    return PastEntry(
        number=number,
        made_at=from_text(made_at),
        what=what,
        undone_at=from_text(undone_at) if undone_at else None,
    )


def undo(book: Logbook, entry: LastEntry) -> None:
    """Take an entry back.

    Rows it added are removed and rows it changed are as before, but a reading is never removed:
    it is marked wrong. Only an import, whose file remains, takes its readings along.

    Parameters
    ----------
    book : Logbook
        Where it stands.
    entry : LastEntry
        What `last_entry` gave.

    Raises
    ------
    LogbookError
        When another entry has been made since.
    """
    with book.transaction() as connection:
        latest = last_entry(book)
        if latest is None or latest.number != entry.number:
            raise LogbookError(
                "another entry has been made since", hint="look again what undo would take back"
            )
        _put_back(connection, entry.number)
        keep_readings = entry.kind is not EntryKind.IMPORT
        _remove(connection, entry.number, keep_readings=keep_readings)
        if keep_readings:
            _mark_wrong(connection, entry)
        connection.execute(
            "UPDATE entries SET undone_at = ? WHERE id = ?", (to_text(now()), entry.number)
        )


def _put_back(connection: sqlite3.Connection, number: int) -> None:
    images = connection.execute(
        "SELECT table_name, row_key, before FROM before_images WHERE entry_id = ? ORDER BY id DESC",
        (number,),
    ).fetchall()
    for table_name, row_key, before in images:
        table = table_named(table_name)
        set_values(connection, table, tuple(json.loads(row_key)), json.loads(before))
    connection.execute("DELETE FROM before_images WHERE entry_id = ?", (number,))


def _remove(connection: sqlite3.Connection, number: int, *, keep_readings: bool) -> None:
    """Remove what the entry added, but for what a reading that is kept refers to."""
    for table in reversed(TABLES):
        if keep_readings and table is READINGS:
            continue
        unused = ""
        if table.name in NAMED_BY_READINGS:
            column = NAMED_BY_READINGS[table.name]
            named = f"SELECT {column} FROM readings WHERE {column} IS NOT NULL"
            unused = f" AND {table.key[0]} NOT IN ({named})"
        connection.execute(f"DELETE FROM {table.name} WHERE entry_id = ?{unused}", (number,))


def _mark_wrong(connection: sqlite3.Connection, last: LastEntry) -> None:
    keys = connection.execute(
        "SELECT key FROM readings WHERE entry_id = ?", (last.number,)
    ).fetchall()
    entry = Entry(connection, last.what, last.kind, last.number)
    for (key,) in keys:
        add_correction(entry, key, {"wrong": 1}, "taken back by undo")
