"""A mark that moves with every change of the logbook, so that others know what is out of date."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greasecheck.logbook.store.book import Logbook


def logbook_mark(book: Logbook) -> tuple[int | None, ...]:
    """Return a mark that differs after any entry, correction, photo or undoing.

    Parameters
    ----------
    book : Logbook
        Where to look.
    """
    [mark] = book.rows("SELECT max(number) FROM links")  # each of them writes a link
    return mark
