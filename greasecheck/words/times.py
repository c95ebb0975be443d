"""Writes days, times, spans and ages as people say them, in this computer's zone."""

from __future__ import annotations

from datetime import datetime, timedelta

NEVER = "not within ten years"
FAR = timedelta(days=270)  # a day and a month name a day of the coming or last nine months


def day_words(when: datetime | None) -> str:
    """Return a day with its year.

    Examples
    --------
    >>> day_words(datetime(2026, 3, 4, 12).astimezone())
    '4 Mar 2026'
    """
    if when is None:
        return NEVER
    local = when.astimezone()
    return f"{local.day} {local:%b %Y}"


def near_day(when: datetime | None, now: datetime) -> str:
    """Return a day, with its year when it is more than nine months away.

    Examples
    --------
    >>> now = datetime(2026, 11, 20, 12).astimezone()
    >>> near_day(datetime(2027, 1, 9, 12).astimezone(), now)
    '9 Jan'
    >>> near_day(datetime(2028, 1, 9, 12).astimezone(), now)
    '9 Jan 2028'
    """
    if when is None or abs(when - now) > FAR:
        return day_words(when)
    local = when.astimezone()
    return f"{local.day} {local:%b}"


def day_range(early: datetime, late: datetime, now: datetime) -> str:
    """Return two days as a range, the year and the month once where they are the same.

    Examples
    --------
    >>> now = datetime(2026, 11, 20, 12).astimezone()
    >>> day_range(now, datetime(2026, 11, 28, 12).astimezone(), now)
    '20 to 28 Nov'
    """
    first, last = near_day(early, now), near_day(late, now)
    shared = len(last) - last.find(" ")
    if first[first.find(" ") :] == last[-shared:]:
        first = first[: first.find(" ")]
    return f"{first} to {last}"


def between_words(early: datetime, late: datetime) -> str:
    """Return two times as the ends of a span: days, or the hours of one day.

    Examples
    --------
    >>> first = datetime(2026, 3, 4, 6).astimezone()
    >>> between_words(first, datetime(2026, 3, 6, 8).astimezone())
    'between 4 Mar 2026 and 6 Mar 2026'
    >>> between_words(first, datetime(2026, 3, 4, 8).astimezone())
    'on 4 Mar 2026 between 06:00 and 08:00'
    """
    first, last = early.astimezone(), late.astimezone()
    if first.date() != last.date():
        return f"between {day_words(first)} and {day_words(last)}"
    return f"on {day_words(first)} between {first:%H:%M} and {last:%H:%M}"


def exact(time: datetime) -> str:
    """Return a time with its day, to the minute.

    Examples
    --------
    >>> exact(datetime(2026, 3, 4, 18, 5).astimezone())
    '4 Mar 2026, 18:05'
    """
    return f"{day_words(time)}, {time.astimezone():%H:%M}"


def moment(time: datetime, now: datetime | None = None) -> str:
    """Return a time, with its day unless that is today's.

    Examples
    --------
    >>> moment(datetime(2026, 3, 4, 18, 5).astimezone(), datetime(2026, 3, 6).astimezone())
    '4 Mar 2026, 18:05'
    """
    local, today = time.astimezone(), (now or datetime.now().astimezone()).astimezone()
    return f"{local:%H:%M}" if local.date() == today.date() else exact(time)


def age(span: timedelta) -> str:
    """Return a span of time in the unit that fits it best.

    Examples
    --------
    >>> age(timedelta(minutes=1)), age(timedelta(hours=30)), age(timedelta(days=12.4))
    ('1 minute', '30 hours', '12 days')
    """
    minutes = span / timedelta(minutes=1)
    if minutes < 1:
        return "less than a minute"
    if minutes < 90:
        return counted(round(minutes), "minute")
    if minutes < 48 * 60:
        return counted(round(minutes / 60), "hour")
    return counted(round(minutes / 60 / 24), "day")


def short_age(span: timedelta) -> str:
    """Return a span in as few letters as a narrow row has room for.

    Examples
    --------
    >>> short_age(timedelta(minutes=5)), short_age(timedelta(hours=30)), short_age(timedelta(9))
    ('5 min', '30 h', '9 d')
    >>> short_age(timedelta(seconds=20))
    'now'
    """
    minutes = span / timedelta(minutes=1)
    if minutes < 1:
        return "now"
    if minutes < 90:
        return f"{minutes:.0f} min"
    return f"{minutes / 60:.0f} h" if minutes < 48 * 60 else f"{minutes / 60 / 24:.0f} d"


def ago(span: timedelta) -> str:
    """Return how long ago something was, in few letters.

    Examples
    --------
    >>> ago(timedelta(minutes=5)), ago(timedelta(seconds=20))
    ('5 min ago', 'just now')
    """
    short = short_age(span)
    return "just now" if short == "now" else f"{short} ago"


def every_words(days: float) -> str:
    """Return an interval [days] in words.

    Examples
    --------
    >>> every_words(1.0), every_words(3.14)
    ('every day', 'every 3.1 days')
    """
    return "every day" if days == 1 else f"every {round(days, 1):g} days"


def counted(number: int, unit: str) -> str:
    """Return a number with its noun, in the plural when it is not one."""
    return f"{number} {unit}" if number == 1 else f"{number} {unit}s"
