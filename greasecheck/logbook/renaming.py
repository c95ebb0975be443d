"""Other names and numbers: what was entered under the wrong one goes over to the right one."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.readings.corrections import add_correction
from greasecheck.logbook.readings.readings import BY_HAND
from greasecheck.logbook.skulls.skulls import require_skull
from greasecheck.logbook.skulls.stays import every_event, idle_moves
from greasecheck.logbook.store.columns import Kind
from greasecheck.logbook.store.tables import (
    ATTEMPTS,
    NAMED_IN,
    READINGS,
    SKULL_EVENTS,
    SKULLS,
    TUBS,
)
from greasecheck.logbook.store.times import from_text, to_text
from greasecheck.logbook.water.baths import require_tub
from greasecheck.stages import EventKind
from greasecheck.words.times import exact

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Entry, Logbook
    from greasecheck.logbook.store.columns import Value
    from greasecheck.logbook.store.table import Row, Table


def rename_skull(book: Logbook, old: str, new: str, *, merge: bool = False) -> None:
    """Give a skull another name, or let two names of one skull become one.

    Parameters
    ----------
    book : Logbook
        Where they stand.
    old, new : str
        The names.
    merge : bool
        Whether there may be a skull called `new` already, to which everything goes.

    Raises
    ------
    LogbookError
        When there is no skull called `old`, or one called `new` and `merge` is not set, or both
        have entries of the same kind at the same time that are not alike.
    """
    with book.entry(f"skull {old} is called {new}") as entry:
        require_skull(entry, old)
        _begin(entry, SKULLS, old, new, merge=merge)
        for table, column in NAMED_IN[SKULLS.name]:
            _take_over(entry, book, table, column, (old, new))
        for (key,) in book.rows("SELECT key FROM readings WHERE skull = ?", (old,)):
            add_correction(entry, key, {"skull": new}, "the skull has another name")
        _end(entry, SKULLS, old, new)


def renumber_tub(book: Logbook, old: int, new: int, *, merge: bool = False) -> None:
    """Give a tub another number, or let two numbers of one tub become one.

    Parameters and errors are those of `rename_skull`.
    """
    with book.entry(f"tub {old} is tub {new}") as entry:
        require_tub(entry, old)
        _begin(entry, TUBS, old, new, merge=merge)
        _drop_moves_between(entry, book, old, new)
        for table, column in (*NAMED_IN[TUBS.name], (ATTEMPTS, "tub")):
            _take_over(entry, book, table, column, (old, new))
        there = {_told(row) for row in _readings_of(book, new) if _is_by_hand(row)}
        for row in _readings_of(book, old):
            key, changes = str(READINGS.value(row, "key")), {"tub": new}
            add_correction(entry, key, changes, "the tub has another number")
            if _is_by_hand(row) and _told(row) in there:
                add_correction(entry, key, {"wrong": 1}, "entered for both numbers: counts once")
        _end(entry, TUBS, old, new)


def _readings_of(book: Logbook, tub: int) -> list[Row]:
    return book.rows(f"SELECT {', '.join(READINGS.names)} FROM readings WHERE tub = ?", (tub,))


def _is_by_hand(reading: Row) -> bool:
    return str(READINGS.value(reading, "key")).startswith(BY_HAND)


def _told(reading: Row) -> Row:
    """Return what a reading says, whichever of two numbers of a tub it was entered for."""
    cells = zip(READINGS.names, reading, strict=True)
    return tuple(cell for name, cell in cells if name not in {"key", "tub"})


def _drop_moves_between(entry: Entry, book: Logbook, old: int, new: int) -> None:
    """Take out the moves from one of two tubs to the other, which turned out to be one."""
    events = every_event(book)
    one_tub = [replace(each, tub=new) if each.tub == old else each for each in events]
    idle = {(move.skull, move.happened_at) for move in idle_moves(one_tub)}
    idle -= {(move.skull, move.happened_at) for move in idle_moves(events)}
    entry.remove(SKULL_EVENTS, [(name, to_text(at), EventKind.MOVED) for name, at in sorted(idle)])


def _begin(entry: Entry, table: Table, old: Value, new: Value, *, merge: bool) -> None:
    """Let there be a row under the new name, which knows what the old one did.

    Of two rows that become one the new one's own facts stand; a former name, of whatever it was,
    has none.
    """
    if old == new:
        raise LogbookError(f"it is called {new} already", hint="give another name or number")
    before, there = entry.row(table, (old,)), entry.row(table, (new,))
    assert before is not None, "callers look first"
    known = _facts(table, before)
    if there is not None and table.value(there, "merged_into") is None:
        if not merge:
            raise LogbookError(
                f"there is a {table.name.removesuffix('s')} {new} already",
                hint="say that both are the same, or give another name or number",
            )
        own = _facts(table, there)
        blank = [name for name, cell in own.items() if cell is None]
        known = {name: known[name] for name in blank if known[name] is not None}
    entry.put(table, {**known, table.key[0]: new})


def _end(entry: Entry, table: Table, old: Value, new: Value) -> None:
    """Leave of the old name that it is one: what was known of it is known of the new one."""
    row = entry.row(table, (old,))
    assert row is not None, "callers look first"
    entry.update(table, (old,), {**dict.fromkeys(_facts(table, row)), "merged_into": new})


def _facts(table: Table, row: Row) -> dict[str, Value]:
    """Return the cells of a row beside its key."""
    cells = zip(table.names, row, strict=True)
    return {name: cell for name, cell in cells if name not in table.key}


def _take_over(
    entry: Entry, book: Logbook, table: Table, column: str, names: tuple[Value, Value]
) -> None:
    old, new = names
    keys = book.rows(f"SELECT {', '.join(table.key)} FROM {table.name} WHERE {column} = ?", (old,))
    for key in keys:
        moved = tuple(
            new if name == column else part for name, part in zip(table.key, key, strict=True)
        )
        there = entry.row(table, moved) if moved != key else None
        if there is None:
            entry.move(table, key, {column: new})
        elif there == _renamed(table, entry.row(table, key), column, new):
            entry.remove(table, [key])  # entered for both at once
        else:
            raise LogbookError(
                f"{old} and {new} both have an entry of {_when(table, key)} in {table.name}, and "
                "they are not alike",
                hint="correct the time of one of the two first",
            )


def _renamed(table: Table, row: Row | None, column: str, new: Value) -> Row:
    assert row is not None, "its key was just read"
    return tuple(
        new if name == column else value for name, value in zip(table.names, row, strict=True)
    )


def _when(table: Table, key: Row) -> str:
    """Return the first time in a key, as clocks here show it."""
    cells = zip(table.key, key, strict=True)
    time = next(str(part) for name, part in cells if table.column(name).kind is Kind.TIME)
    return exact(from_text(time))
