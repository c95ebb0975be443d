"""The chain of entries: each written row is a link, whose digest holds that of the link before.

A link holds which row of which table became what, as the SHA-256 of its content. `chain_faults`
goes along the chain and then compares the rows with it: rows that were changed, removed or added
by anything but an entry show, and so do links that were changed, removed or moved.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from contextlib import closing, contextmanager
from typing import TYPE_CHECKING, NamedTuple

from greasecheck.logbook.store.columns import Kind
from greasecheck.logbook.store.tables import TABLES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from greasecheck.logbook.store.columns import Column, Value
    from greasecheck.logbook.store.table import Row, Table

START = "0" * 64  # digest before the first link
ENCODE = json.JSONEncoder(ensure_ascii=False, default=repr).encode
MOST_SHOWN = 20  # faults of one kind; more are counted
ENTRIES, IMAGES = "entries", "before_images"
# Columns of the two tables that entries themselves are kept in.
OWN_COLUMNS = {
    ENTRIES: ("made_at", "kind", "what", "software_version", "undone_at", "undoes"),
    IMAGES: ("entry_id", "table_name", "row_key", "before"),
}


# Each row by the chain, and as it stands in the file; SQLite keeps it on the disk once it
# is large, so that a check needs no more memory in a larger logbook.
BESIDE = "CREATE TABLE rows (name, key, chain, file, PRIMARY KEY (name, key)) WITHOUT ROWID"
PUT = (
    "INSERT INTO rows (name, key, {side}) VALUES (?, ?, ?)"
    " ON CONFLICT (name, key) DO UPDATE SET {side} = excluded.{side}"
)
APART = "SELECT name, key, chain, file FROM rows WHERE chain IS NOT file ORDER BY name, key"


class Head(NamedTuple):
    """The last link: its number, 0 before the first, and its digest."""

    number: int
    digest: str


class Change(NamedTuple):
    """A row that was written: its table, its key as JSON, and its digest; None when removed."""

    table: str
    key: str
    content: str | None


def head_of(connection: sqlite3.Connection) -> Head:
    """Return the last link."""
    found = connection.execute(
        "SELECT number, digest FROM links ORDER BY number DESC LIMIT 1"
    ).fetchone()
    return Head(*found) if found else Head(0, START)


def link_rows(connection: sqlite3.Connection, entry: int, changes: Iterable[Change]) -> None:
    """Add a link for each of `changes` of an entry, within a transaction."""
    connection.executemany(
        "INSERT INTO links (number, entry_id, table_name, row_key, content, digest)"
        " VALUES (?, ?, ?, ?, ?, ?)",
        _links(head_of(connection), entry, changes),
    )


def change_of(table: Table, row: Row, entry: int) -> Change:
    """Return the change of a row that an entry added, in the order of its table's columns."""
    values = zip(table.columns, row, strict=True)
    named = {column.name: _as_stored(column, value) for column, value in values}
    digest = _digest(sorted({**named, "entry_id": entry}.items()))
    return Change(table.name, key_text(table.key_of(row)), digest)


def standing_change(connection: sqlite3.Connection, table: Table, key: Row) -> Change:
    """Return the change that made the row under `key` what it is now."""
    where = " AND ".join(f"{name} = ?" for name in table.key)
    *row, entry = connection.execute(
        f"SELECT {', '.join(table.names)}, entry_id FROM {table.name} WHERE {where}", key
    ).fetchone()
    return change_of(table, tuple(row), entry)


def removal_of(table: Table, key: Row) -> Change:
    """Return the change by which the row under `key` was removed."""
    return Change(table.name, key_text(key), None)


def own_change(connection: sqlite3.Connection, table: str, number: int) -> Change:
    """Return the change of a row of the entries, or of what they changed, as it stands now."""
    names = sorted(OWN_COLUMNS[table])
    row = connection.execute(
        f"SELECT {', '.join(names)} FROM {table} WHERE id = ?", (number,)
    ).fetchone()
    return Change(table, key_text((number,)), _digest(zip(names, row, strict=True)))


def key_text(key: Row) -> str:
    """Return the key of a row as a link holds it."""
    return ENCODE(key)


def chain_faults(connection: sqlite3.Connection) -> Iterator[str]:
    """Find what in the file is not as entries left it, in words.

    Yields
    ------
    str
        A fault: a broken link, or a row that was changed, removed or added otherwise.
    """
    with _beside_chain(connection) as (beside, broken):
        if broken:
            yield f"{broken} link(s) of the chain of entries were changed, moved or removed"
        yield from _few(_words(*row) for row in beside.execute(APART))


def lost_rows(connection: sqlite3.Connection) -> frozenset[tuple[str, str]]:
    """Return the tables and keys of the rows that are not as the chain left them."""
    with _beside_chain(connection) as (beside, _):
        rows = beside.execute(APART)
        return frozenset((_text(name), _text(key)) for name, key, *_ in rows)


def take_up(
    connection: sqlite3.Connection, entry: int, left_out: frozenset[tuple[str, str]] = frozenset()
) -> None:
    """Link every row that the chain does not hold as it stands, without the keys `left_out`.

    For logbooks that had no chain, and rows to which a newer schema gave other values.
    """
    fresh = lost_rows(connection) - left_out
    standing = {key: digest for key, digest in _standing(connection) if key in fresh}
    link_rows(connection, entry, (Change(*key, standing.get(key)) for key in sorted(fresh)))


def _links(head: Head, entry: int, changes: Iterable[Change]) -> Iterator[tuple[Value, ...]]:
    number, digest = head
    for change in changes:
        number += 1
        digest = _link_digest(digest, number, entry, change)
        yield (number, entry, *change, digest)


def _link_digest(before: str, number: int, entry: int, change: Change) -> str:
    return _sha256(ENCODE([before, number, entry, *change]))


@contextmanager
def _beside_chain(connection: sqlite3.Connection) -> Iterator[tuple[sqlite3.Connection, int]]:
    """Put the rows of the file beside the chain, and count the broken links."""
    with closing(sqlite3.connect("", isolation_level=None)) as beside:
        beside.execute(BESIDE)
        beside.execute("BEGIN")
        broken = 0

        def linked() -> Iterator[tuple[bytes | None, ...]]:
            nonlocal broken
            for change, sound in _walk(connection):
                broken += not sound
                yield _bytes(change.table), _bytes(change.key), _bytes(change.content)

        beside.executemany(PUT.format(side="chain"), linked())
        standing = (
            (_bytes(name), _bytes(key), _bytes(digest))
            for (name, key), digest in _standing(connection)
        )
        beside.executemany(PUT.format(side="file"), standing)
        yield beside, broken


def _walk(connection: sqlite3.Connection) -> Iterator[tuple[Change, bool]]:
    """Go along the chain; tell for each link whether it follows from the one before."""
    rows = connection.execute(
        "SELECT number, entry_id, table_name, row_key, content, digest FROM links ORDER BY number"
    )
    before = Head(0, START)
    for number, entry, table, key, content, digest in rows:
        change = Change(table, key, content)
        right = _link_digest(before.digest, before.number + 1, entry, change)
        yield change, number == before.number + 1 and digest == right
        before = Head(number, digest)


def _standing(connection: sqlite3.Connection) -> Iterator[tuple[tuple[str, str], str]]:
    """Return each row that stands in the file, as its table and key, and its digest."""
    for table in TABLES:
        present = _present(connection, table)
        names = [column.name for column in table.columns if column.name in present]
        if names:
            yield from _rows_of(connection, table.name, [*names, "entry_id"], table.key)
    for name, names_kept in OWN_COLUMNS.items():
        yield from _rows_of(connection, name, names_kept, ("id",))


def _rows_of(
    connection: sqlite3.Connection, table: str, names: Sequence[str], key: Sequence[str]
) -> Iterator[tuple[tuple[str, str], str]]:
    ordered = sorted(names)
    sql = f"SELECT {', '.join([*key, *ordered])} FROM {table}"
    for row in connection.execute(sql):
        digest = _digest(zip(ordered, row[len(key) :], strict=True))
        yield (table, key_text(row[: len(key)])), digest


def _present(connection: sqlite3.Connection, table: Table) -> frozenset[str]:
    """Return the columns that a table has in the file, whose schema may be an older one."""
    sql = "SELECT name FROM pragma_table_info(?)"
    return frozenset(name for (name,) in connection.execute(sql, (table.name,)))


def _digest(values: Iterable[tuple[str, Value]]) -> str:
    """Return the digest of a row, its values in the order of their names.

    Absent values leave no trace, so that columns can be added.
    """
    return _sha256(ENCODE([one for one in values if one[1] is not None]))


def _as_stored(column: Column, value: Value) -> Value:
    """Return `value` as it is read back: in a column of numbers 40 becomes 40.0, -0.0 is 0.0."""
    if isinstance(value, str) or value is None:
        return value
    if column.kind is Kind.NUMBER:
        return float(value) + 0.0
    return int(value) if column.kind in (Kind.WHOLE, Kind.FLAG) else value


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _bytes(text: str | None) -> bytes | None:
    """Return text as bytes; a damaged one may hold broken characters."""
    return None if text is None else text.encode("utf-8", "surrogatepass")


def _text(content: bytes) -> str:
    return content.decode("utf-8", "surrogatepass")


def _words(name: bytes, key: bytes, chain: bytes | None, file: bytes | None) -> str:
    happened = "added" if chain is None else "removed" if file is None else "changed"
    return f"a row of {_text(name)} was {happened} by no entry: {_text(key)}"


def _few(faults: Iterable[str]) -> Iterator[str]:
    more = 0
    for number, fault in enumerate(faults):
        if number < MOST_SHOWN:
            yield fault
        else:
            more += 1
    if more:
        yield f"and {more} more"
