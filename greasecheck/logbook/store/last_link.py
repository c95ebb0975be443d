"""The last link of the chain, noted in a small file beside the logbook after each entry.

Whoever deletes the write-ahead log, or puts an older copy of the file in its place, leaves a sound
file that lacks the last entries: the note shows it. It is written after the entry is safe, so
a note that is behind proves nothing; one that is damaged or missing is left out of account.
"""

from __future__ import annotations

import os
import re
from contextlib import suppress
from typing import TYPE_CHECKING

from greasecheck.logbook.store.chain import Head, head_of

if TYPE_CHECKING:
    import sqlite3
    from pathlib import Path


SUFFIX = ".last"
FORM = re.compile(rb"(\d{16}) ([0-9a-f]{64})\n")


def note_path(path: Path) -> Path:
    """Return where the last link of the logbook `path` is noted."""
    return path.with_name(path.name + SUFFIX)


def note_last_link(connection: sqlite3.Connection, path: Path, *, anew: bool = False) -> None:
    """Note the last link of the logbook, unless the chain lacks the one that is noted.

    Parameters
    ----------
    connection : sqlite3.Connection
        The logbook's connection.
    path : pathlib.Path
        Its file.
    anew : bool
        Whether to note it even then, after a restore.
    """
    if not anew and missing_after(connection, path) is not None:
        return
    head = head_of(connection)
    with suppress(OSError):  # a note that is behind proves nothing, and the entry is safe
        # One short write in place: a kill leaves the old note or the new one.
        descriptor = os.open(note_path(path), os.O_WRONLY | os.O_CREAT, 0o600)
        try:
            os.write(descriptor, b"%016d %s\n" % (head.number, head.digest.encode()))
        finally:
            os.close(descriptor)


def missing_after(connection: sqlite3.Connection, path: Path) -> int | None:
    """Return the number of the last link that is left, when later ones are missing; else None."""
    noted = _read(path)
    if noted is None or noted.number == 0:
        return None
    found = connection.execute("SELECT digest FROM links WHERE number = ?", (noted.number,))
    if found.fetchone() == (noted.digest,):
        return None
    return head_of(connection).number


def _read(path: Path) -> Head | None:
    try:
        found = FORM.fullmatch(note_path(path).read_bytes())
    except OSError:
        return None
    return Head(int(found[1]), found[2].decode()) if found else None
