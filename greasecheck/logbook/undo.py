"""Takes entries back, each by an entry of its own, so that the file keeps all that ever stood."""

from __future__ import annotations

import json
import sqlite3
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.dependents import with_dependents
from greasecheck.logbook.readings.corrections import add_correction
from greasecheck.logbook.store.book import EntryKind
from greasecheck.logbook.store.tables import (
    CHECK_PLANS,
    READINGS,
    SKULLS,
    TABLES,
    TUBS,
    table_named,
)
from greasecheck.logbook.store.times import from_text, now
from greasecheck.logbook.water.names import refused_namesakes

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

    from greasecheck.logbook.store.book import Entry, Logbook
    from greasecheck.logbook.store.table import Row, Table

# The column of readings that names a row of the table.
MOST_LISTED = 100  # entries; older ones are found on the pages of their tubs and skulls
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
    """An entry, whether the last or not.

    `undone_at` is None while it stands; `undoes` is the number of the entry that it takes back.
    """

    number: int
    made_at: datetime
    what: str
    undone_at: datetime | None
    undoes: int | None = None


def last_entry(book: Logbook) -> LastEntry | None:
    """Return the last entry that is not undone; None in an empty logbook."""
    entries = book.rows(
        "SELECT id, made_at, kind, what FROM entries WHERE undone_at IS NULL"
        " AND undoes IS NULL ORDER BY id DESC LIMIT 1"
    )
    if not entries:
        return None
    number, made_at, kind, what = entries[0]
    counts = " + ".join(
        f"(SELECT count(*) FROM {table.name} WHERE entry_id = ?)" for table in TABLES
    )
    ((rows, changed),) = book.rows(
        f"SELECT {counts}, (SELECT count(*) FROM before_images WHERE entry_id = ?)",
        (number,) * (len(TABLES) + 1),
    )
    return LastEntry(
        number=number,
        made_at=from_text(made_at),
        kind=EntryKind(kind),
        what=what,
        rows=rows,
        changed_rows=changed,
    )


def newest_entry(book: Logbook) -> int | None:
    """Return the number of the newest entry, taken back or not; None in an empty logbook."""
    [(number,)] = book.rows("SELECT max(id) FROM entries")
    return None if number is None else int(number)


def entry_of(book: Logbook, table: Table, key: Row) -> int:
    """Return the number of the entry that added the row of `table` under `key`."""
    where = " AND ".join(f"{name} = ?" for name in table.key)
    [(number,)] = book.rows(f"SELECT entry_id FROM {table.name} WHERE {where}", key)
    return int(number)


def find_entry(book: Logbook, number: int) -> PastEntry | None:
    """Return the entry under a number; None when there is none."""
    sql = "SELECT id, made_at, what, undone_at, undoes FROM entries WHERE id = ?"
    found = book.rows(sql, (number,))
    return _past(*found[0]) if found else None


def undo(book: Logbook, entry: LastEntry) -> None:
    """Take the last entry back, as `take_back` does.

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
    with book.entry(_title(entry.what)) as undoing:
        latest = last_entry(book)
        if latest is None or latest.number != entry.number:
            raise LogbookError(
                "another entry has been made since", hint="look again what undo would take back"
            )
        _take_back(undoing, book, entry.number, "taken back by undo")


def take_back(book: Logbook, number: int) -> None:
    """Take any entry back, by a new entry; nothing is deleted from the file.

    Rows it added leave their tables and rows it changed are as before, but a reading stays and is
    marked wrong; only an import, whose file remains, takes its readings along. Of a tub or a skull
    that a reading names, the number or name alone stays. What stood until then is kept with the
    new entry.

    Parameters
    ----------
    book : Logbook
        Where it stands.
    number : int
        Number of the entry, as `entries` gives it.

    Raises
    ------
    LogbookError
        When there is no such entry, it is taken back already, a later one rests on it, or two
        tubs would have one name.
    """
    past = _standing(book, number)
    if past is None:
        raise LogbookError(
            f"there is no entry {number} that stands", hint="look at the entries again"
        )
    with book.entry(_title(past.what)) as undoing:
        _take_back(undoing, book, number, "taken back")


def take_back_together(book: Logbook, numbers: tuple[int, ...]) -> None:
    """Take an entry back with the later ones that rest on it, all by one new entry.

    Parameters
    ----------
    book : Logbook
        Where they stand.
    numbers : tuple of int
        The entries that a person agreed to take back, as `with_dependents` gave them.

    Raises
    ------
    LogbookError
        When the first of them does not stand, or others rest on it than those.
    """
    past = _standing(book, numbers[-1])
    if past is None or numbers != with_dependents(book, past.number):
        raise LogbookError(
            "other entries rest on this one by now, or it is taken back already",
            hint="look at it again",
        )
    with book.entry(_title(past.what)) as undoing:
        for number in numbers:
            _take_back(undoing, book, number, "taken back")


def _standing(book: Logbook, number: int) -> PastEntry | None:
    """Return the entry under a number, if it stands and takes no other back."""
    past = find_entry(book, number)
    stands = past is not None and past.undone_at is None and past.undoes is None
    return past if stands else None


def still_named(book: Logbook, numbers: Sequence[int]) -> tuple[str, ...]:
    """Return the tubs and skulls of entries that were taken back which stay for their readings."""
    found = {
        f"{table.name.removesuffix('s')} {name}"
        for table in (TUBS, SKULLS)
        for number in numbers
        for (name,) in book.rows(
            f"SELECT {table.key[0]} FROM {table.name} WHERE entry_id = ?", (number,)
        )
    }
    return tuple(sorted(found))


def entries(book: Logbook) -> tuple[PastEntry, ...]:
    """Return the newest entries, the last first, those that take others back among them."""
    sql = "SELECT id, made_at, what, undone_at, undoes FROM entries ORDER BY id DESC LIMIT ?"
    return tuple(_past(*row) for row in book.rows(sql, (MOST_LISTED,)))


def _past(
    number: int, made_at: str, what: str, undone_at: str | None, undoes: int | None
) -> PastEntry:
    return PastEntry(
        number=number,
        made_at=from_text(made_at),
        what=what,
        undone_at=from_text(undone_at) if undone_at else None,
        undoes=undoes,
    )


def _title(what: str) -> str:
    return f"taken back: {what}"


def _take_back(undoing: Entry, book: Logbook, number: int, why: str) -> None:
    [(kind,)] = book.rows("SELECT kind FROM entries WHERE id = ?", (number,))
    keep_readings = EntryKind(kind) is not EntryKind.IMPORT
    with _resting_refused(book), refused_namesakes(book):
        _refuse_changed_later(book, number)
        _put_back(undoing, book, number)
        _remove(undoing, book, number, keep_readings=keep_readings)
    for table in (TUBS, SKULLS):
        _forget_facts(undoing, book, table, number)
    if keep_readings:
        for (key,) in book.rows("SELECT key FROM readings WHERE entry_id = ?", (number,)):
            add_correction(undoing, key, {"wrong": 1}, why)
    undoing.supersede(number, now())


@contextmanager
def _resting_refused(book: Logbook) -> Iterator[None]:
    """Say in words that other rows refer to one that would be removed."""
    try:
        yield
    except sqlite3.IntegrityError as error:
        raise LogbookError(
            f"the logbook {book.path}: other entries rest on this one",
            hint="take those back first, the newest first",
        ) from error


def _refuse_changed_later(book: Logbook, number: int) -> None:
    """Refuse to take an entry back when one that stands has changed the same rows since."""
    touched = {(table, key) for _, table, key, _ in _images(book, number)}
    for table in TABLES:
        keys = ", ".join(table.key)
        rows = book.rows(f"SELECT {keys} FROM {table.name} WHERE entry_id = ?", (number,))
        touched.update((table.name, json.dumps(key)) for key in rows)
    later = book.rows(
        "SELECT table_name, row_key, what FROM before_images JOIN entries ON entries.id = entry_id"
        " WHERE entry_id > ? AND undone_at IS NULL AND undoes IS NULL",
        (number,),
    )
    for table_name, key, what in later:
        if (table_name, key) in touched:
            raise LogbookError(
                f"a later entry changed the same: {what}", hint="take that one back first"
            )


def _images(book: Logbook, number: int) -> list[tuple[int, str, str, str]]:
    return book.rows(
        "SELECT id, table_name, row_key, before FROM before_images WHERE entry_id = ?"
        " ORDER BY id DESC",
        (number,),
    )


def _put_back(undoing: Entry, book: Logbook, number: int) -> None:
    for _, table_name, row_key, before in _images(book, number):
        table, values = table_named(table_name), json.loads(before)
        if "entry_id" in values:  # the row was removed
            undoing.bring_back(table, values)
        else:
            undoing.move(table, tuple(json.loads(row_key)), values)


def _remove(undoing: Entry, book: Logbook, number: int, *, keep_readings: bool) -> None:
    """Remove what the entry added, except for what a reading that is kept refers to."""
    for table in reversed(TABLES):
        if keep_readings and table is READINGS:
            continue
        unused = ""
        if table.name in NAMED_BY_READINGS:
            column = NAMED_BY_READINGS[table.name]
            named = f"SELECT {column} FROM readings WHERE {column} IS NOT NULL"
            unused = f" AND {table.key[0]} NOT IN ({named})"
        keys = book.rows(
            f"SELECT {', '.join(table.key)} FROM {table.name} WHERE entry_id = ?{unused}", (number,)
        )
        undoing.remove(table, keys)


def _forget_facts(undoing: Entry, book: Logbook, table: Table, number: int) -> None:
    """Leave of the entry's rows that readings name nothing but their key."""
    sql = f"SELECT {', '.join(table.names)} FROM {table.name} WHERE entry_id = ?"
    for row in book.rows(sql, (number,)):
        cells = zip(table.names, row, strict=True)
        known = {name for name, cell in cells if cell is not None} - set(table.key)
        if known:
            undoing.update(table, table.key_of(row), dict.fromkeys(sorted(known)))
