"""Opens the file of a logbook: made whole or not at all, brought up to date, strangers refused."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.store.chain import lost_rows, take_up
from greasecheck.logbook.store.drafts import (
    PREFIX,
    PRIVATE_FILE,
    draft_folder,
    make_private_folder,
    whole_file,
)
from greasecheck.logbook.store.faults import DamagedLogbookError, in_clear_words
from greasecheck.logbook.store.tables import TABLES
from greasecheck.logbook.store.times import to_text
from greasecheck.reference.folder import plain_file

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

    from greasecheck.logbook.store.table import Table

# Marks the file as a logbook: bytes 68 to 71 of the header, https://www.sqlite.org/fileformat2.html
APPLICATION_ID = int.from_bytes(b"Grsk")
MAGIC = b"SQLite format 3\x00"
HEADER_BYTES = 100
WAIT_FOR_OTHERS_S = 30.0
MIGRATION = 0  # stands for an entry in the links that a newer schema adds
MIGRATIONS = Path(__file__).parent / "migrations"


def true_file(path: Path) -> Path:
    """Return the file that a link leads to: what is kept beside a logbook lies beside that.

    A link to nowhere stays one.
    """
    return path.resolve() if path.is_symlink() and path.exists() else path


def connect(path: Path, *, create: bool = False) -> sqlite3.Connection:
    """Open the logbook at `path`, bringing an older schema up to date.

    One that may not be written to, such as a backup on a locked card, is read into memory.

    Parameters
    ----------
    path : pathlib.Path
        The file.
    create : bool
        Whether to make it when there is none.

    Raises
    ------
    LogbookError
        When there is none, it is no logbook, is cut short, comes from a newer greasecheck, or
        the disk refuses.
    """
    with in_clear_words(path):
        if create and not path.exists():
            _make(path)
        _refuse_strangers(path)
        writable = os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)
        return _open_existing(path) if writable else _open_read_only(path)


def migrations() -> tuple[str, ...]:
    """Return the SQL of each migration; the n-th takes schema n - 1 to schema n."""
    return tuple(path.read_text(encoding="utf-8") for path in sorted(MIGRATIONS.glob("*.sql")))


def migrate(connection: sqlite3.Connection, scripts: Sequence[str], path: Path) -> None:
    """Bring the schema up to the last of `scripts`, all of it or nothing.

    An older logbook is first copied to a file beside it.

    Raises
    ------
    LogbookError
        When the schema is newer than the last script.
    """
    version = schema_version(connection)
    if version > len(scripts):
        raise LogbookError(
            f"the logbook {path} was written by a newer greasecheck (schema {version})",
            hint="install the newest greasecheck",
        )
    if version == len(scripts):
        return
    if version:
        _keep_copy(connection, path.with_name(f"{path.name}.schema{version}"))
    _run_migrations(connection, scripts)


def hide_later(connection: sqlite3.Connection, at: datetime) -> None:
    """Hide what came after a time from the connection's queries.

    Views of the tables' names stand before them (https://www.sqlite.org/lang_naming.html): a
    query reads the views, and only what is called ``main.`` and its name is the whole table.

    Parameters
    ----------
    connection : sqlite3.Connection
        The logbook's; nothing can be entered through it any more.
    at : datetime.datetime
        Zone-aware; what happened at that very second is seen.
    """
    until = f"'{to_text(at)}'"
    [locked] = connection.execute("PRAGMA query_only").fetchone()
    connection.execute("PRAGMA query_only = OFF")
    for table in TABLES:
        _view(connection, table.name, _columns_until(table, until), table.happened, until)
    _view(connection, "kept_answers", "*", "made_at", until)
    connection.execute(f"PRAGMA query_only = {locked}")


def _columns_until(table: Table, until: str) -> str:
    names = (
        f"CASE WHEN {name} <= {until} THEN {name} END AS {name}"
        if name == table.blank_until
        else name
        for name in (*table.names, "entry_id")
    )
    return ", ".join(names)


def _view(
    connection: sqlite3.Connection, name: str, columns: str, happened: str | None, until: str
) -> None:
    known = "" if happened is None else f" WHERE {happened} <= {until}"
    connection.execute(f"CREATE TEMP VIEW {name} AS SELECT {columns} FROM main.{name}{known}")


def schema_version(connection: sqlite3.Connection) -> int:
    """Return the number of the schema the file holds."""
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    return version


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """Write everything done on the connection in the `with` block, or nothing of it."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:  # a full disk rolls back by itself
            connection.execute("ROLLBACK")
        raise


@contextmanager
def _making(path: Path) -> Iterator[None]:
    """Say in words that a new logbook cannot be made at `path`."""
    try:
        yield
    except OSError as error:
        raise LogbookError(
            f"cannot make the logbook {path}: {error.strerror or error}",
            hint="allow writing to its folder, or name another place for the logbook",
        ) from error


@contextmanager
def drafted(path: Path) -> Iterator[Path]:
    """Give a place beside `path` for a new logbook to be made whole; what gets no name goes.

    Raises
    ------
    LogbookError
        When the disk refuses, or the name is that of a link to nowhere.
    """
    if path.is_symlink() and not path.exists():
        raise LogbookError(
            f"the logbook {path} is a link to {path.readlink()}, which is not there",
            hint="bring that file or its disk back, or name another place for the logbook",
        )
    with ExitStack() as stack:
        with _making(path):
            make_private_folder(path.parent)
            folder = stack.enter_context(draft_folder(path.parent))
        yield folder / path.name


def name_without_overwriting(fresh: Path, path: Path) -> bool:
    """Give a file its name; return False, and leave it, where another process took that first.

    Raises
    ------
    LogbookError
        When the disk refuses.
    """
    with _making(path):
        try:
            os.link(fresh, path)
        except FileExistsError:
            return False
        except OSError:  # a file system without hard links
            if path.exists():
                return False
            fresh.rename(path)
        fresh.unlink(missing_ok=True)
        fsync_folder(path.parent)
    return True


def fsync_folder(folder: Path) -> None:
    """Make a rename in `folder` last through a power cut, where the system can."""
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _run_migrations(connection: sqlite3.Connection, scripts: Sequence[str]) -> None:
    with transaction(connection):
        # Another process may have migrated while this one waited for the lock.
        begun = schema_version(connection)
        spoilt = lost_rows(connection) if _has_chain(connection) else frozenset()
        for number in range(begun, len(scripts)):
            for statement in _statements(scripts[number]):
                connection.execute(statement)
            connection.execute(f"PRAGMA user_version = {number + 1}")
        if begun and _has_chain(connection):
            take_up(connection, MIGRATION, spoilt)


def _has_chain(connection: sqlite3.Connection) -> bool:
    sql = "SELECT count(*) FROM sqlite_schema WHERE name = 'links'"
    return bool(connection.execute(sql).fetchone()[0])


def _statements(script: str) -> Iterator[str]:
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""


def _keep_copy(connection: sqlite3.Connection, copy: Path) -> None:
    if copy.exists():
        return
    with whole_file(copy) as draft:
        connection.execute("VACUUM INTO ?", (str(draft),))
        draft.chmod(PRIVATE_FILE)


def _make(path: Path) -> None:
    """Make an empty logbook under another name, then give it its own: a kill leaves none or all."""
    with drafted(path) as fresh:
        with _making(path):
            _fill_new(fresh)
        name_without_overwriting(fresh, path)


def _fill_new(path: Path) -> None:
    connection = sqlite3.connect(path, isolation_level=None)
    try:
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        migrate(connection, migrations(), path)
    finally:
        connection.close()
    path.chmod(PRIVATE_FILE)


def _refuse_strangers(path: Path) -> None:
    try:
        with plain_file(path).open("rb") as file:
            header = file.read(HEADER_BYTES)
    except FileNotFoundError as error:
        raise LogbookError(
            f"there is no logbook at {path}",
            hint="start one with its first tub, or name another file",
        ) from error
    except OSError as error:
        raise LogbookError(
            f"cannot read the logbook {path}: {error.strerror}",
            hint="check that it is a file you may read, or name another file",
        ) from error
    if not header:
        raise DamagedLogbookError(
            f"the file {path} is empty",
            hint="delete it, then start one with its first tub; if it was a logbook, restore the "
            "latest backup",
        )
    if header[: len(MAGIC)] != MAGIC[: len(header)]:
        raise LogbookError(f"{path} is no logbook", hint="name the right file of the logbook")
    # Asked twice, as another process may just be writing the file's end.
    if len(header) < HEADER_BYTES or all(_is_cut_short(path) for _ in range(2)):
        raise DamagedLogbookError(
            f"the logbook {path} is cut short",
            hint="restore the latest backup",
        )


def _is_cut_short(path: Path) -> bool:
    """Whether the file holds less than its header tells."""
    if not _is_settled(path):
        return False
    with path.open("rb") as file:
        header = file.read(HEADER_BYTES)
    return path.stat().st_size < _promised_size(header)


def _is_settled(path: Path) -> bool:
    """Whether no write-ahead log waits beside the file, so that its header tells its size."""
    try:
        return path.with_name(path.name + "-wal").stat().st_size == 0
    except FileNotFoundError:
        return True


def _promised_size(header: bytes) -> int:
    """Return the size [bytes] that the header tells; a page size of 1 stands for 65536."""
    page_size = int.from_bytes(header[16:18])
    pages = int.from_bytes(header[28:32])
    return pages * (65536 if page_size == 1 else page_size)


def _open_existing(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(
        f"{path.resolve().as_uri()}?mode=rw",
        uri=True,
        isolation_level=None,
        timeout=WAIT_FOR_OTHERS_S,
    )
    with _closed_on_error(connection):
        _refuse_unmarked(path, connection)
        _set_up(connection)
        migrate(connection, migrations(), path)
    return connection


def _open_read_only(path: Path) -> sqlite3.Connection:
    """Return what stands in a file that may not be written to, in memory, for reading alone."""
    memory = sqlite3.connect(":memory:", isolation_level=None)
    with _closed_on_error(memory), tempfile.TemporaryDirectory(prefix=PREFIX) as folder:
        copy = Path(folder) / "copy"
        for suffix in ("", "-wal"):  # what waits in a write-ahead log belongs to it
            piece = path.with_name(path.name + suffix)
            if piece.exists():
                shutil.copyfile(piece, copy.with_name(copy.name + suffix))
        with closing(sqlite3.connect(copy)) as source:
            _refuse_unmarked(path, source)
            source.backup(memory)
        if schema_version(memory) < len(migrations()):
            _run_migrations(memory, migrations())
        migrate(memory, migrations(), path)  # refuses a newer one
        memory.execute("PRAGMA query_only = ON")
    return memory


@contextmanager
def _closed_on_error(connection: sqlite3.Connection) -> Iterator[None]:
    try:
        yield
    except BaseException:
        connection.close()
        raise


def _refuse_unmarked(path: Path, connection: sqlite3.Connection) -> None:
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise LogbookError(
            f"{path} is a database, but no logbook", hint="name the right file of the logbook"
        )


def _set_up(connection: sqlite3.Connection) -> None:
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA synchronous = FULL")
