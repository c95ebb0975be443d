"""Times as people type and read them: local on the screen, zone-aware inside."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

from greasecheck.errors import LogbookError

UNITS = {"d": "days", "h": "hours", "m": "minutes", "s": "seconds"}
SPAN = re.compile(r"([+-]?)((?:\d+[dhms])+)")
YEARS = range(2, 9999)  # whose times can be told in every zone
LONGEST = timedelta(days=36_525)


def parse_time(text: str | None) -> datetime:
    """Return the time that `text` names; now without one. A time without a zone is local.

    ``now`` names now, too.

    Raises
    ------
    LogbookError
        When it cannot be read.

    Examples
    --------
    >>> parse_time("2026-03-04T18:05:00+01:00").isoformat()
    '2026-03-04T17:05:00+00:00'
    """
    if text is None or text == "now":
        return datetime.now(UTC)
    if text.endswith(" ago"):
        return datetime.now(UTC) - parse_span(text.removesuffix(" ago"))
    try:
        return _in_utc(text)
    except (ValueError, OverflowError) as error:
        raise LogbookError(
            f"'{text}' is no time", hint="write 18:05, 2026-03-04, '2026-03-04 18:05' or '2d ago'"
        ) from error


def _in_utc(text: str) -> datetime:
    if re.fullmatch(r"\d{1,2}:\d\d", text):
        text = f"{datetime.now().astimezone():%Y-%m-%d} {text:0>5}"
    time = datetime.fromisoformat(text).astimezone(UTC)
    if time.year not in YEARS:
        raise ValueError(text)
    return time


def parse_span(text: str) -> timedelta:
    """Return the span of time that `text` such as ``1h``, ``-2d`` or ``+1d12h30m`` names.

    Raises
    ------
    LogbookError
        When it cannot be read.

    Examples
    --------
    >>> parse_span("-1h30m")
    datetime.timedelta(days=-1, seconds=81000)
    """
    match = SPAN.fullmatch(text)
    if match is None:
        raise LogbookError(f"'{text}' is no span of time", hint="write 1h, -2d or +1d12h30m")
    sign, parts = match.groups()
    try:
        span = sum(
            (
                timedelta(**{UNITS[unit]: int(number)})
                for number, unit in re.findall(r"(\d+)([dhms])", parts)
            ),
            timedelta(0),
        )
    except (OverflowError, ValueError):  # ValueError: thousands of digits
        span = timedelta.max
    if span > LONGEST:
        raise LogbookError(f"'{text}' is too long a span", hint="write 1h or -2d")
    return -span if sign == "-" else span


def local(time: datetime, *, year: bool = True) -> str:
    """Return a time as people read it, in this computer's zone, to the minute."""
    return f"{time.astimezone():{'%Y-%m-%d %H:%M' if year else '%d %b %H:%M'}}"


def span_words(span: timedelta) -> str:
    """Return a span in days, or in hours below two days.

    Examples
    --------
    >>> span_words(timedelta(days=12, hours=5)), span_words(timedelta(hours=30))
    ('12 d', '30 h')
    """
    hours = span / timedelta(hours=1)
    return f"{hours:.0f} h" if abs(hours) < 48 else f"{hours / 24:.0f} d"
