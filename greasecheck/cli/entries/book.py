"""Commands for the logbook as a whole: undo, backup, restore, check, CSV out and in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.shared import logbook_options as options
from greasecheck.cli.shared.options import AsJson
from greasecheck.cli.shared.output import print_json
from greasecheck.cli.shared.plain import plain
from greasecheck.errors import LogbookError
from greasecheck.logbook import undo
from greasecheck.logbook.csv.read import import_files
from greasecheck.logbook.csv.write import export_tables
from greasecheck.logbook.dependents import with_dependents
from greasecheck.logbook.store import safety
from greasecheck.logbook.store.book import default_path
from greasecheck.logbook.store.tables import TABLES, table_named
from greasecheck.words.figures import numbers_words
from greasecheck.words.times import counted, exact

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.logbook.store.book import Logbook
    from greasecheck.logbook.store.table import Table

EXIT_FAULTS = 1

book = typer.Typer(
    no_args_is_help=True,
    help="Keep the logbook safe: backup, restore, check; take it out and in as CSV.",
    rich_markup_mode="markdown",
)


def register(app: typer.Typer) -> None:
    """Add the commands to the app."""
    app.command("undo")(undo_entry)
    app.add_typer(book, name="book")


def undo_entry(
    entry: Annotated[
        int | None,
        typer.Argument(help="Number of the entry; the last one without it.", metavar="[ENTRY]"),
    ] = None,
    show: Annotated[bool, typer.Option("--list", help="List the latest entries.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Take an entry back, by itself; a reading is marked wrong, never deleted.

    What rests on it is taken back with it, once you agree.

    Example: greasecheck undo 41
    """
    with options.open_logbook(logbook) as opened:
        if show:
            _list_entries(opened, as_json=as_json)
            return
        if entry is not None:
            _take_back(opened, entry, yes=yes, as_json=as_json)
            return
        last = undo.last_entry(opened)
        if last is None:
            raise LogbookError("the logbook has no entry to take back", hint="nothing to be done")
        if not yes and not as_json and (last.rows or last.changed_rows) != 1:
            lines = counted(last.rows + last.changed_rows, "line")
            typer.confirm(
                f"Take back '{_words(last)}', {lines} of the logbook?", abort=True, err=True
            )
        undo.undo(opened, last)
        _say_what_stays(opened, [last.number])
    if as_json:
        print_json({"undone": plain(last)})
    else:
        typer.echo(f"taken back: {_words(last)}")


def _say_what_stays(opened: Logbook, numbers: Sequence[int]) -> None:
    for one in undo.still_named(opened, numbers):
        typer.echo(f"{one} stays, with nothing known of it, as a reading names it", err=True)


def _list_entries(opened: Logbook, *, as_json: bool) -> None:
    found = [one for one in undo.entries(opened) if one.undoes is None]
    if as_json:
        print_json({"entries": plain(found)})
        return
    for one in found:
        gone = "  (taken back)" if one.undone_at else ""
        typer.echo(f"{one.number:>6}  {exact(one.made_at):>18}  {one.what}{gone}")


def _take_back(opened: Logbook, number: int, *, yes: bool, as_json: bool) -> None:
    past = undo.find_entry(opened, number)
    if past is None:
        raise LogbookError(f"there is no entry {number}", hint="see them: greasecheck undo --list")
    numbers = with_dependents(opened, number) if past.undone_at is None else (number,)
    gone = [one for each in numbers if (one := undo.find_entry(opened, each)) is not None]
    if len(numbers) > 1:
        if not yes:
            rest = ", ".join(f"{one.number} ({one.what})" for one in gone if one.number != number)
            typer.confirm(f"Entries {rest} rest on it. Take all back?", abort=True, err=True)
        undo.take_back_together(opened, numbers)
    else:
        undo.take_back(opened, number)
    _say_what_stays(opened, numbers)
    if as_json:
        print_json({"undone": list(numbers)})
    else:
        typer.echo("\n".join(f"taken back: {one.what}" for one in gone))


@book.command()
def where(logbook: options.LogbookFile = None, as_json: AsJson = False) -> None:
    """Say where the logbook is.

    Example: greasecheck book where
    """
    path = logbook or default_path()
    if as_json:
        print_json({"logbook": str(path), "exists": path.exists()})
    else:
        typer.echo(str(path))


@book.command()
def backup(
    target: Annotated[Path, typer.Argument(help="The new file.", metavar="FILE")],
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Copy the logbook to one file; it may be in use meanwhile.

    Example: greasecheck book backup /media/stick/season-2026.logbook
    """
    with options.open_logbook(logbook) as opened:
        safety.back_up(opened, target)
    size = target.stat().st_size
    if as_json:
        print_json({"backup": str(target), "size_bytes": size})
    else:
        typer.echo(f"{target}: {size / 1e6:.1f} MB, checked")


@book.command()
def restore(
    source: Annotated[Path, typer.Argument(help="The backup.", metavar="FILE")],
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Make the logbook what it was in a backup; what stands there now is kept aside.

    Example: greasecheck book restore /media/stick/season-2026.logbook
    """
    path = logbook or default_path()
    kept = safety.restore(source, path)
    if as_json:
        print_json({"logbook": str(path), "kept": str(kept) if kept else None})
        return
    typer.echo(f"{path}: restored from {source}")
    if kept is not None:
        typer.echo(f"what stood there is kept as {kept}")


@book.command()
def check(
    accept: Annotated[
        bool,
        typer.Option(
            "--accept", help="Take what stands there as right, where there is no better backup."
        ),
    ] = False,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Check that the file is whole, and each row as an entry left it; exits with 1 otherwise.

    Example: greasecheck book check
    """
    with options.open_logbook(logbook) as opened:
        found = safety.accept(opened) if accept else safety.faults(opened)
    if as_json:
        print_json({"sound": not found, "faults": list(found)})
    else:
        typer.echo("\n".join(found) or "the logbook is sound")
    if found:
        raise typer.Exit(EXIT_FAULTS)


@book.command("export")
def export_csv(
    folder: Annotated[Path, typer.Argument(help="A new folder for the files.")],
    tables: Annotated[
        list[str] | None, typer.Argument(help="The tables; by default all.", metavar="[TABLE]...")
    ] = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Take the tables out as CSV files, which import takes in again exactly.

    Example: greasecheck book export season-2026/
    """
    chosen = [table_named(name) for name in tables] if tables else TABLES
    with options.open_logbook(logbook) as opened:
        files = export_tables(opened, folder, chosen)
    if as_json:
        print_json({"files": plain(files)})
    else:
        typer.echo("\n".join(map(str, files)))


@book.command("import")
def import_csv(
    files: Annotated[
        list[Path], typer.Argument(help="CSV files named after their tables, or folders of them.")
    ],
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Take CSV files in: every line is checked, and all come in or none.

    Example: greasecheck book import readings.csv baths.csv
    """
    done = import_files(logbook or default_path(), files)
    if as_json:
        print_json({"import": plain(done)})
        return
    for name, count in done.added.items():
        typer.echo(f"{name}: {count} added, {done.known[name]} stood there already")
    for tub, count in done.early_readings.items():
        readings = counted(count, "reading")
        typer.echo(
            f"tub {tub}: {readings} from before its first day, belonging to no soak", err=True
        )
    for move in done.idle_moves:
        typer.echo(
            f"skull {move.skull} was moved to tub {move.tub} {exact(move.happened_at)}, where it "
            "lay already: check that tub",
            err=True,
        )
    if done.new_tubs:
        tubs = numbers_words(done.new_tubs)
        typer.echo(f"new and unnamed: tub {tubs}; name them: greasecheck tub", err=True)


@book.command()
def columns(
    table: Annotated[str | None, typer.Argument(help="The table; by default all.")] = None,
    as_json: AsJson = False,
) -> None:
    """Show the columns of the CSV files, with their units.

    Example: greasecheck book columns readings
    """
    chosen = [table_named(table)] if table else TABLES
    if as_json:
        print_json({"tables": [_table_json(one) for one in chosen]})
        return
    for one in chosen:
        typer.echo(f"{one.name}.csv: {one.meaning}")
        for column in one.columns:
            need = ", required" if column.required and column.default is None else ""
            typer.echo(f"  {column.name} ({column.kind}{need}): {column.meaning}")


def _table_json(one: Table) -> dict[str, object]:
    return {
        "name": one.name,
        "meaning": one.meaning,
        "key": list(one.key),
        "columns": [
            {
                "name": column.name,
                "kind": column.kind,
                "required": column.required and column.default is None,
                "meaning": column.meaning,
                "choices": list(column.choices),
            }
            for column in one.columns
        ],
    }


def _words(entry: undo.LastEntry) -> str:
    return f"{entry.what}, entered {exact(entry.made_at)}"
