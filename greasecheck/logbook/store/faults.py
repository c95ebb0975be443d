"""Turns errors of SQLite and the disk into clear words."""

from __future__ import annotations

import sqlite3
from contextlib import contextmanager
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


class DamagedLogbookError(LogbookError):
    """The file of the logbook is damaged or cut short."""


# Result codes, extended ones where they tell more: https://www.sqlite.org/rescode.html
WORDS = {
    sqlite3.SQLITE_FULL: (
        "the disk is full; nothing of this entry was written",
        "make room and enter it again; what was entered before is safe",
    ),
    sqlite3.SQLITE_IOERR_SHMSIZE: (
        "the disk is full; it cannot even be opened",
        "make room and try again; what was entered before is safe",
    ),
    sqlite3.SQLITE_READONLY: (
        "it may not be written to",
        "allow writing to the file and its folder, or name another place for the logbook",
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "it cannot be opened",
        "check that its folder exists and may be written to",
    ),
    sqlite3.SQLITE_NOTADB: (
        "it is no logbook",
        "name the right file of the logbook",
    ),
    sqlite3.SQLITE_CORRUPT: (
        "it is damaged or cut short",
        "restore the latest backup",
    ),
    sqlite3.SQLITE_BUSY: (
        "another greasecheck has been writing to it for too long",
        "wait for it to finish, then try again; nothing was lost",
    ),
    sqlite3.SQLITE_IOERR: (
        "the disk failed while it was read or written",
        "check the disk and its free room, then check the logbook",
    ),
    sqlite3.SQLITE_CONSTRAINT: (
        "the entry contradicts what stands in it",
        "check the tub, the skull and the times",
    ),
}

NO_TEXT = "Could not decode to UTF-8"  # Python's sqlite3, of a column's text


@contextmanager
def in_clear_words(path: Path) -> Iterator[None]:
    """Raise SQLite's foreseen failures on the logbook `path` as LogbookError.

    Raises
    ------
    LogbookError
        When the disk is full, the file is read-only, damaged, busy or no logbook.
    """
    try:
        yield
    except (sqlite3.Error, UnicodeDecodeError) as error:
        code = _code_of(error)
        if code not in WORDS:
            raise
        problem, hint = WORDS[code]
        kind = DamagedLogbookError if code == sqlite3.SQLITE_CORRUPT else LogbookError
        raise kind(f"the logbook {path}: {problem} ({error})", hint=hint) from error


def _code_of(error: sqlite3.Error | UnicodeDecodeError) -> int:
    """Return the result code that has words; text that is no UTF-8 has none, and is damage too."""
    if isinstance(error, UnicodeDecodeError) or NO_TEXT in str(error):
        return sqlite3.SQLITE_CORRUPT
    code: int = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR)
    return code if code in WORDS else code & 0xFF
