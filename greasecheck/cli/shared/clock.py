"""Times as people give and read them at the terminal: local, to the minute."""

from __future__ import annotations

from datetime import datetime, timedelta

import typer

from greasecheck.words.times import exact
from greasecheck.words.typed_times import parse_time, second_time


def given_time(text: str | None) -> datetime:
    """Return the time that an option names; now without it.

    Where clocks showed it twice it is the first, and how to give the second is said on stderr.

    Raises
    ------
    LogbookError
        When it cannot be read.
    """
    found, second = parse_time(text), second_time(text)
    if second is not None:
        other = second.astimezone().isoformat(" ", "minutes")
        typer.echo(
            f"clocks showed {exact(found)} twice, and the first is taken; the second is '{other}'",
            err=True,
        )
    return found


def span_words(span: timedelta) -> str:
    """Return a span in days, or in hours below two days.

    Examples
    --------
    >>> span_words(timedelta(days=12, hours=5)), span_words(timedelta(hours=30))
    ('12 d', '30 h')
    """
    hours = span / timedelta(hours=1)
    return f"{hours:.0f} h" if abs(hours) < 48 else f"{hours / 24:.0f} d"
