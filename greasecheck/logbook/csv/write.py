"""Takes the tables out as CSV files, whose columns `tables` describes."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.store.drafts import draft_folder, make_private_folder
from greasecheck.logbook.store.file import fsync_folder
from greasecheck.logbook.store.tables import TABLES

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from greasecheck.logbook.store.book import Logbook
    from greasecheck.logbook.store.table import Table


def export_tables(
    book: Logbook, folder: Path, tables: Sequence[Table] = TABLES
) -> tuple[Path, ...]:
    """Write each of `tables` to a CSV file of its name in `folder`, as they stand at one moment.

    Parameters
    ----------
    book : Logbook
        What to write out.
    folder : pathlib.Path
        Made when it does not exist.
    tables : sequence of Table
        The tables; by default all.

    Returns
    -------
    tuple of pathlib.Path
        The files.

    Raises
    ------
    LogbookError
        When a file of that name exists, or the disk refuses; then none is written.
    """
    targets = tuple(folder / f"{table.name}.csv" for table in tables)
    for target in targets:
        if target.exists():
            raise LogbookError(f"{target} exists already", hint="name a new folder")
    try:
        make_private_folder(folder)
        with draft_folder(folder) as fresh:
            _write_all(book, fresh, tables)
            for target in targets:
                (fresh / target.name).replace(target)
        fsync_folder(folder)
    except OSError as error:
        raise LogbookError(
            f"cannot write to {folder}: {error.strerror or error}",
            hint="name a folder that may be written to, on a disk with room",
        ) from error
    return targets


def _write_all(book: Logbook, folder: Path, tables: Sequence[Table]) -> None:
    with book.snapshot():
        for table in tables:
            with (folder / f"{table.name}.csv").open("w", newline="", encoding="utf-8") as file:
                writer = csv.writer(file)
                writer.writerow(table.names)
                writer.writerows(_cells(book, table))


def _cells(book: Logbook, table: Table) -> Iterator[list[str]]:
    sql = f"SELECT {', '.join(table.names)} FROM {table.name} ORDER BY {', '.join(table.order)}"
    for row in book.each_row(sql):
        yield [column.written(value) for column, value in zip(table.columns, row, strict=True)]
