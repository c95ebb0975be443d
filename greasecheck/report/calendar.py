"""Writes dates as an iCalendar file that any calendar program reads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from uuid import NAMESPACE_URL, uuid5

from icalendar import Calendar, Event

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date, datetime

PRODUCT = "-//greasecheck//degreasing season//EN"


@dataclass(frozen=True, slots=True, kw_only=True)
class DayEntry:
    """Something to do or to keep on a day.

    Attributes
    ----------
    key : str
        Names the thing itself, not its day, so that a later file moves it instead of doubling it.
    day : datetime.date
        The whole day it is for.
    title, note : str
        What the calendar shows.
    """

    key: str
    day: date
    title: str
    note: str = ""


def calendar_file(entries: Iterable[DayEntry], made_at: datetime) -> bytes:
    """Return entries as the content of an .ics file.

    Parameters
    ----------
    entries : iterable of DayEntry
        What to put in.
    made_at : datetime.datetime
        Zone-aware; the newest file wins.

    References
    ----------
    RFC 5545 (2009): VCALENDAR 3.4, all-day VEVENT 3.6.1, UID 3.8.4.7, DTSTAMP 3.8.7.2.

    Examples
    --------
    >>> from datetime import UTC, date, datetime
    >>> entry = DayEntry(key="tub 12 change 1", day=date(2026, 3, 4), title="Change tub 12")
    >>> text = calendar_file([entry], datetime(2026, 3, 1, tzinfo=UTC)).decode()
    >>> "DTSTART;VALUE=DATE:20260304" in text
    True
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    for entry in entries:
        calendar.add_component(_event(entry, made_at))
    content: bytes = calendar.to_ical()
    return content


def _event(entry: DayEntry, made_at: datetime) -> Event:
    event = Event()
    event.add("uid", str(uuid5(NAMESPACE_URL, f"greasecheck/{entry.key}")))
    event.add("dtstamp", made_at)
    event.add("dtstart", entry.day)
    event.add("summary", entry.title)
    event.add("description", entry.note)
    event.add("transp", "TRANSPARENT")
    return event
