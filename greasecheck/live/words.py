"""Times, spans and faults in the words of the live page."""

from __future__ import annotations

from datetime import datetime, timedelta

from greasecheck.report.words import day_words

HTTP_FAULTS = {
    400: ("The request makes no sense.", "go back and try again"),
    403: ("This may not be done from here.", "open today's list and try again from there"),
    404: ("There is no such page.", "go back to today's list"),
    405: ("This page takes no such request.", "go back to today's list"),
    413: (
        "The upload is too large.",
        "send fewer photos at a time: at most 12, of 40 MB each and 200 MB together",
    ),
    421: (
        "This address does not name this computer.",
        "use the address that the terminal shows",
    ),
    500: (
        "Something went wrong inside; nothing more was written.",
        "the terminal tells what; please report it as a bug",
    ),
}
OTHER_FAULT = ("The request was refused.", "go back to today's list")


def moment(time: datetime, now: datetime | None = None) -> str:
    """Return a time in this computer's zone, with its day unless that is today's.

    Examples
    --------
    >>> moment(datetime(2026, 3, 4, 18, 5).astimezone(), datetime(2026, 3, 6).astimezone())
    '4 Mar 2026, 18:05'
    """
    local, today = time.astimezone(), (now or datetime.now().astimezone()).astimezone()
    clock = f"{local:%H:%M}"
    return clock if local.date() == today.date() else f"{day_words(local)}, {clock}"


def age(span: timedelta) -> str:
    """Return a span of time in the unit that tells it best.

    Examples
    --------
    >>> age(timedelta(minutes=1)), age(timedelta(hours=30)), age(timedelta(days=12.4))
    ('1 minute', '30 hours', '12 days')
    """
    minutes = span / timedelta(minutes=1)
    if minutes < 1:
        return "less than a minute"
    if minutes < 90:
        return _counted(round(minutes), "minute")
    if minutes < 48 * 60:
        return _counted(round(minutes / 60), "hour")
    return _counted(round(minutes / 60 / 24), "day")


def _counted(number: int, unit: str) -> str:
    return f"{number} {unit}" if number == 1 else f"{number} {unit}s"
