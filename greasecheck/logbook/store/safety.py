"""Keeps a season safe: backup while in use, restore, and a check of the file's health."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.chain import chain_faults
from greasecheck.logbook.store.drafts import PRIVATE_FILE, draft_folder, make_private_folder
from greasecheck.logbook.store.faults import DamagedLogbookError, in_clear_words
from greasecheck.logbook.store.file import (
    fsync_folder,
    migrate,
    migrations,
    name_without_overwriting,
    true_file,
)
from greasecheck.logbook.store.last_link import SUFFIX, missing_after, note_last_link
from greasecheck.logbook.store.times import now

if TYPE_CHECKING:
    from collections.abc import Iterator

SCHEMA = "SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY type, name"
MISSING = "entries after link {last} of the chain are missing"


def back_up(book: Logbook, target: Path) -> None:
    """Copy the logbook, as it stands now, to one new file; it may be in use meanwhile.

    Raises
    ------
    LogbookError
        When `target` exists, cannot be written, or the copy is not sound; then there is none.
    """
    if target.exists():
        raise LogbookError(f"{target} exists already", hint="name a new file for the backup")
    _refuse_incomplete(book)
    try:
        make_private_folder(target.parent)
        with draft_folder(target.parent) as folder:
            copy = folder / target.name
            with in_clear_words(target):
                _copy(book.connection, copy)
            copy.replace(target)
        fsync_folder(target.parent)
    except OSError as error:
        raise LogbookError(
            f"cannot write the backup {target}: {error.strerror or error}",
            hint="name a file in a folder that may be written to, on a disk with room",
        ) from error


def restore(backup: Path, path: Path) -> Path | None:
    """Make the logbook at `path` what it was in `backup`; what stood there is kept aside.

    Parameters
    ----------
    backup : pathlib.Path
        A file that `back_up` wrote.
    path : pathlib.Path
        Where the logbook is to be.

    Returns
    -------
    pathlib.Path or None
        Where the logbook that stood at `path` is kept; None when there was none.

    Raises
    ------
    LogbookError
        When the backup is not sound or the disk refuses; then `path` is as it was.
    """
    path = true_file(path)
    try:
        if not backup.is_file():
            raise LogbookError(f"there is no backup {backup}", hint="check its name")
        make_private_folder(path.parent)
        with draft_folder(path.parent) as folder:
            # The backup may lie where nothing can be written, which SQLite does not like.
            copy = shutil.copyfile(backup, folder / backup.name)
            _refuse_unsound(copy, backup)
            _settle(copy)
            return _restore_sound(copy, path)
    except OSError as error:
        raise LogbookError(
            f"cannot restore to {path}: {error.strerror or error}",
            hint="allow writing to its folder and make room on the disk",
        ) from error


def faults(book: Logbook) -> tuple[str, ...]:
    """Return what is wrong inside the file; nothing for a sound one.

    The pages and references as SQLite sees them, the schema, the rows against the chain of
    entries, and whether the last entries are there.
    """
    return tuple(_faults(book))


def accept(book: Logbook) -> tuple[str, ...]:
    """Take what stands in the file as right from now on; return the faults that are left.

    For a file of which no backup is at hand: rows that differ from the chain are linked as they
    are, by an entry of their own, and the note of the last entry begins anew. A broken chain and
    damaged pages stay faults.
    """
    with book.entry("accepted the logbook as it stands") as entry:
        entry.accept_rows()
    note_last_link(book.connection, book.path, anew=True)
    return faults(book)


def _faults(book: Logbook) -> Iterator[str]:
    try:
        for (line,) in book.rows("PRAGMA integrity_check"):
            if line != "ok":
                yield line
        for table, row, parent, _ in book.rows("PRAGMA foreign_key_check"):
            yield f"row {row} of {table} refers to a missing row of {parent}"
        if book.rows(SCHEMA) != _fresh_schema():
            yield "its tables are not those that greasecheck makes"
        with in_clear_words(book.path):
            yield from chain_faults(book.connection)
            last = missing_after(book.connection, book.path)
        if last is not None:
            yield MISSING.format(last=last)
    except LogbookError as error:
        yield error.problem


def _fresh_schema() -> list[tuple[str, ...]]:
    """Return the SQL of the tables and indexes of a new logbook."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as fresh:
        migrate(fresh, migrations(), Path(":memory:"))
        return fresh.execute(SCHEMA).fetchall()


def _copy(source: sqlite3.Connection, target: Path) -> None:
    with closing(sqlite3.connect(target)) as copy:
        source.backup(copy)
    with Logbook(target) as book:
        _refuse_faults(book)
    with closing(sqlite3.connect(target)) as copy:
        # Whole in one file, which can be read where nothing can be written.
        copy.execute("PRAGMA journal_mode = DELETE")
    _settle(target)


def _settle(file: Path) -> None:
    """Make a file its owner's alone, and its content last through a power cut."""
    file.chmod(PRIVATE_FILE)
    with file.open("rb+") as opened:
        os.fsync(opened.fileno())


def _refuse_faults(book: Logbook) -> None:
    found = faults(book)
    if found:
        raise DamagedLogbookError(
            f"{book.path} is damaged: {found[0]}", hint="use an older backup, and check the disk"
        )


def _refuse_incomplete(book: Logbook) -> None:
    """Refuse to back up a logbook whose last entries were lost; the copy would hide it."""
    with in_clear_words(book.path):
        last = missing_after(book.connection, book.path)
    if last is not None:
        raise DamagedLogbookError(
            f"{book.path}: {MISSING.format(last=last)}",
            hint="restore a newer backup, or take what is left as right: accept it",
        )


def _refuse_unsound(copy: Path, backup: Path) -> None:
    """Refuse a copy that is no sound logbook, under the name of the backup."""
    try:
        with Logbook(copy) as book:
            _refuse_faults(book)
    except LogbookError as error:
        problem = error.problem.replace(str(copy), str(backup))
        raise type(error)(problem, hint="name another backup") from error


def _restore_sound(copy: Path, path: Path) -> Path | None:
    """Put a sound copy, which lies on the same disk, in the place of the logbook."""
    kept = _set_aside(path) if path.exists() else None
    if path.exists():
        _overwrite(copy, path)
    elif not name_without_overwriting(copy, path):
        raise LogbookError(f"another program made the logbook {path} meanwhile", hint="try again")
    with Logbook(path) as restored:
        note_last_link(restored.connection, path, anew=True)
    return kept


def _set_aside(path: Path) -> Path:
    """Keep the logbook at `path` under another name; a damaged one is moved there."""
    aside = path.with_name(f"{path.name}.before-restore-{now():%Y%m%dT%H%M%SZ}")
    try:
        with Logbook(path) as book:
            back_up(book, aside)
    except DamagedLogbookError:
        _move_with_its_log(path, aside)
    return aside


def _move_with_its_log(path: Path, aside: Path) -> None:
    for suffix in ("-wal", "-shm", SUFFIX, ""):
        piece = path.with_name(path.name + suffix)
        if piece.exists():
            piece.rename(aside.with_name(aside.name + suffix))


def _overwrite(copy: Path, path: Path) -> None:
    """Copy into the file in one transaction, so that whoever has it open sees old or new."""
    with Logbook(copy) as source, Logbook(path) as book, in_clear_words(path):
        source.connection.backup(book.connection)
