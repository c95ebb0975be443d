"""What happened to skulls, in order, and their stays in tubs."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise, zip_longest
from typing import TYPE_CHECKING

from greasecheck.logbook.records import SkullEvent
from greasecheck.logbook.store.mapping import select
from greasecheck.logbook.store.tables import SKULL_EVENTS
from greasecheck.stages import EventKind

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.logbook.store.book import Logbook

INTO_A_TUB = (EventKind.ENTERED, EventKind.MOVED, EventKind.RESOAKED)
# SQL that selects skulls; the last kind of event stands behind the 20 characters of its time.
EVERY_SKULL = "SELECT name FROM skulls WHERE merged_into IS NULL"
LAST_INTO_A_TUB = f"""GROUP BY skull
    HAVING substr(max(happened_at || kind), 21) IN ({", ".join(f"'{k}'" for k in INTO_A_TUB)})"""
SOAKING_NOW = f"SELECT skull FROM skull_events {LAST_INTO_A_TUB}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """A skull's time in one tub.

    `until` is None while it soaks there; `soak_since` is when the soak began, in whatever tub;
    `degreased` is True when the stay ended because the skull was done.
    """

    skull: str
    tub: int
    since: datetime
    until: datetime | None
    soak_since: datetime
    degreased: bool


def skull_events(book: Logbook, name: str) -> tuple[SkullEvent, ...]:
    """Return what happened to the skull called `name`, oldest first."""
    rest = "WHERE skull = ? ORDER BY happened_at, kind"
    return select(book, SkullEvent, SKULL_EVENTS, rest, (name,))


def present_events(book: Logbook, tub: int) -> tuple[SkullEvent, ...]:
    """Return what happened to skulls that were ever in a tub and soak now, as `every_event`."""
    ever = f"SELECT skull FROM skull_events WHERE tub = {int(tub)}"
    which = f"SELECT skull FROM skull_events WHERE skull IN ({ever}) {LAST_INTO_A_TUB}"
    return _events_of(book, which)


def stays_of(book: Logbook, name: str) -> tuple[Stay, ...]:
    """Return the stays in tubs of the skull called `name`, oldest first."""
    return stays_among(skull_events(book, name))


def stays_in(book: Logbook, tub: int) -> tuple[Stay, ...]:
    """Return all stays of the skulls that ever soaked in a tub, skull by skull, oldest first."""
    return stays_among(_events_of(book, f"SELECT skull FROM skull_events WHERE tub = {int(tub)}"))


def every_event(book: Logbook) -> tuple[SkullEvent, ...]:
    """Return what happened to all skulls, skull by skull, oldest first."""
    return _events_of(book, EVERY_SKULL)


def _events_of(book: Logbook, which: str) -> tuple[SkullEvent, ...]:
    """Return the events of the skulls that SQL selects, skull by skull, oldest first."""
    rest = f"WHERE skull IN ({which}) ORDER BY skull, happened_at, kind"
    return select(book, SkullEvent, SKULL_EVENTS, rest)


def stays_among(events: Sequence[SkullEvent]) -> tuple[Stay, ...]:
    """Return the stays among events; events as `every_event` gives them."""
    found: list[Stay] = []
    for event, following in zip_longest(events, events[1:]):
        if event.kind in INTO_A_TUB and event.tub is not None:
            found.append(_stay(event, event.tub, following, found[-1] if found else None))
    return tuple(found)


def _stay(event: SkullEvent, tub: int, following: SkullEvent | None, before: Stay | None) -> Stay:
    goes_on = (
        event.kind is EventKind.MOVED
        and before is not None
        and (before.skull, before.until) == (event.skull, event.happened_at)
    )
    end = following if following and following.skull == event.skull else None
    return Stay(
        skull=event.skull,
        tub=tub,
        since=event.happened_at,
        until=end.happened_at if end else None,
        soak_since=before.soak_since if before and goes_on else event.happened_at,
        degreased=end is not None and end.kind is EventKind.DEGREASED,
    )


def ever_happened(book: Logbook, kind: EventKind, *, before_entry: int | None = None) -> bool:
    """Return whether a kind of event is entered of any skull, before an entry if given."""
    until = "" if before_entry is None else f" AND entry_id < {before_entry:d}"
    sql = f"SELECT 1 FROM skull_events WHERE kind = ?{until} LIMIT 1"
    return bool(book.rows(sql, (kind,)))


def idle_moves(events: Sequence[SkullEvent]) -> tuple[SkullEvent, ...]:
    """Return the moves into the very tub that the skull lay in; events as `every_event` gives."""
    return tuple(
        after
        for before, after in pairwise(events)
        if after.kind is EventKind.MOVED and (before.skull, before.tub) == (after.skull, after.tub)
    )


def soaking(book: Logbook) -> tuple[Stay, ...]:
    """Return the stays that have not ended: what soaks where, and since when in that tub."""
    return tuple(stay for stay in stays_among(_events_of(book, SOAKING_NOW)) if stay.until is None)


def skulls_in(book: Logbook, tub: int, at: datetime) -> tuple[str, ...]:
    """Return the skulls that lay in a tub at a time."""
    return tuple(
        stay.skull
        for stay in stays_in(book, tub)
        if stay.tub == tub and stay.since <= at and (stay.until is None or at <= stay.until)
    )


def rinse_soaks(book: Logbook) -> frozenset[tuple[str, datetime]]:
    """Return the present soaks right after a whitening, which draw no grease: skull, since when."""
    return rinses_among(_events_of(book, SOAKING_NOW))


def rinses_among(events: Sequence[SkullEvent]) -> frozenset[tuple[str, datetime]]:
    """Return which soaks among events follow a whitening; events as `every_event` gives them."""
    return frozenset(
        (after.skull, after.happened_at)
        for before, after in pairwise(events)
        if before.skull == after.skull
        and (before.kind, after.kind) == (EventKind.WHITENED, EventKind.RESOAKED)
    )
