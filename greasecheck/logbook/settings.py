"""How the garage is set up: a few named choices, kept like every other entry."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from greasecheck.logbook.store.tables import SETTINGS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from greasecheck.logbook.store.book import Logbook

MOST_PRICE = 1_000_000.0  # of a change or a day, in any money


class Setting(StrEnum):
    """What can be set."""

    PAPER = "paper"
    PRINT_CHECKED = "print_checked"
    MEASURED_BY = "measured_by"
    STAND_CHECKED = "stand_checked"
    TAGS_PRINTED = "tags_printed"
    CHANGE_PRICE = "change_price"
    DAY_PRICE = "day_price"


def put_settings(book: Logbook, chosen: Mapping[Setting, str]) -> None:
    """Set some choices, each of them in the place of the one before."""
    with book.entry(f"set up: {', '.join(name.replace('_', ' ') for name in chosen)}") as entry:
        for name, value in chosen.items():
            entry.put(SETTINGS, {"name": name, "value": value})


def settings_of(book: Logbook) -> dict[Setting, str]:
    """Return what is set."""
    known = {str(name) for name in Setting}
    rows = book.rows("SELECT name, value FROM settings")
    return {Setting(name): value for name, value in rows if name in known}
