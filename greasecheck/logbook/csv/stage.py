"""Lines of a CSV file on their way into the logbook, in a table of their own on the disk.

However long the file is, memory holds a few thousand of its lines; SQLite compares the rest.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Any

from greasecheck.logbook.store.faults import in_clear_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from greasecheck.logbook.csv.lines import Line
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.logbook.store.table import Row, Table

AT_ONCE = 5000  # lines held in memory; twice as many are no quicker


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """The lines of one file; `name` is that of its table in the database of temporary things."""

    book: Logbook
    path: Path
    table: Table
    name: str

    def fill(self, lines: Iterable[Line]) -> None:
        """Take in the lines of the file."""
        self.drop()
        names = ", ".join(self.table.names)
        self._run(f"CREATE TABLE {self.name} (line INTEGER PRIMARY KEY, {names})")
        marks = ", ".join("?" * (len(self.table.names) + 1))
        coming = iter(lines)
        while some := [(line.number, *line.row) for line in islice(coming, AT_ONCE)]:
            with self.book.temporary() as connection:
                connection.executemany(f"INSERT INTO {self.name} VALUES ({marks})", some)
        keys = ", ".join(self.table.key)
        self._run(f"CREATE INDEX {self.name}_key ON {self.name.removeprefix('temp.')} ({keys})")

    def drop(self) -> None:
        """Forget the lines."""
        self._run(f"DROP TABLE IF EXISTS {self.name}")

    def count(self) -> int:
        """Return how many lines there are."""
        [(number,)] = self.book.rows(f"SELECT count(*) FROM {self.name}")
        return int(number)

    def doubled(self) -> Iterator[tuple[int, int]]:
        """Return the lines that have the key of an earlier one, each with the first of them."""
        keys = ", ".join(self.table.key)
        return self._rows(
            f"""SELECT line, first FROM (SELECT line, min(line) OVER (PARTITION BY {keys}) AS first
            FROM {self.name}) WHERE line > first ORDER BY line"""
        )

    def dangling(self, column: str, known: str) -> Iterator[tuple[int, Any]]:
        """Return the lines whose `column` is nowhere among what SQL calls known."""
        return self._rows(
            f"""SELECT line, {column} FROM {self.name}
            WHERE {column} IS NOT NULL AND {column} NOT IN ({known}) ORDER BY line"""
        )

    def differing(self) -> Iterator[tuple[int, Row, Row]]:
        """Return the lines that stand in the logbook otherwise: line, as it stands, as it comes."""
        names, width = self.table.names, len(self.table.names)
        there = ", ".join(f"there.{name}" for name in names)
        coming = ", ".join(f"coming.{name}" for name in names)
        alike = " AND ".join(f"there.{name} IS coming.{name}" for name in names)
        rows = self._rows(
            f"""SELECT line, {there}, {coming} FROM {self.name} AS coming
            JOIN {self.table.name} AS there ON {self._same_key} WHERE NOT ({alike}) ORDER BY line"""
        )
        return ((row[0], row[1 : width + 1], row[width + 1 :]) for row in rows)

    def under_old_names(self, column: str, target: Table) -> Iterator[tuple[int, Any, Any]]:
        """Return the new lines whose `column` is an old name: line, that name, the one since."""
        return self._rows(
            f"""SELECT line, {column}, named.merged_into FROM {self.name} AS coming
            JOIN {target.name} AS named ON named.{target.key[0]} = coming.{column}
            WHERE named.merged_into IS NOT NULL AND NOT EXISTS
            (SELECT 1 FROM {self.table.name} AS there WHERE {self._same_key}) ORDER BY line"""
        )

    def new_names(self) -> Iterator[tuple[int, Any, Any]]:
        """Return the new lines with a name that is no old one: line, key of the row, its name."""
        return self._rows(
            f"""SELECT line, {self.table.key[0]}, name FROM {self.name} AS coming
            WHERE name IS NOT NULL AND merged_into IS NULL AND NOT EXISTS
            (SELECT 1 FROM {self.table.name} AS there WHERE {self._same_key}) ORDER BY line"""
        )

    def drop_known(self) -> None:
        """Forget the lines that stand in the logbook already."""
        self._run(
            f"""DELETE FROM {self.name} AS coming
            WHERE EXISTS (SELECT 1 FROM {self.table.name} AS there WHERE {self._same_key})"""
        )

    def batches(self) -> Iterator[list[Row]]:
        """Return the rows in order, some at once."""
        names = ", ".join(self.table.names)
        rows = self._rows(f"SELECT {names} FROM {self.name} ORDER BY line")
        while some := list(islice(rows, AT_ONCE)):
            yield some

    @property
    def _same_key(self) -> str:
        return " AND ".join(f"there.{name} = coming.{name}" for name in self.table.key)

    def _rows(self, sql: str) -> Iterator[Any]:
        return self.book.each_row(sql)

    def _run(self, sql: str) -> None:
        with in_clear_words(self.book.path):
            self.book.connection.execute(sql)


def stage_of(book: Logbook, path: Path, table: Table) -> Stage:
    """Return an empty stage for a file of a table."""
    return Stage(book=book, path=path, table=table, name=f"temp.coming_{table.name}")
