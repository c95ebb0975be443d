"""Keeps what took long to work out of soaks; nothing is lost without it."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from greasecheck.logbook.store.book import Logbook


def kept_facts(book: Logbook) -> dict[str, str]:
    """Return all that is kept, by its key."""
    return dict(book.rows("SELECT key, facts FROM soak_facts"))


def keep_facts(book: Logbook, facts: Mapping[str, str]) -> None:
    """Keep facts, each under its key; a logbook that cannot be written to keeps none."""
    if not facts:
        return
    with suppress(LogbookError), book.transaction() as connection:
        connection.executemany(
            "INSERT OR REPLACE INTO soak_facts (key, facts) VALUES (?, ?)", facts.items()
        )
