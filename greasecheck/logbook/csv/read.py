"""Takes CSV files into the logbook: every line checked, all of it or nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import DataFileError, GreasecheckError
from greasecheck.logbook.csv.faults import Faults
from greasecheck.logbook.csv.lines import read_lines
from greasecheck.logbook.csv.stage import stage_of
from greasecheck.logbook.date_slips import early_readings
from greasecheck.logbook.skulls.stays import every_event, idle_moves
from greasecheck.logbook.store.book import EntryKind, open_or_make
from greasecheck.logbook.store.columns import letters_of
from greasecheck.logbook.store.tables import (
    CHECK_PLANS,
    READINGS,
    SKULLS,
    TABLES,
    TUBS,
    table_named,
)
from greasecheck.logbook.water.names import names_of_tubs
from greasecheck.words.times import counted

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime
    from pathlib import Path

    from greasecheck.logbook.csv.stage import Stage
    from greasecheck.logbook.records import SkullEvent
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.logbook.store.columns import Value
    from greasecheck.logbook.store.table import Row, Table

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
    early_readings : dict of int to int
        For each tub, how many of the readings added lie before its first day.
    idle_moves : tuple of SkullEvent
        Moves of the files into the very tub that the skull lay in.
    """

    added: dict[str, int]
    known: dict[str, int]
    new_tubs: tuple[int, ...]
    early_readings: dict[int, int]
    idle_moves: tuple[SkullEvent, ...]


def import_files(path: Path, files: Sequence[Path]) -> Imported:
    """Add the rows of CSV files to the logbook at `path`, which is made when there is none.

    Parameters
    ----------
    path : pathlib.Path
        The logbook's file; a new one is there only when all rows have come in.
    files : sequence of pathlib.Path
        Files named after their tables, or folders of such files.

    Raises
    ------
    DataFileError
        As `import_tables` does.
    LogbookError
        When the logbook cannot be opened or made, or another program made one meanwhile.
    """
    with open_or_make(path) as book:
        return import_tables(book, files)


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
        doubled, refers to a skull or reading that is nowhere, names a tub or a skull that is called
        otherwise now, gives a tub the name of another, or differs from what stands there.
    """
    stages = [stage_of(book, path, table) for path, table in files_by_table(paths)]
    faults = Faults()
    try:
        for stage in stages:
            stage.fill(read_lines(stage.path, stage.table, faults, present))
        for stage in stages:
            for line, first in stage.doubled():
                keys = ", ".join(stage.table.key)
                faults.add(stage.path, line, f"it has the same {keys} as line {first}")
        faults.raise_if_any()
        return _import(book, stages, faults)
    finally:
        for stage in stages:
            stage.drop()


def _import(book: Logbook, stages: Sequence[Stage], faults: Faults) -> Imported:
    with book.entry(f"import of {counted(len(stages), 'file')}", EntryKind.IMPORT) as entry:
        _find_dangling(stages, faults)
        _find_differing(stages, faults)
        _find_old_names(stages, faults)
        _find_namesakes(book, stages, faults)
        faults.raise_if_any()
        coming = {stage.table.name: stage.count() for stage in stages}
        new_tubs = _unknown_tubs(book, stages)
        idle_before = idle_moves(every_event(book))
        entry.insert_rows(TUBS, [TUBS.row({"number": tub}) for tub in new_tubs])
        for stage in stages:
            stage.drop_known()
            for rows in stage.batches():
                entry.insert_rows(stage.table, rows)
        added = {stage.table.name: stage.count() for stage in stages}
        idle = tuple(one for one in idle_moves(every_event(book)) if one not in idle_before)
        early = early_readings(book, entry.number)
    known = {name: number - added[name] for name, number in coming.items()}
    return Imported(
        added=added, known=known, new_tubs=new_tubs, early_readings=early, idle_moves=idle
    )


def files_by_table(paths: Sequence[Path]) -> list[tuple[Path, Table]]:
    """Return the files in the order of their tables, each after those it refers to.

    Raises
    ------
    DataFileError
        When one is missing or named after no table, or two are of the same.
    """
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
    if not path.exists():
        raise DataFileError(f"cannot read {path}: there is no such file", hint="check its name")
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


def _find_dangling(stages: Sequence[Stage], faults: Faults) -> None:
    """Find the rows that refer to a skull, a plan or a reading that is nowhere."""
    for column, target in REFERENCES:
        known = _known(stages, target)
        for stage in stages:
            if column in stage.table.names:
                for line, value in stage.dangling(column, known):
                    faults.add(stage.path, line, f"{column} '{value}' is not in {target.name}")


def _known(stages: Sequence[Stage], target: Table) -> str:
    """Return SQL for the keys of `target`, in the logbook and in the files."""
    places = [f"main.{target.name}", *(stage.name for stage in stages if stage.table is target)]
    return " UNION ALL ".join(f"SELECT {target.key[0]} FROM {place}" for place in places)


def _find_differing(stages: Sequence[Stage], faults: Faults) -> None:
    for stage in stages:
        for line, old, new in stage.differing():
            faults.add(stage.path, line, _differing(stage.table, old, new))


def _find_old_names(stages: Sequence[Stage], faults: Faults) -> None:
    """Find the new rows that would hide under what a tub or a skull was called before."""
    for column, target in (("tub", TUBS), ("skull", SKULLS)):
        for stage in stages:
            if column in stage.table.names and stage.table.name != "attempts":
                for line, old, now in stage.under_old_names(column, target):
                    faults.add(stage.path, line, f"{column} '{old}' is called '{now}' now")


def _find_namesakes(book: Logbook, stages: Sequence[Stage], faults: Faults) -> None:
    """Find the new tubs that have the name of another one, whatever its case and spaces."""
    named = {letters_of(name): number for number, name in names_of_tubs(book)}
    for stage in stages:
        if stage.table is TUBS:
            for line, number, name in stage.new_names():
                other = named.setdefault(letters_of(name), number)
                if other != number:
                    faults.add(stage.path, line, f"its name '{name}' is that of tub {other}, too")


def _differing(table: Table, old: Row, new: Row) -> str:
    """Say what of a row the logbook holds otherwise than a file states it."""
    rows = zip(table.names, old, new, strict=True)
    cells = [(name, before, after) for name, before, after in rows if before != after]
    if len(cells) > 1:
        return f"its {', '.join(name for name, *_ in cells)} differ from what the logbook holds"
    [(name, before, after)] = cells
    return f"its {name} is {_shown(after)}, and {_shown(before)} in the logbook"


def _shown(value: Value) -> str:
    return "blank" if value is None else f"'{value}'"


def _unknown_tubs(book: Logbook, stages: Sequence[Stage]) -> tuple[int, ...]:
    known = _known(stages, TUBS)
    named = [
        f"SELECT DISTINCT tub FROM {stage.name} WHERE tub NOT IN ({known})"
        for stage in stages
        if "tub" in stage.table.names and stage.table.name != "attempts"
    ]
    rows = book.rows(" UNION ".join(named) + " ORDER BY 1") if named else ()
    return tuple(tub for (tub,) in rows)
