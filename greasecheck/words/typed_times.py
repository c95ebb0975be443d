"""Reads times and spans as people type them; `times.py` writes them."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta

from greasecheck.errors import LogbookError

UNITS = {
    "d": "days",
    "day": "days",
    "days": "days",
    "h": "hours",
    "hour": "hours",
    "hours": "hours",
    "m": "minutes",
    "min": "minutes",
    "minute": "minutes",
    "minutes": "minutes",
    "s": "seconds",
    "week": "weeks",
    "weeks": "weeks",
}
SPAN = re.compile(r"([+-]?)((?:\d+\s*[a-z]+\s*)+)")
PART = re.compile(r"(\d+)\s*([a-z]+)")
CLOCK = re.compile(r"\d{1,2}:\d\d")
WRITTEN = re.compile(r"(\d{1,2}) ([a-z]{3,9})(?: (\d{4}))?")  # as times are shown
MONTHS = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)
EUROPEAN = re.compile(r"(\d{1,2})\.\s?(\d{1,2})\.(\d{4})?")
YEARS = range(2, 9999)  # whose times exist in every zone
LONGEST = timedelta(days=36_525)
# How many days ago, and at what time of day when none is given.
NAMED = {
    "today": (0, time(0)),
    "this morning": (0, time(8)),
    "at noon": (0, time(12)),
    "yesterday": (1, time(12)),
    "yesterday morning": (1, time(8)),
    "yesterday evening": (1, time(18)),
}
HINT = (
    "write yesterday, 18:05, '3 days ago', 2026-01-10, 10.01.2026, '10 Jan 2026' or"
    " '2026-01-10 18:05'"
)


def parse_time(text: str | None) -> datetime:
    """Return the time that `text` names; now without one. A time without a zone is local.

    Raises
    ------
    LogbookError
        When it cannot be read.

    Examples
    --------
    >>> parse_time("2026-03-04T18:05:00+01:00").isoformat()
    '2026-03-04T17:05:00+00:00'
    >>> parse_time("10.01.2026 18:05") == parse_time("10 Jan 2026, 18:05")
    True
    """
    if text is None or text.strip() in {"", "now"}:
        return datetime.now(UTC)
    given = " ".join(text.strip().split())
    try:
        if given.lower().endswith(" ago"):
            return datetime.now(UTC) - parse_span(given.lower().removesuffix(" ago"))
        named = _named(given)
    except ValueError as error:
        raise LogbookError(f"'{text}' is no time, or there is no such day", hint=HINT) from error
    if named.year not in YEARS:
        raise LogbookError(f"the year of '{text}' makes no sense", hint="check it")
    return utc_of(named)


def utc_of(named: datetime) -> datetime:
    """Return a time in UTC; one without a zone is local.

    A time in the hour that clocks leave out in spring is read as if they had not been put forward
    yet; of an hour that they show twice in autumn the first is meant.
    """
    is_left_out = named.tzinfo is None and named.astimezone().replace(tzinfo=None) != named
    return (named.replace(fold=1) if is_left_out else named).astimezone(UTC)


def end_of_day(day: date) -> datetime:
    """Return the last minute of a day here: what is promised for a day may take all of it."""
    return datetime.combine(day, time(23, 59)).astimezone(UTC)


def second_time(text: str | None) -> datetime | None:
    """Return the second time that clocks put back showed what `text` names; None for others.

    Parameters
    ----------
    text : str or None
        What `parse_time` has read; a day alone means its first moment, whatever clocks show.
    """
    given = " ".join((text or "").split())
    if ":" not in given:
        return None
    named = _named(given)
    return None if named.tzinfo else shown_again(utc_of(named))


def shown_again(time: datetime) -> datetime | None:
    """Return when clocks here, put back, showed again what they show at a time; else None."""
    second = time.astimezone().replace(tzinfo=None, fold=1).astimezone(UTC)
    return second if second > time else None


def _named(given: str) -> datetime:
    """Return the time that words or figures name, with a zone only where they name one."""
    day, clock = _day_and_clock(given)
    return datetime.fromisoformat(given) if day is None else datetime.combine(day, clock)


def _day_and_clock(given: str) -> tuple[date | None, time]:
    """Return the day and the time of day that words or a European date name; None for others."""
    words, _, last = given.rpartition(" ")
    clock = _clock(last) if CLOCK.fullmatch(last) else None
    rest = (words.removesuffix(",") if clock else given).lower()
    today = datetime.now().astimezone().date()
    if clock and not words:
        return today, clock
    if rest in NAMED:
        days, usual = NAMED[rest]
        return today - timedelta(days=days), clock or usual
    for form in (EUROPEAN, WRITTEN):
        found = form.fullmatch(rest)
        if found:
            number, month, year = found.groups()
            return date(int(year or today.year), _month(month), int(number)), clock or time(0)
    return None, time(0)


def _month(text: str) -> int:
    """Return the number of a month by its number or its name; 0 where it is none."""
    if text.isdecimal():
        return int(text)
    return next((n for n, name in enumerate(MONTHS, 1) if name.startswith(text)), 0)


def _clock(text: str) -> time:
    hours, minutes = map(int, text.split(":"))
    return time(hours, minutes)


def parse_span(text: str) -> timedelta:
    """Return the span of time that `text` such as ``1h``, ``-2d`` or ``3 days`` names.

    Raises
    ------
    LogbookError
        When it cannot be read.

    Examples
    --------
    >>> parse_span("-1h30m"), parse_span("3 days")
    (datetime.timedelta(days=-1, seconds=81000), datetime.timedelta(days=3))
    """
    match = SPAN.fullmatch(text.strip())
    if match is None:
        raise LogbookError(f"'{text}' is no span of time", hint="write 1h, -2d, +1d12h30m, 3 days")
    sign, parts = match.groups()
    try:
        span = sum((_part(*part) for part in PART.findall(parts)), timedelta(0))
    except KeyError as error:
        raise LogbookError(f"'{text}' is no span of time", hint="write 1h, -2d, 3 days") from error
    except (OverflowError, ValueError):  # ValueError: thousands of digits
        span = timedelta.max
    if span > LONGEST:
        raise LogbookError(f"'{text}' is too long a span", hint="write 1h or -2d")
    return -span if sign == "-" else span


def _part(number: str, unit: str) -> timedelta:
    return timedelta(**{UNITS[unit]: int(number)})
