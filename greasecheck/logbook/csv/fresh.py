"""Takes CSV files into a logbook that may not be there yet: one that fails leaves none."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.file import drafted, name_without_overwriting
from greasecheck.logbook.store.last_link import note_path

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from greasecheck.logbook.csv.read import Imported


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
    if path.exists():
        with Logbook(path) as book:
            return import_tables(book, files)
    with drafted(path) as draft:
        with Logbook(draft, create=True) as book:
            done = import_tables(book, files)
        if not name_without_overwriting(draft, path):
            raise LogbookError(
                f"another program made the logbook {path} meanwhile", hint="import once more"
            )
        with suppress(FileNotFoundError):  # files without a row are no entry
            note_path(draft).replace(note_path(path))
    return done
