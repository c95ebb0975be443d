"""Dates that contradict each other: said, never refused, since either may be the right one."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import TYPE_CHECKING

from greasecheck.logbook.readings.readings import list_readings
from greasecheck.logbook.records import Bath, LoggedReading, SkullEvent, Tub
from greasecheck.logbook.skulls.stays import INTO_A_TUB, stays_in
from greasecheck.logbook.store.columns import Kind
from greasecheck.logbook.store.mapping import select
from greasecheck.logbook.store.tables import BATHS, READINGS, SKULL_EVENTS, TABLES, TUBS
from greasecheck.logbook.store.times import from_text
from greasecheck.logbook.water.baths import bath_at, list_baths, tub_start
from greasecheck.words.times import age, day_words
from greasecheck.words.typed_times import shown_again

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime
    from typing import TypeVar

    from greasecheck.logbook.store.book import Logbook
    from greasecheck.logbook.store.table import Table

    RecordT = TypeVar("RecordT")

NEAR = timedelta(days=1)  # of a skull and its first bath only the day may be entered
OLD_WATER = timedelta(days=30)  # it is changed every few days; common practice, no source
# What of a row says when and where: an entry that changes nothing of it makes no slip.
OF_DAYS = {
    READINGS.name: {"taken_at", "tub", "wrong"},
    BATHS.name: {"filled_at", "tub"},
    SKULL_EVENTS.name: {"happened_at", "kind", "tub"},
    TUBS.name: {"started_at"},
}
EARLY = """SELECT tub, count(*) FROM readings JOIN (
        SELECT tub AS its, min(time) AS first FROM (
            SELECT number AS tub, started_at AS time FROM tubs
            UNION ALL SELECT tub, filled_at FROM baths)
        GROUP BY tub) ON its = tub
    WHERE readings.entry_id = ? AND NOT wrong AND taken_at < first GROUP BY tub ORDER BY tub"""


def entry_slips(book: Logbook, number: int | None) -> tuple[str, ...]:
    """Return which dates of an entry contradict others, in words that name both.

    A reading or a skull before the first day of its tub, a filling before the tub's first day of
    use, a skull in water that was old by then.

    Parameters
    ----------
    book : Logbook
        Where to look.
    number : int or None
        Number of the entry; nothing is found for None.
    """
    readings = _touched(book, LoggedReading, READINGS, number)
    baths = _touched(book, Bath, BATHS, number)
    events = _touched(book, SkullEvent, SKULL_EVENTS, number)
    tubs = {one.number for one in _touched(book, Tub, TUBS, number)} | {one.tub for one in baths}
    found = (
        *(words for one in readings if not one.wrong for words in _of_reading(book, one)),
        *(words for tub in sorted(tubs) for words in _of_first_day(book, tub)),
        *(words for one in baths for words in _of_bath(book, one)),
        *(words for one in events if one.kind in INTO_A_TUB for words in _of_event(book, one)),
    )
    return tuple(dict.fromkeys(found))


def early_readings(book: Logbook, number: int | None) -> dict[int, int]:
    """Return how many readings of an entry lie before the first day of their tub, by tub."""
    return dict(book.rows(EARLY, (number,)))


def doubled_hours(book: Logbook, number: int) -> tuple[str, ...]:
    """Return which times of an entry clocks here showed twice, in words: the first is taken."""
    times = {time for table in TABLES for time in _times(book, table, number)}
    return tuple(
        f"clocks showed {_when(one)} twice, and the first is taken"
        for one in sorted(times)
        if shown_again(one)
    )


def _times(book: Logbook, table: Table, number: int) -> Iterator[datetime]:
    """Yield the times in the rows of a table that an entry added or changed."""
    names = [column.name for column in table.columns if column.kind is Kind.TIME]
    one = " AND ".join(f"{name} = ?" for name in table.key)
    images = "SELECT row_key FROM before_images WHERE entry_id = ? AND table_name = ?"
    changed = [json.loads(key) for (key,) in book.rows(images, (number, table.name))]
    for name in names:
        added = book.rows(f"SELECT {name} FROM {table.name} WHERE entry_id = ?", (number,))
        stands = [book.rows(f"SELECT {name} FROM {table.name} WHERE {one}", key) for key in changed]
        yield from (from_text(time) for rows in (added, *stands) for (time,) in rows if time)


def _touched(
    book: Logbook, record: type[RecordT], table: Table, number: int | None
) -> tuple[RecordT, ...]:
    """Return the rows of a table that an entry added, or changed in what says when and where."""
    added = select(book, record, table, "WHERE entry_id = ?", (number,))
    images = "SELECT row_key, before FROM before_images WHERE entry_id = ? AND table_name = ?"
    one = " AND ".join(f"{name} = ?" for name in table.key)
    changed = [
        row
        for key, before in book.rows(images, (number, table.name))
        if OF_DAYS[table.name] & json.loads(before).keys()
        for row in select(book, record, table, f"WHERE {one}", json.loads(key))
    ]
    return (*added, *changed)


def _of_reading(book: Logbook, reading: LoggedReading) -> Iterator[str]:
    start = tub_start(book, reading.tub)
    if start is not None and reading.taken_at < start:
        yield (
            f"the reading of tub {reading.tub} is of {_when(reading.taken_at)}, before the tub's "
            f"first day, {_when(start)}: it counts for no soak"
        )


def _of_first_day(book: Logbook, number: int) -> Iterator[str]:
    (tub,) = select(book, Tub, TUBS, "WHERE number = ?", (number,))
    first = next(iter(list_baths(book, number)), None)
    if tub.started_at is not None and first is not None and first.filled_at < tub.started_at:
        yield (
            f"tub {number} was filled on {_when(first.filled_at)}, before its first day of use, "
            f"{_when(tub.started_at)}"
        )


def _of_bath(book: Logbook, bath: Bath) -> Iterator[str]:
    """Yield what shows a slip in the date of a bath: skulls that went into old water, or none."""
    following = next((b for b in list_baths(book, bath.tub) if b.filled_at > bath.filled_at), None)
    if following is not None and following.filled_at - bath.filled_at > OLD_WATER:
        yield from _of_idle_water(book, bath, following.filled_at)
    for stay in stays_in(book, bath.tub):
        if stay.tub == bath.tub and bath_at(book, bath.tub, stay.since) == bath:
            yield from _of_age(bath, stay.skull, stay.since)


def _of_idle_water(book: Logbook, bath: Bath, until: datetime) -> Iterator[str]:
    """Yield that nothing lay in a bath until it was changed, and nobody read it."""
    lay = [one for one in stays_in(book, bath.tub) if one.tub == bath.tub and one.since < until]
    used = any(one.until is None or one.until > bath.filled_at for one in lay)
    if not used and not list_readings(book, bath.tub, since=bath.filled_at, until=until):
        yield (
            f"nothing lay in the water of tub {bath.tub} of {_when(bath.filled_at)}, and nobody "
            f"read it, until {_when(until)}, {age(until - bath.filled_at)} later"
        )


def _of_event(book: Logbook, event: SkullEvent) -> Iterator[str]:
    assert event.tub is not None, "it went into one"
    bath, start = bath_at(book, event.tub, event.happened_at), tub_start(book, event.tub)
    if bath is not None:
        yield from _of_age(bath, event.skull, event.happened_at)
    elif start is not None and event.happened_at < start - NEAR:
        yield (
            f"{event.skull} lies in tub {event.tub} from {_when(event.happened_at)} on, before "
            f"the tub's first day, {_when(start)}"
        )


def _of_age(bath: Bath, skull: str, since: datetime) -> Iterator[str]:
    if since - bath.filled_at > OLD_WATER:
        yield (
            f"{skull} lies in tub {bath.tub} from {_when(since)} on, in water of "
            f"{_when(bath.filled_at)}, {age(since - bath.filled_at)} old by then"
        )


def _when(time: datetime) -> str:
    return f"{day_words(time)}, {time.astimezone():%H:%M}"
