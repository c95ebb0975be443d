"""Corrections of readings: the old value stays to be seen, and nothing is deleted."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.readings.checks import store_checks
from greasecheck.logbook.readings.readings import reading_values
from greasecheck.logbook.records import Correction
from greasecheck.logbook.skulls.skulls import require_skull
from greasecheck.logbook.store.mapping import select, stored
from greasecheck.logbook.store.tables import CORRECTIONS, READINGS
from greasecheck.logbook.store.times import now, to_text
from greasecheck.logbook.water.baths import ensure_tub, require_possible_time

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from greasecheck.logbook.records import LoggedReading
    from greasecheck.logbook.store.book import Entry, Logbook
    from greasecheck.logbook.store.columns import Value
    from greasecheck.model import Reading


def mark_wrong(book: Logbook, key: str, *, wrong: bool = True, why: str | None = None) -> None:
    """Mark the reading under `key` wrong, so that it is used for nothing, or right again."""
    with book.entry(f"reading marked {'wrong' if wrong else 'right'}") as entry:
        add_correction(entry, key, {"wrong": stored(wrong)}, why)


def move_to_tub(book: Logbook, key: str, tub: int, why: str | None = None) -> None:
    """Record that the reading under `key` was of another tub: the wrong tag hung in the slot."""
    with book.entry(f"reading moved to tub {tub}") as entry:
        ensure_tub(entry, tub)
        add_correction(entry, key, {"tub": tub}, why)


def shift_readings(
    book: Logbook, readings: Sequence[LoggedReading], shift: timedelta, why: str | None = None
) -> None:
    """Move the times of `readings` by `shift`, for a camera whose clock was wrong.

    Raises
    ------
    LogbookError
        When one would then lie in the future; none is moved.
    """
    with book.entry(f"time of {len(readings)} reading(s) moved by {shift}") as entry:
        for reading in readings:
            taken_at = reading.taken_at + shift
            require_possible_time(taken_at)
            add_correction(entry, reading.key, {"taken_at": to_text(taken_at)}, why)


def renew_reading(entry: Entry, reading: Reading, tub: int, skull: str | None) -> bool:
    """Correct a logged photo's reading to what is measured now; return whether its tub is new.

    It is right again if it was marked wrong; `skull` is kept when None.

    Raises
    ------
    LogbookError
        When there is no such reading, a value is not allowed, or `skull` is unknown.
    """
    if skull is not None:
        require_skull(entry, skull)
    new_tub = ensure_tub(entry, tub)
    checks = store_checks(entry, reading.checks)
    named = {} if skull is None else {"skull": skull}
    changes = {**reading_values(reading), **checks, **named, "tub": tub, "wrong": 0}
    add_correction(entry, reading.key, changes, "measured again")
    return new_tub


def add_correction(
    entry: Entry, key: str, changes: Mapping[str, Value], why: str | None = None
) -> None:
    """Change columns of the reading under `key` within an entry, keeping what stood there.

    Raises
    ------
    LogbookError
        When there is no such reading or a value is not allowed.
    """
    row = entry.row(READINGS, (key,))
    if row is None:
        raise LogbookError(
            f"there is no reading under the key {key}", hint="see the tub's readings"
        )
    before = dict(zip(READINGS.names, row, strict=True))
    changed = {name: value for name, value in changes.items() if before[name] != value}
    for name, value in changed.items():
        _note_correction(entry, key, name, (before[name], value), why)
    if changed:
        entry.update(READINGS, (key,), changed)


def corrections_of(book: Logbook, tub: int) -> tuple[Correction, ...]:
    """Return the corrections of the readings of `tub`, oldest first for each reading."""
    rest = """WHERE reading_key IN (SELECT key FROM readings WHERE tub = ?)
        ORDER BY reading_key, number"""
    return select(book, Correction, CORRECTIONS, rest, (tub,))


def _note_correction(
    entry: Entry, key: str, name: str, values: tuple[Value, Value], why: str | None
) -> None:
    column = READINGS.column(name)
    before, after = (column.written(value) or None for value in values)
    entry.insert(
        CORRECTIONS,
        {
            "reading_key": key,
            "number": 1 + entry.count(CORRECTIONS, "reading_key", key),
            "made_at": to_text(now()),
            "field": name,
            "before": before,
            "after": after,
            "why": why,
        },
    )
