"""Which later entries rest on an entry, and go with it when it is taken back."""

from __future__ import annotations

import json
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from greasecheck.logbook.store.tables import NAMED_IN, SKULLS, TABLES, TUBS, table_named
from greasecheck.stages import EventKind, first_misstep

if TYPE_CHECKING:
    from collections.abc import Iterator

    from greasecheck.logbook.store.book import Logbook
    from greasecheck.logbook.store.columns import Value

    Key = tuple[Any, ...]
    Row = tuple[str, Key]

KEPT_FOR = {TUBS.name: "tub", SKULLS.name: "skull"}


def with_dependents(book: Logbook, number: int) -> tuple[int, ...]:
    """Return an entry and the later ones that rest on it, by number, the last first.

    Parameters
    ----------
    book : Logbook
        Where they stand.
    number : int
        Of an entry that has not been taken back.

    Notes
    -----
    A later entry rests on an earlier one when it changed a row that the earlier one added or
    changed, when it names a tub or a skull that the earlier one entered, or when what it states of
    a skull cannot follow any more without the earlier one, as a move back cannot.
    """
    found = {number}
    waiting = [number]
    while waiting:
        new = set(_resting_on(book, waiting.pop(), found)) - found
        found |= new
        waiting += new
    return tuple(sorted(found, reverse=True))


def _resting_on(book: Logbook, number: int, gone: set[int]) -> Iterator[int]:
    touched = {*_added(book, number), *_changed(book, number)}
    for later, row, former in _later_changes(book, number):
        if row in touched or former in touched:
            touched = touched - {row} | {former}  # its key until then
            yield later
    for table_name, key in _added(book, number):
        yield from _naming(book, table_name, key, number)
    yield from _taken_over(book, number, gone)
    yield from _out_of_order(book, number, gone)
    yield from _idle_moves(book, number, gone)


def _added(book: Logbook, number: int) -> Iterator[Row]:
    for table in TABLES:
        sql = f"SELECT {', '.join(table.key)} FROM {table.name} WHERE entry_id = ?"
        yield from ((table.name, tuple(key)) for key in book.rows(sql, (number,)))


def _changed(book: Logbook, number: int) -> Iterator[Row]:
    sql = "SELECT table_name, row_key FROM before_images WHERE entry_id = ?"
    yield from ((name, tuple(json.loads(key))) for name, key in book.rows(sql, (number,)))


def _later_changes(book: Logbook, number: int) -> Iterator[tuple[int, Row, Row]]:
    """Yield which later entry changed which row, under its new key and its former one.

    The newest comes first.
    """
    sql = """SELECT entry_id, table_name, row_key, before FROM before_images
        JOIN entries ON entries.id = entry_id
        WHERE entry_id > ? AND undone_at IS NULL AND undoes IS NULL
        ORDER BY before_images.id DESC"""
    for later, name, key_text, before_text in book.rows(sql, (number,)):
        key, before = tuple(json.loads(key_text)), json.loads(before_text)
        names = table_named(name).key
        former = tuple(before.get(part, now) for part, now in zip(names, key, strict=True))
        yield later, (name, key), (name, former)


def _naming(book: Logbook, table_name: str, key: Key, number: int) -> Iterator[int]:
    """Yield the later entries that name a tub or a skull which goes with its entry."""
    if table_name not in NAMED_IN or _is_kept(book, table_name, key):
        return
    for table, column in NAMED_IN[table_name]:
        sql = f"SELECT entry_id FROM {table.name} WHERE {column} = ? AND entry_id > ?"
        yield from (later for (later,) in book.rows(sql, (key[0], number)))


def _taken_over(book: Logbook, number: int, gone: set[int]) -> Iterator[int]:
    """Yield the entries of rows that this one took over from a tub or a skull that goes too."""
    sql = "SELECT row_key, before FROM before_images WHERE entry_id = ? AND table_name = ?"
    for name, named_in in NAMED_IN.items():
        for table, column in named_in:
            row = " AND ".join(f"{part} = ?" for part in table.key)
            for key_text, before_text in book.rows(sql, (number, table.name)):
                old = json.loads(before_text).get(column)
                now = f"SELECT entry_id, {column} FROM {table.name} WHERE {row}"
                for entry, new in book.rows(now, json.loads(key_text)):
                    goes = _first_adder(book, name, old, entry) in gone
                    if goes and not _is_kept(book, name, (new,)):
                        yield entry


def _first_adder(book: Logbook, name: str, called: Value, entry: int) -> int | None:
    """Return which entry added the tub or skull that a row of `entry` named at first.

    What it was called later was added by giving it another name, and has a former one.
    """
    added = f"SELECT entry_id FROM {name} WHERE {table_named(name).key[0]} = ?"
    former = "SELECT row_key FROM before_images WHERE entry_id = ? AND table_name = ?"
    for (adder,) in book.rows(added, (called,)):
        if adder <= entry:
            return int(adder)
        names = (json.loads(key)[0] for (key,) in book.rows(former, (adder, name)))
        before = next((one for one in names if one != called), None)
        return None if before is None else _first_adder(book, name, before, entry)
    return None


def _is_kept(book: Logbook, table_name: str, key: Key) -> bool:
    sql = f"SELECT 1 FROM readings WHERE {KEPT_FOR[table_name]} = ? LIMIT 1"
    return bool(book.rows(sql, (key[0],)))


def _out_of_order(book: Logbook, number: int, gone: set[int]) -> Iterator[int]:
    """Yield the entries of what cannot have happened to a skull without this entry."""
    sql = "SELECT DISTINCT skull FROM skull_events WHERE entry_id = ?"
    for (skull,) in book.rows(sql, (number,)):
        events = book.rows(
            "SELECT kind, entry_id FROM skull_events WHERE skull = ? ORDER BY happened_at, kind",
            (skull,),
        )
        if first_misstep([EventKind(kind) for kind, _ in events]) is not None:
            continue  # it was out of order before, as an import may be
        left = [(EventKind(kind), entry) for kind, entry in events if entry not in gone]
        for place in range(len(left)):
            if first_misstep([kind for kind, _ in left[: place + 1]]) is not None:
                yield from (entry for _, entry in left[place:])
                break


def _idle_moves(book: Logbook, number: int, gone: set[int]) -> Iterator[int]:
    """Yield the entries of moves that lead, without this entry, to where the skull lies."""
    which = "SELECT skull FROM skull_events WHERE entry_id = ?"
    events = book.rows(
        "SELECT skull, tub, kind, happened_at, entry_id FROM skull_events"
        f" WHERE skull IN ({which}) ORDER BY skull, happened_at, kind",
        (number,),
    )
    left = [event for event in events if event[-1] not in gone]
    for before, after in set(pairwise(left)) - set(pairwise(events)):
        if after[2] == EventKind.MOVED and before[:2] == after[:2]:
            yield after[-1]
