"""Reads the CSV file of one table: its good rows, and what is wrong with the others."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import DataFileError
from greasecheck.logbook.csv.row_rules import completed, problem_of
from greasecheck.logbook.store.times import now, to_text

if TYPE_CHECKING:
    from _csv import Reader as CsvReader
    from collections.abc import Iterator, Sequence
    from datetime import datetime
    from pathlib import Path
    from typing import TextIO

    from greasecheck.logbook.csv.faults import Faults
    from greasecheck.logbook.store.columns import Value
    from greasecheck.logbook.store.table import Row, Table

LONGEST_LINE = 1_000_000  # a line of any table holds a few hundred characters


@dataclass(frozen=True, slots=True)
class Line:
    """A row and the number of the line where it stands."""

    number: int
    row: Row


def read_lines(
    path: Path, table: Table, faults: Faults, present: datetime | None = None
) -> Iterator[Line]:
    """Yield the good lines of a table's file, counting what is wrong with the others.

    Raises
    ------
    DataFileError
        When the file cannot be read or is not UTF-8.
    """
    try:
        if path.exists() and not path.is_file():  # a pipe would keep us waiting
            raise DataFileError(f"{path} is no file", hint="name a CSV file, or a folder of them")
        with path.open(newline="", encoding="utf-8-sig") as file:
            reader = csv.reader(_short_lines(file), strict=True)
            yield from _lines(path, table, reader, faults, present or now())
    except OSError as error:
        raise DataFileError(
            f"cannot read {path}: {error.strerror}", hint="check its name and rights"
        ) from error
    except UnicodeDecodeError as error:
        raise DataFileError(
            f"{path.name} is not UTF-8 text: {error.reason}", hint="save it as CSV in UTF-8"
        ) from error


def _short_lines(file: TextIO) -> Iterator[str]:
    while line := file.readline(LONGEST_LINE + 1):
        if len(line) > LONGEST_LINE:
            raise csv.Error(f"a line is longer than {LONGEST_LINE} characters")
        yield line


def _lines(
    path: Path, table: Table, reader: CsvReader, faults: Faults, present: datetime
) -> Iterator[Line]:
    try:
        header = next((cells for cells in reader if not _is_comment(cells)), [])
        place = max(reader.line_num, 1)
        problems = tuple(_header_problems(table, header))
        for problem in problems:
            faults.add(path, place, problem)
        if problems:
            return  # whatever the lines hold, it would be taken for something else
        parser = _RowParser(table, header, present)
        number = reader.line_num + 1
        for cells in reader:
            row = parser.row(cells) if cells else []
            if isinstance(row, tuple):
                yield Line(number, row)
            else:
                for problem in row:
                    faults.add(path, number, problem)
            number = reader.line_num + 1
    except csv.Error as error:
        faults.add(path, reader.line_num, f"it is not CSV: {error}")


def _is_comment(cells: Sequence[str]) -> bool:
    """Return whether a line before the columns' names tells of the file, as `# key: value`."""
    return bool(cells) and cells[0].startswith("#")


def _header_problems(table: Table, header: Sequence[str]) -> Iterator[str]:
    if len(header) == 1 and ";" in header[0]:
        yield "its columns are parted by semicolons: save it with commas, and points for decimals"
        return
    unknown = [name for name in header if name not in table.names]
    if unknown:
        yield f"{table.name} has no column {', '.join(unknown)}"
    if len(set(header)) < len(header):
        yield "a column stands there twice"
    missing = [c.name for c in table.columns if c.required and c.default is None]
    absent = [name for name in missing if name not in header]
    if absent:
        yield f"the column {', '.join(absent)} is missing"


class _RowParser:
    """Turns the cells of a line into a row of its table."""

    def __init__(self, table: Table, header: Sequence[str], present: datetime) -> None:
        self._table = table
        self._width = len(header)
        self._now = to_text(present)
        self._defaults = {column.name: column.default for column in table.columns}
        places = {name: place for place, name in enumerate(header)}
        self._layout = [
            (column, places[column.name]) for column in table.columns if column.name in places
        ]

    def row(self, cells: Sequence[str]) -> Row | list[str]:
        """Return the row, or what is wrong with it."""
        if len(cells) != self._width:
            return [f"{len(cells)} cells where the first line has {self._width}"]
        values: dict[str, Value] = dict(self._defaults)
        problems = []
        for column, place in self._layout:
            try:
                values[column.name] = column.parse(cells[place])
            except ValueError as error:
                problems.append(f"{column.name}: {error}")
        if problems:
            return problems
        values = completed(self._table, values)
        problem = problem_of(self._table, values, self._now)
        return [problem] if problem else tuple(values.values())
