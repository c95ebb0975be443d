"""Water changes that nobody entered: as the tub's fit found them, or by sharp falls until then."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError
from greasecheck.logbook.answers import read_unlogged
from greasecheck.logbook.readings.readings import list_readings
from greasecheck.logbook.records import ProbableChange
from greasecheck.logbook.store.tables import DENIALS
from greasecheck.logbook.store.times import from_text, to_text
from greasecheck.logbook.water.baths import (
    Filling,
    change_water,
    list_baths,
    list_tubs,
    refuse_old_number,
    require_tub,
)
from greasecheck.model import Verdict
from greasecheck.model.falls import SHARP, Fall, Haze, is_explained, unexplained_falls
from greasecheck.words.times import exact

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime

    from greasecheck.logbook.records import Bath, LoggedReading
    from greasecheck.logbook.store.book import Logbook


def probable_changes(
    book: Logbook, tub: int, *, since: datetime | None = None
) -> tuple[ProbableChange, ...]:
    """Return the changes of `tub` from `since` on that nobody entered, oldest first."""
    return changes_among(book, tub, list_readings(book, tub, since=since))


def changes_among(
    book: Logbook, tub: int, readings: Sequence[LoggedReading]
) -> tuple[ProbableChange, ...]:
    """Return the changes among some readings of `tub` that nobody entered.

    Those that its newest fit found, and the sharp falls that no fit has seen yet.

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
    rows = book.rows("SELECT filled_at FROM baths WHERE tub = ? AND filled_at >= ?", (tub, first))
    filled = sorted(from_text(filled_at) for (filled_at,) in rows)
    denied, hazes = denied_spans(book, tub), [_haze(one) for one in _hazes(readings)]
    sharp = [_probable(tub, fall) for fall in unexplained_falls(hazes, filled, denied, SHARP)]
    fitted = read_unlogged(book, tub)
    if fitted is None:
        return tuple(sharp)
    times = {one.at for one in hazes}
    found = [
        one
        for one in fitted.found
        if {one.earliest, one.latest} <= times
        and not is_explained(one.earliest, one.latest, filled, denied)
    ]
    return (*found, *(one for one in sharp if one.latest > fitted.made_at))


def denied_spans(book: Logbook, tub: int) -> tuple[tuple[datetime, datetime], ...]:
    """Return the spans in which, somebody entered, the water of `tub` was not changed."""
    denied = book.rows("SELECT earliest, latest FROM denials WHERE tub = ?", (tub,))
    return tuple((from_text(earliest), from_text(latest)) for earliest, latest in denied)


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
            f"{exact(filled_at)} is not between the two readings",
            hint="leave out the time, or enter the change by itself",
        )
    return change_water(book, [change.tub], filled_at, filling)


def deny_change(book: Logbook, change: ProbableChange) -> None:
    """Enter that there was no water change between the two readings."""
    span = {"earliest": to_text(change.earliest), "latest": to_text(change.latest)}
    with book.entry(f"no water change of tub {change.tub}") as entry:
        require_tub(entry, change.tub)
        entry.put(DENIALS, {"tub": change.tub, **span})


def possible_change(book: Logbook, tub: int, at: datetime) -> ProbableChange:
    """Return the change between the readings around a time that would be one, if it happened.

    Raises
    ------
    LogbookError
        When the tub is unknown, was not read before and after, or a change is entered between.
    """
    refuse_old_number(book, tub)
    if all(one.number != tub for one in list_tubs(book)):
        raise LogbookError(f"tub {tub} is not in the logbook", hint="enter the tub first")
    hazes = [_haze(one) for one in _hazes(list_readings(book, tub))]
    before, after = [one for one in hazes if one.at <= at], [one for one in hazes if one.at > at]
    if not before or not after:
        raise LogbookError(
            f"the haze of tub {tub} was not read both before and after that",
            hint="a change can be denied between two readings alone",
        )
    found = _probable(tub, Fall(before=before[-1], after=after[0]))
    for bath in list_baths(book, tub):
        if found.earliest < bath.filled_at <= found.latest:
            raise LogbookError(
                f"a change of tub {tub} stands there, of {exact(bath.filled_at)}",
                hint="take the other entry back",
            )
    return found


def _hazes(readings: Iterable[LoggedReading]) -> list[LoggedReading]:
    return [r for r in readings if r.attenuation_per_m is not None and not r.wrong]


def _haze(reading: LoggedReading) -> Haze:
    assert reading.attenuation_per_m is not None
    return Haze(
        at=reading.taken_at,
        per_m=reading.attenuation_per_m,
        std_per_m=reading.attenuation_std_per_m or 0.0,
        bound=reading.bound,
        is_doubtful=reading.verdict is Verdict.DOUBTFUL,
    )


def _probable(tub: int, fall: Fall) -> ProbableChange:
    return ProbableChange(
        tub=tub,
        earliest=fall.before.at,
        latest=fall.after.at,
        before_per_m=fall.before.per_m,
        after_per_m=fall.after.per_m,
    )
