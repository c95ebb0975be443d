"""Times as people read them at the terminal: local, to the minute."""

from __future__ import annotations

from datetime import datetime, timedelta


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
