"""The chain of entries: each written row is a link, whose digest holds that of the link before.

A link holds which row of which table became what, as the SHA-256 of its content. `chain_faults`
goes along the chain and then compares the rows with it: rows that were changed, removed or added
by anything but an entry show, and so do links that were changed, removed or moved.
"""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, NamedTuple

from greasecheck.logbook.store.columns import Kind
from greasecheck.logbook.store.tables import TABLES

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from greasecheck.logbook.store.columns import Column, Value
    from greasecheck.logbook.store.table import Row, Table

START = "0" * 64  # digest before the first link
MOST_SHOWN = 20  # faults of one kind; more are counted
ENTRIES, IMAGES = "entries", "before_images"
# Columns of the two tables that entries themselves are kept in.
OWN_COLUMNS = {
    ENTRIES: ("made_at", "kind", "what", "software_version", "undone_at", "undoes"),
    IMAGES: ("entry_id", "table_name", "row_key", "before"),
}


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
    return Change(table.name, key_text(table.key_of(row)), _digest({**named, "entry_id": entry}))


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
    names = OWN_COLUMNS[table]
    row = connection.execute(
        f"SELECT {', '.join(names)} FROM {table} WHERE id = ?", (number,)
    ).fetchone()
    return Change(table, key_text((number,)), _digest(dict(zip(names, row, strict=True))))


def key_text(key: Row) -> str:
    """Return the key of a row as a link holds it."""
    return json.dumps(key, ensure_ascii=False, default=repr)


def chain_faults(connection: sqlite3.Connection) -> Iterator[str]:
    """Find what in the file is not as entries left it, in words.

    Yields
    ------
    str
        A fault: a broken link, or a row that was changed, removed or added otherwise.
    """
    expected: dict[tuple[str, str], str] = {}
    broken = 0
    for change, sound in _walk(connection):
        broken += not sound
        if change.content is None:
            expected.pop(change[:2], None)
        else:
            expected[change[:2]] = change.content
    if broken:
        yield f"{broken} link(s) of the chain of entries were changed, moved or removed"
    yield from _few(_compare(expected, dict(_standing(connection))))


def lost_rows(connection: sqlite3.Connection) -> frozenset[tuple[str, str]]:
    """Return the tables and keys of the rows that are not as the chain left them."""
    expected = {change[:2]: change.content for change, _ in _walk(connection)}
    standing = dict(_standing(connection))
    keys = expected.keys() | standing.keys()
    return frozenset(key for key in keys if expected.get(key) != standing.get(key))


def take_up(
    connection: sqlite3.Connection, entry: int, but: frozenset[tuple[str, str]] = frozenset()
) -> None:
    """Link every row that the chain does not hold as it stands, but those under the keys `but`.

    For logbooks that had no chain, and rows to which a newer schema gave other values.
    """
    standing = dict(_standing(connection))
    fresh = sorted(lost_rows(connection) - but)
    link_rows(connection, entry, (Change(*key, standing.get(key)) for key in fresh))


def _links(head: Head, entry: int, changes: Iterable[Change]) -> Iterator[tuple[Value, ...]]:
    number, digest = head
    for change in changes:
        number += 1
        digest = _link_digest(digest, number, entry, change)
        yield (number, entry, *change, digest)


def _link_digest(before: str, number: int, entry: int, change: Change) -> str:
    return _sha256(json.dumps([before, number, entry, *change], ensure_ascii=False))


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
        yield from _rows_of(connection, table)
    for name, names in OWN_COLUMNS.items():
        for number, *values in connection.execute(f"SELECT id, {', '.join(names)} FROM {name}"):
            yield (name, key_text((number,))), _digest(dict(zip(names, values, strict=True)))


def _rows_of(connection: sqlite3.Connection, table: Table) -> Iterator[tuple[tuple[str, str], str]]:
    columns = [column for column in table.columns if column.name in _present(connection, table)]
    if not columns:
        return
    names = [column.name for column in columns]
    for row in connection.execute(f"SELECT {', '.join(names)}, entry_id FROM {table.name}"):
        named = {
            column.name: _as_stored(column, value)
            for column, value in zip(columns, row, strict=False)
        }
        key = tuple(named[name] for name in table.key)
        yield (table.name, key_text(key)), _digest({**named, "entry_id": row[-1]})


def _present(connection: sqlite3.Connection, table: Table) -> frozenset[str]:
    """Return the columns that a table has in the file, whose schema may be an older one."""
    sql = "SELECT name FROM pragma_table_info(?)"
    return frozenset(name for (name,) in connection.execute(sql, (table.name,)))


def _digest(values: Mapping[str, Value]) -> str:
    """Return the digest of a row; absent values leave no trace, so that columns can be added."""
    known = sorted((name, value) for name, value in values.items() if value is not None)
    return _sha256(json.dumps(known, ensure_ascii=False, default=repr))


def _as_stored(column: Column, value: Value) -> Value:
    """Return `value` as it is read back: in a column of numbers 40 becomes 40.0, -0.0 is 0.0."""
    if isinstance(value, str) or value is None:
        return value
    if column.kind is Kind.NUMBER:
        return float(value) + 0.0
    return int(value) if column.kind in (Kind.WHOLE, Kind.FLAG) else value


def _sha256(text: str) -> str:
    # A damaged text may hold broken characters.
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _compare(
    expected: Mapping[tuple[str, str], str], standing: Mapping[tuple[str, str], str]
) -> Iterator[str]:
    for table, key in sorted(expected.keys() | standing.keys()):
        was, is_now = expected.get((table, key)), standing.get((table, key))
        if was is None:
            yield f"a row of {table} was added by no entry: {key}"
        elif is_now is None:
            yield f"a row of {table} was removed by no entry: {key}"
        elif was != is_now:
            yield f"a row of {table} was changed by no entry: {key}"


def _few(faults: Iterable[str]) -> Iterator[str]:
    found: Sequence[str] = list(faults)
    yield from found[:MOST_SHOWN]
    if len(found) > MOST_SHOWN:
        yield f"and {len(found) - MOST_SHOWN} more"
