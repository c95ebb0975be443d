"""Takes CSV files into the logbook: every line checked, all of it or nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import DataFileError, GreasecheckError
from greasecheck.logbook.csv.lines import read_table
from greasecheck.logbook.store.book import EntryKind
from greasecheck.logbook.store.tables import (
    CHECK_PLANS,
    READINGS,
    SKULLS,
    TABLES,
    TUBS,
    table_named,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime
    from pathlib import Path

    from greasecheck.logbook.csv.lines import CsvFile
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.logbook.store.columns import Value
    from greasecheck.logbook.store.table import Row, Table

MOST_FAULTS_SHOWN = 1000
# Columns that name a row of another table; tubs may be named before they are entered.
REFERENCES = (("skull", SKULLS), ("check_plan", CHECK_PLANS), ("reading_key", READINGS))


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """What an import did.

    Attributes
    ----------
    added, known : dict of str to int
        For each table, the rows added and those that stood there already.
    new_tubs : tuple of int
        Tubs that a row named but nobody had entered; they stand there unnamed.
    """

    added: dict[str, int]
    known: dict[str, int]
    new_tubs: tuple[int, ...]


def import_tables(
    book: Logbook, paths: Sequence[Path], *, present: datetime | None = None
) -> Imported:
    """Add the rows of CSV files to the logbook, all of them or none.

    A row that stands there already, the same in every column, is left as it is, so that the same
    file can be imported twice.

    Parameters
    ----------
    book : Logbook
        Where to add them.
    paths : sequence of pathlib.Path
        Files named after their tables, such as readings.csv, or folders of such files.
    present : datetime.datetime, optional
        What counts as now: rows may not lie in its future. The computer's time without it.

    Raises
    ------
    DataFileError
        With every fault and its line number, when a line is malformed, contradicts a rule, is
        doubled, refers to a skull or reading that is nowhere, or differs from what stands there.
    """
    faults: list[str] = []
    files = [read_table(path, table, faults, present) for path, table in _in_order(paths)]
    for file in files:
        faults.extend(_doubled(file))
    _raise_if_any(faults)
    with book.entry(f"import of {len(files)} file(s)", EntryKind.IMPORT) as entry:
        faults.extend(_dangling(book, files))
        fresh = [_fresh(book, file, faults) for file in files]
        _raise_if_any(faults)
        new_tubs = _unknown_tubs(book, files)
        entry.insert_rows(TUBS, [TUBS.row({"number": tub}) for tub in new_tubs])
        for file, rows in zip(files, fresh, strict=True):
            entry.insert_rows(file.table, rows)
    added = {file.table.name: len(rows) for file, rows in zip(files, fresh, strict=True)}
    known = {file.table.name: len(file.lines) - added[file.table.name] for file in files}
    return Imported(added=added, known=known, new_tubs=new_tubs)


def _in_order(paths: Sequence[Path]) -> list[tuple[Path, Table]]:
    """Return the files in the order of their tables, each after those it refers to."""
    files = [file for path in paths for file in _csv_files(path)]
    named = [(file, _table_of(file)) for file in files]
    doubled = len({table.name for _, table in named}) < len(named)
    if not named or doubled:
        raise DataFileError(
            "two files are of the same table" if doubled else "there is no CSV file to import",
            hint="give each table's file once, named after it, such as readings.csv",
        )
    return sorted(named, key=lambda pair: TABLES.index(pair[1]))


def _csv_files(path: Path) -> list[Path]:
    try:
        return sorted(path.glob("*.csv")) if path.is_dir() else [path]
    except OSError as error:
        raise DataFileError(
            f"cannot read {path}: {error.strerror}", hint="check its name and rights"
        ) from error


def _table_of(path: Path) -> Table:
    try:
        return table_named(path.stem)
    except GreasecheckError as error:
        raise DataFileError(
            f"{path.name} is not named after a table of the logbook", hint=error.hint
        ) from error


def _doubled(file: CsvFile) -> Iterator[str]:
    seen: dict[Row, int] = {}
    for line in file.lines:
        first = seen.setdefault(file.table.key_of(line.row), line.number)
        if first != line.number:
            yield file.fault(line, f"it has the same {', '.join(file.table.key)} as line {first}")


def _dangling(book: Logbook, files: Sequence[CsvFile]) -> Iterator[str]:
    """Find the rows that refer to a skull, a plan or a reading that is nowhere."""
    for column, target in REFERENCES:
        users = [file for file in files if column in file.table.names]
        known = _keys(book, files, target) if users else frozenset()
        for file in users:
            place = file.table.names.index(column)
            for line in file.lines:
                if line.row[place] is not None and line.row[place] not in known:
                    yield file.fault(line, f"{column} '{line.row[place]}' is not in {target.name}")


def _keys(book: Logbook, files: Sequence[CsvFile], target: Table) -> frozenset[Value]:
    """Return the keys of `target`, in the logbook and in the files."""
    stored = (key for (key,) in book.rows(f"SELECT {target.key[0]} FROM {target.name}"))
    coming = (target.key_of(row)[0] for f in files if f.table is target for row in f.rows)
    return frozenset((*stored, *coming))


def _fresh(book: Logbook, file: CsvFile, faults: list[str]) -> list[Row]:
    """Return the rows that do not stand in the logbook yet."""
    table = file.table
    there = {
        table.key_of(row): row for row in book.rows(f"SELECT {_names(table)} FROM {table.name}")
    }
    fresh = []
    for line in file.lines:
        old = there.get(table.key_of(line.row))
        if old is None:
            fresh.append(line.row)
        elif old != line.row:
            names = _differing(table, old, line.row)
            faults.append(file.fault(line, f"its {names} differ(s) from what the logbook holds"))
    return fresh


def _differing(table: Table, old: Row, new: Row) -> str:
    pairs = zip(table.names, old, new, strict=True)
    return ", ".join(name for name, before, after in pairs if before != after)


def _unknown_tubs(book: Logbook, files: Sequence[CsvFile]) -> tuple[int, ...]:
    known = _keys(book, files, TUBS)
    named = {
        row[file.table.names.index("tub")]
        for file in files
        if "tub" in file.table.names and file.table.name != "attempts"
        for row in file.rows
    }
    return tuple(sorted(tub for tub in named - known if isinstance(tub, int)))


def _names(table: Table) -> str:
    return ", ".join(table.names)


def _raise_if_any(faults: Sequence[str]) -> None:
    if not faults:
        return
    more = len(faults) - MOST_FAULTS_SHOWN
    shown = [*faults[:MOST_FAULTS_SHOWN], *([f"and {more} more"] if more > 0 else [])]
    raise DataFileError(
        "\n  ".join([f"nothing was imported, there are {len(faults)} faults:", *shown]),
        hint="correct these lines and import again; see the columns: greasecheck book columns",
    )
