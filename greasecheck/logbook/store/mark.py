"""A mark that moves with every change of the logbook, so that others know what is out of date."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook

# Entries, undoing them, corrections, and rows that a run of photos adds to an entry it began.
SQL = """SELECT (SELECT max(id) FROM entries), (SELECT count(undone_at) FROM entries),
    (SELECT max(id) FROM before_images), (SELECT max(rowid) FROM readings),
    (SELECT max(rowid) FROM attempts)"""


def logbook_mark(book: Logbook) -> tuple[int | None, ...]:
    """Return a mark that differs after any entry, correction, photo or undoing.

    Parameters
    ----------
    book : Logbook
        Where to look.
    """
    [mark] = book.rows(SQL)
    return mark
