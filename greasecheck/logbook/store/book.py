"""The logbook: rows come in by entries, each written whole or not at all, the last one undoable."""

from __future__ import annotations

import json
import sqlite3
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from platformdirs import user_data_path

from greasecheck import __version__
from greasecheck.errors import LogbookError
from greasecheck.logbook.store.chain import (
    ENTRIES,
    IMAGES,
    Change,
    change_of,
    head_of,
    link_rows,
    own_change,
    removal_of,
    standing_change,
    take_up,
)
from greasecheck.logbook.store.faults import in_clear_words
from greasecheck.logbook.store.file import (
    connect,
    drafted,
    hide_later,
    name_without_overwriting,
    transaction,
    true_file,
)
from greasecheck.logbook.store.last_link import note_last_link
from greasecheck.logbook.store.times import now, to_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from datetime import datetime

    from greasecheck.logbook.store.columns import Value
    from greasecheck.logbook.store.table import Row, Table


class EntryKind(StrEnum):
    """How an entry came in."""

    COMMAND = "command"
    READ = "read"
    IMPORT = "import"


class Logbook:
    """An open logbook; use it in a `with` block.

    Parameters
    ----------
    path : pathlib.Path
        Its file, or a link to it.
    create : bool
        Whether to make it when there is none.
    as_of : datetime.datetime, optional
        Zone-aware; what came later is hidden from every query, and nothing can be entered.
    draft : pathlib.Path, optional
        Where it is made, from `drafted`; with its first entry it gets its name, `path`.

    Raises
    ------
    LogbookError
        When it cannot be opened.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with Logbook(Path(folder) / "season.logbook", create=True) as book:
    ...         len(book.rows("SELECT * FROM tubs"))
    0
    """

    def __init__(
        self,
        path: Path,
        *,
        create: bool = False,
        as_of: datetime | None = None,
        draft: Path | None = None,
    ) -> None:
        self.path = true_file(path)
        self.as_of = as_of
        self._draft = draft
        self._connection = connect(draft or self.path, create=create or draft is not None)
        if as_of is not None:
            hide_later(self._connection, as_of)
        self._joint: Entry | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._connection.close()

    @property
    def connection(self) -> sqlite3.Connection:
        """Return the database connection, for copying the whole file."""
        return self._connection

    def rows(self, sql: str, parameters: Iterable[Value] = ()) -> list[tuple[Any, ...]]:
        """Return the rows that `sql` selects.

        Raises
        ------
        LogbookError
            When the file is damaged or busy.
        """
        with in_clear_words(self.path):
            return self._connection.execute(sql, tuple(parameters)).fetchall()

    def each_row(self, sql: str) -> Iterator[tuple[Any, ...]]:
        """Yield the rows that `sql` selects, one by one; errors as for `rows`."""
        with in_clear_words(self.path):
            yield from self._connection.execute(sql)

    @contextmanager
    def temporary(self) -> Iterator[sqlite3.Connection]:
        """Do much to temporary tables at once; the logbook itself is not locked."""
        with in_clear_words(self.path):
            self._connection.execute("BEGIN")
            try:
                yield self._connection
            finally:
                self._connection.execute("COMMIT")

    @contextmanager
    def entry(
        self, what: str, kind: EntryKind = EntryKind.COMMAND, *, resume: int | None = None
    ) -> Iterator[Entry]:
        """Write everything in the `with` block, or nothing of it.

        Parameters
        ----------
        what : str
            What is entered, for people.
        kind : EntryKind
            How it comes in.
        resume : int or None
            Number of an entry to add to; None for a new one.

        Raises
        ------
        LogbookError
            When the logbook refuses it; then nothing of it was written.
        """
        assert self.as_of is None, "the past is only looked at"
        if self._joint is not None:
            yield self._joint
            return
        with self.transaction():
            yield Entry(self._connection, what, kind, resume)

    @contextmanager
    def joint_entry(self, what: str) -> Iterator[None]:
        """Write the entries made in the `with` block as one, or nothing of them."""
        with self.entry(what) as joint:
            self._joint = joint
            try:
                yield
            finally:
                self._joint = None

    @contextmanager
    def snapshot(self) -> Iterator[None]:
        """Let every query in the `with` block see the same state."""
        with self.temporary():
            yield

    @contextmanager
    def transaction(self) -> Iterator[sqlite3.Connection]:
        """Write everything done on the connection in the `with` block, or nothing of it."""
        with in_clear_words(self.path):
            with transaction(self._connection):
                before = head_of(self._connection)
                yield self._connection
            if head_of(self._connection) != before:
                if self._draft is not None:
                    self._name(self._draft)
                note_last_link(self._connection, self.path)

    def _name(self, draft: Path) -> None:
        """Give the draft its name, now that an entry is in it."""
        self._draft = None
        self._connection.close()
        if not name_without_overwriting(draft, self.path):
            raise LogbookError(
                f"another program made the logbook {self.path} meanwhile", hint="do it once more"
            )
        self._connection = connect(self.path)


class Entry:
    """An entry being written: the only way rows get into the logbook.

    Parameters
    ----------
    connection : sqlite3.Connection
        The logbook's connection, within a transaction.
    what : str
        What is entered, for people.
    kind : EntryKind
        How it comes in.
    number : int or None
        Number of an entry to add to; None for a new one, which begins with its first row.
    """

    def __init__(
        self, connection: sqlite3.Connection, what: str, kind: EntryKind, number: int | None = None
    ) -> None:
        self._connection = connection
        self._what = what
        self._kind = kind
        self._number = number

    @property
    def number(self) -> int | None:
        """Return the number of the entry; None before its first row."""
        return self._number

    def insert(self, table: Table, values: Mapping[str, Value]) -> None:
        """Add a row of named `values` to `table`."""
        self.insert_rows(table, [table.row(values)])

    def insert_rows(self, table: Table, rows: Sequence[Row]) -> None:
        """Add `rows`, each checked and in column order, to `table`."""
        if not rows:
            return
        number = self._begun()
        marks = ", ".join("?" * (len(table.columns) + 1))
        self._connection.executemany(
            f"INSERT INTO {table.name} ({', '.join(table.names)}, entry_id) VALUES ({marks})",
            ((*row, number) for row in rows),
        )
        self._link(change_of(table, row, number) for row in rows)

    def row(self, table: Table, key: Row) -> Row | None:
        """Return the row of `table` under `key`, or None."""
        return fetch_row(self._connection, table, key)

    def keys(
        self, table: Table, column: str | None = None, value: Value = None
    ) -> list[tuple[Any, ...]]:
        """Return the keys of all rows of `table`, or of those that hold `value` in `column`."""
        sql = f"SELECT {', '.join(table.key)} FROM {table.name}"
        if column is None:
            return self._connection.execute(sql).fetchall()
        return self._connection.execute(f"{sql} WHERE {column} = ?", (value,)).fetchall()

    def count(self, table: Table, column: str, value: Value) -> int:
        """Return how many rows of `table` hold `value` in `column`."""
        sql = f"SELECT count(*) FROM {table.name} WHERE {column} = ?"
        number: int = self._connection.execute(sql, (value,)).fetchone()[0]
        return number

    def update(self, table: Table, key: Row, changes: Mapping[str, Value]) -> None:
        """Change columns of the row under `key`, keeping what stood there for `undo`."""
        before = self.row(table, key)
        assert before is not None, "callers look first"
        values = dict(zip(table.names, before, strict=True))
        self._keep(table, key, {name: values[name] for name in changes})
        checked = {name: table.cell(name, value) for name, value in changes.items()}
        set_values(self._connection, table, key, checked)
        self._link([standing_change(self._connection, table, key)])

    def move(self, table: Table, key: Row, changes: Mapping[str, Value]) -> None:
        """Change columns of the row under `key`, its key among them, for `undo` to move it back."""
        before = self.row(table, key)
        assert before is not None, "callers look first"
        values = dict(zip(table.names, before, strict=True))
        moved = table.key_of(table.row({**values, **changes}))
        self._keep(table, moved, {name: values[name] for name in changes})
        checked = {name: table.cell(name, value) for name, value in changes.items()}
        set_values(self._connection, table, key, checked)
        self._link([removal_of(table, key), standing_change(self._connection, table, moved)])

    def remove(self, table: Table, keys: Sequence[Row]) -> None:
        """Take the rows under `keys` out of `table`; what stood in them is kept with the entry."""
        names = (*table.names, "entry_id")
        sql = f"SELECT {', '.join(names)} FROM {table.name} WHERE {_where(table)}"
        for key in keys:
            row = self._connection.execute(sql, key).fetchone()
            self._keep(table, key, dict(zip(names, row, strict=True)))
        sql = f"DELETE FROM {table.name} WHERE {_where(table)}"
        self._connection.executemany(sql, keys)
        self._link(removal_of(table, key) for key in keys)

    def bring_back(self, table: Table, values: Mapping[str, Value]) -> None:
        """Put a removed row back as it was, as a row of the entry that had added it."""
        marks = ", ".join("?" * len(values))
        self._begun()
        self._connection.execute(
            f"INSERT INTO {table.name} ({', '.join(values)}) VALUES ({marks})",
            tuple(values.values()),
        )
        key = tuple(values[name] for name in table.key)
        self._link([standing_change(self._connection, table, key)])

    def supersede(self, number: int, at: datetime) -> None:
        """Note that this entry takes back the entry of a number."""
        own = self._begun()
        self._connection.execute(
            "UPDATE entries SET undone_at = ? WHERE id = ?", (to_text(at), number)
        )
        self._connection.execute("UPDATE entries SET undoes = ? WHERE id = ?", (number, own))
        self._link(own_change(self._connection, ENTRIES, each) for each in (number, own))

    def accept_rows(self) -> None:
        """Link every row that the chain does not hold as it stands."""
        take_up(self._connection, self._begun())

    def put(self, table: Table, values: Mapping[str, Value]) -> None:
        """Add a row, or change the one under the same key to `values`."""
        row = table.row(values)
        key = table.key_of(row)
        changes = {name: value for name, value in values.items() if name not in table.key}
        if self.row(table, key) is None:
            self.insert_rows(table, [row])
        elif changes:
            self.update(table, key, changes)

    def _keep(self, table: Table, key: Row, before: Mapping[str, Value]) -> None:
        image = self._connection.execute(
            "INSERT INTO before_images (entry_id, table_name, row_key, before) VALUES (?, ?, ?, ?)",
            (self._begun(), table.name, json.dumps(key), json.dumps(before)),
        ).lastrowid
        assert image is not None
        self._link([own_change(self._connection, IMAGES, image)])

    def _link(self, changes: Iterable[Change]) -> None:
        link_rows(self._connection, self._begun(), changes)

    def _begun(self) -> int:
        if self._number is None:
            self._number = self._connection.execute(
                "INSERT INTO entries (made_at, kind, what, software_version) VALUES (?, ?, ?, ?)",
                (to_text(now()), self._kind, self._what, __version__),
            ).lastrowid
            assert self._number is not None
            own = own_change(self._connection, ENTRIES, self._number)
            link_rows(self._connection, self._number, [own])
        return self._number


def fetch_row(connection: sqlite3.Connection, table: Table, key: Row) -> Row | None:
    """Return the row of `table` under `key`, or None."""
    found: Row | None = connection.execute(
        f"SELECT {', '.join(table.names)} FROM {table.name} WHERE {_where(table)}", key
    ).fetchone()
    return found


def set_values(
    connection: sqlite3.Connection, table: Table, key: Row, values: Mapping[str, Value]
) -> None:
    """Set columns of the row of `table` under `key`, without a trace."""
    connection.execute(
        f"UPDATE {table.name} SET {', '.join(f'{name} = ?' for name in values)}"
        f" WHERE {_where(table)}",
        (*values.values(), *key),
    )


@contextmanager
def open_or_make(path: Path) -> Iterator[Logbook]:
    """Open the logbook at `path`, or make one that is there from its first entry on.

    Parameters
    ----------
    path : pathlib.Path
        Its file, or a link to it.

    Raises
    ------
    LogbookError
        When it cannot be opened or made, or, with the first entry, another program made one
        meanwhile.
    """
    if path.exists():
        with Logbook(path) as book:
            yield book
        return
    with drafted(path) as draft:
        with _named(path, draft):
            book = Logbook(path, draft=draft)
        with book:
            yield book


@contextmanager
def _named(path: Path, draft: Path) -> Iterator[None]:
    """Raise what goes wrong with a draft as of the file that it is to be."""
    try:
        yield
    except LogbookError as error:
        if str(draft) not in error.problem:
            raise
        problem = error.problem.replace(str(draft), str(path))
        raise type(error)(problem, hint=error.hint) from error


def _where(table: Table) -> str:
    return " AND ".join(f"{name} = ?" for name in table.key)


def default_path() -> Path:
    """Return where the logbook is when nobody says: the user's data folder."""
    return user_data_path("greasecheck", appauthor=False) / "season.logbook"
