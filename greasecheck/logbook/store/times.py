"""Times in the logbook: zone-aware outside, UTC text to the second inside."""

from __future__ import annotations

from datetime import UTC, datetime

from greasecheck.errors import LogbookError

UTC_FORMAT = "%Y-%m-%dT%H:%M:%SZ"
EARLIEST = "1970-01-01T00:00:00Z"  # no logbook is older; a year before it was mistyped
LATER_THAN_ANY = "~"  # sorts behind every time as text


def to_text(time: datetime) -> str:
    """Return `time` as UTC text to the second, which sorts as time does.

    Raises
    ------
    LogbookError
        When `time` has no zone, or lies outside the years 1 to 9999 in UTC.

    Examples
    --------
    >>> to_text(datetime.fromisoformat("2026-03-04T19:05:30+01:00"))
    '2026-03-04T18:05:30Z'
    """
    if time.tzinfo is None:
        raise LogbookError(
            f"the time {time} has no zone", hint="give it one, such as +01:00, or Z for UTC"
        )
    try:
        utc = time.astimezone(UTC)
    except OverflowError as error:
        raise LogbookError(
            f"the time {time} is out of range", hint="give a year from 2 to 9998"
        ) from error
    return f"{utc.year:04d}{utc.strftime(UTC_FORMAT[2:])}"


def from_text(text: str) -> datetime:
    """Return the time that `to_text` wrote.

    Examples
    --------
    >>> from_text("2026-03-04T18:05:30Z").isoformat()
    '2026-03-04T18:05:30+00:00'
    """
    return datetime.fromisoformat(text)


def now() -> datetime:
    """Return the present time, in UTC."""
    return datetime.now(UTC)
