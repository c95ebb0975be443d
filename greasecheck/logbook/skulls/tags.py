"""Which skull bears a tag, and where it was soaking or soaked last."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.store.tables import SKULLS
from greasecheck.logbook.store.times import to_text
from greasecheck.stages import EventKind

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.logbook.store.book import Entry, Logbook


def skull_with_tag(book: Logbook, tag: int) -> str | None:
    """Return the name of the skull that bears a tag; None when none does."""
    found = book.rows("SELECT name FROM skulls WHERE tag = ? AND merged_into IS NULL", (tag,))
    return found[0][0] if found else None


def last_tub(book: Logbook, skull: str, at: datetime) -> int | None:
    """Return the tub that a skull went into last before a time; None when it was in none."""
    found = book.rows(
        """SELECT tub FROM skull_events WHERE skull = ? AND tub IS NOT NULL AND happened_at <= ?
        ORDER BY happened_at DESC LIMIT 1""",
        (skull, to_text(at)),
    )
    return found[0][0] if found else None


def take_tag(book: Logbook, entry: Entry, tag: int, skull: str) -> None:
    """Free a tag for a skull: one that was returned to its owner gives it up.

    Raises
    ------
    LogbookError
        When another skull, not yet returned, bears it.
    """
    others = "SELECT name FROM skulls WHERE tag = ? AND name != ? AND merged_into IS NULL"
    for (other,) in book.rows(others, (tag, skull)):
        events = book.rows(
            "SELECT kind FROM skull_events WHERE skull = ? ORDER BY happened_at DESC LIMIT 1",
            (other,),
        )
        if not events or events[0][0] != EventKind.RETURNED:
            raise LogbookError(
                f"skull {other} bears tag {tag}", hint="give this skull another number"
            )
        entry.update(SKULLS, (other,), {"tag": None})
