"""Finds water changes nobody entered: the haze falls sharply between two readings."""

from __future__ import annotations

import math
from bisect import bisect_left
from datetime import timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.readings.readings import list_readings
from greasecheck.logbook.records import ProbableChange
from greasecheck.logbook.store.tables import DENIALS
from greasecheck.logbook.store.times import from_text, now, to_text
from greasecheck.logbook.water.baths import Filling, change_water
from greasecheck.model import Bound, Verdict

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime

    from greasecheck.logbook.records import Bath, LoggedReading
    from greasecheck.logbook.store.book import Logbook

# A bath's haze rises or rests between changes, so a fall to less than
# 0.6 of it, well clear of both standard errors, wants fresh water. Settling takes less.
FALL_SHARE = 0.6
FALL_STANDARD_ERRORS = 3.0
SMALLEST_FALL_PER_M = 1.5
DOUBTFUL_WIDENING = 3.0
# A change is often entered some hours after the first reading of the fresh bath.
ENTERED_LATE = timedelta(hours=6)
LOOK_BACK = (timedelta(days=60), timedelta(days=700))  # before the whole history is gone through


def probable_changes(
    book: Logbook, tub: int, *, since: datetime | None = None
) -> tuple[ProbableChange, ...]:
    """Return the falls of haze in `tub` from `since` on that no entry explains, oldest first."""
    return changes_among(book, tub, list_readings(book, tub, since=since))


def newest_probable(book: Logbook, tub: int, at: datetime | None = None) -> ProbableChange | None:
    """Return the newest probable change of `tub`, or that at a time; None without one."""
    for span in (*LOOK_BACK, None):
        since = (at or now()) - span if span else None
        found = [
            one
            for one in probable_changes(book, tub, since=since)
            if at is None or one.earliest <= at <= one.latest
        ]
        if found:
            return found[-1]
    return None


def between_readings(book: Logbook, tub: int, at: datetime) -> ProbableChange | None:
    """Return the haze before and after a time as a change that may have been between them.

    None when `at` is not between two readings of the tub.
    """
    hazes = _hazes(list_readings(book, tub))
    place = bisect_left([one.taken_at for one in hazes], at)
    return _fall(*hazes[place - 1 : place + 1]) if 0 < place < len(hazes) else None


def changes_among(
    book: Logbook, tub: int, readings: Sequence[LoggedReading]
) -> tuple[ProbableChange, ...]:
    """Return the falls of haze among some readings of `tub` that no entry explains.

    Parameters
    ----------
    book : Logbook
        Where to look for what explains them.
    tub : int
        Number of the tub.
    readings : sequence of LoggedReading
        The readings, oldest first.
    """
    if not readings:
        return ()
    first = to_text(readings[0].taken_at)
    filled = book.rows("SELECT filled_at FROM baths WHERE tub = ? AND filled_at >= ?", (tub, first))
    return find_changes(
        readings, [from_text(filled_at) for (filled_at,) in filled], denied_spans(book, tub)
    )


def denied_spans(book: Logbook, tub: int) -> tuple[tuple[datetime, datetime], ...]:
    """Return the spans in which, somebody entered, the water of `tub` was not changed."""
    denied = book.rows("SELECT earliest, latest FROM denials WHERE tub = ?", (tub,))
    return tuple((from_text(earliest), from_text(latest)) for earliest, latest in denied)


def find_changes(
    readings: Iterable[LoggedReading],
    fillings: Sequence[datetime],
    denied: Sequence[tuple[datetime, datetime]] = (),
) -> tuple[ProbableChange, ...]:
    """Return the falls of haze that no filling explains and nobody denied.

    Parameters
    ----------
    readings : iterable of LoggedReading
        Those of one tub, oldest first.
    fillings : sequence of datetime.datetime
        When the tub was filled.
    denied : sequence of (datetime.datetime, datetime.datetime)
        Spans in which there was no change.
    """
    filled = sorted(fillings)
    return tuple(
        _fall(before, after)
        for before, after in pairwise(_hazes(readings))
        if _falls_sharply(before, after)
        and not _is_explained(before, after, filled)
        and not any(start < after.taken_at and before.taken_at < end for start, end in denied)
    )


def confirm_change(
    book: Logbook, change: ProbableChange, filling: Filling, at: datetime | None = None
) -> tuple[Bath, ...]:
    """Enter a probable change as a water change.

    Parameters
    ----------
    book : Logbook
        Where to enter it.
    change : ProbableChange
        The change.
    filling : Filling
        The new bath; what is None is kept from the last.
    at : datetime.datetime or None
        When it was, if known; otherwise halfway between the two readings.

    Raises
    ------
    LogbookError
        When `at` is not between the readings, or no recipe is known.
    """
    filled_at = at or change.earliest + (change.latest - change.earliest) / 2
    if not change.earliest <= filled_at <= change.latest:
        raise LogbookError(
            f"{filled_at.isoformat(timespec='minutes')} is not between the two readings",
            hint="leave out the time, or enter the change by itself",
        )
    return change_water(book, [change.tub], filled_at, filling)


def deny_change(book: Logbook, change: ProbableChange) -> None:
    """Enter that there was no water change between the two readings."""
    with book.entry(f"no water change of tub {change.tub}") as entry:
        entry.put(
            DENIALS,
            {
                "tub": change.tub,
                "earliest": to_text(change.earliest),
                "latest": to_text(change.latest),
            },
        )


def _hazes(readings: Iterable[LoggedReading]) -> list[LoggedReading]:
    return [r for r in readings if r.attenuation_per_m is not None and not r.wrong]


def _fall(before: LoggedReading, after: LoggedReading) -> ProbableChange:
    return ProbableChange(
        tub=after.tub,
        earliest=before.taken_at,
        latest=after.taken_at,
        before_per_m=_haze(before),
        after_per_m=_haze(after),
    )


def _haze(reading: LoggedReading) -> float:
    assert reading.attenuation_per_m is not None
    return reading.attenuation_per_m


def _falls_sharply(before: LoggedReading, after: LoggedReading) -> bool:
    if before.bound is Bound.BELOW or after.bound is Bound.ABOVE:
        return False
    fall = _haze(before) - _haze(after)
    noise = math.hypot(_standard_error(before), _standard_error(after))
    return (
        _haze(after) < FALL_SHARE * _haze(before)
        and fall > SMALLEST_FALL_PER_M
        and fall > FALL_STANDARD_ERRORS * noise
    )


def _standard_error(reading: LoggedReading) -> float:
    """Return the standard error [1/m], wider for a doubtful reading; none for a bound."""
    if reading.bound is not None or reading.attenuation_std_per_m is None:
        return 0.0
    widening = DOUBTFUL_WIDENING if reading.verdict is Verdict.DOUBTFUL else 1.0
    return widening * reading.attenuation_std_per_m


def _is_explained(
    before: LoggedReading, after: LoggedReading, fillings: Sequence[datetime]
) -> bool:
    next_filling = bisect_left(fillings, before.taken_at)
    if next_filling == len(fillings):
        return False
    return fillings[next_filling] <= after.taken_at + ENTERED_LATE
