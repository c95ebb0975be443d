from __future__ import annotations

from datetime import UTC, date, datetime

from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from greasecheck.report.calendar import DayEntry, calendar_file

MADE = datetime(2026, 3, 1, 12, tzinfo=UTC)


def entry(key: str = "tub 12 change 1", day: int = 4, note: str = "") -> DayEntry:
    return DayEntry(key=key, day=date(2026, 3, day), title="Change tub 12", note=note)


def test_lines_end_and_fold_as_rfc_5545_asks() -> None:
    # RFC 5545 (2009) section 3.1: lines end with CRLF and are at most 75 octets long
    content = calendar_file([entry(note="ä, long; note " * 20)], MADE)
    lines = content.split(b"\r\n")
    assert lines[0] == b"BEGIN:VCALENDAR"
    assert b"\n" not in b"".join(lines)
    assert max(map(len, lines)) <= 75


def test_a_required_property_is_never_missing() -> None:
    # RFC 5545 (2009) sections 3.6 and 3.6.1: PRODID and VERSION; UID and DTSTAMP
    calendar = Calendar.from_ical(calendar_file([entry()], MADE))
    (event,) = calendar.walk("VEVENT")
    assert calendar["version"] == "2.0"
    assert "greasecheck" in str(calendar["prodid"])
    assert event.decoded("dtstamp") == MADE
    assert event.decoded("dtstart") == date(2026, 3, 4)
    assert event["uid"]


def test_a_moved_day_keeps_its_identity() -> None:
    first, moved, other = (
        Calendar.from_ical(calendar_file([one], MADE)).walk("VEVENT")[0]["uid"]
        for one in (entry(), entry(day=9), entry(key="tub 12 change 2"))
    )
    assert first == moved != other


WORDS = st.text(st.characters(categories=("L", "M", "N", "P", "S", "Zs"), include_characters="\n"))


@settings(deadline=None, max_examples=25)
@given(WORDS)
def test_any_words_come_back_unchanged(note: str) -> None:
    (event,) = Calendar.from_ical(calendar_file([entry(note=note)], MADE)).walk("VEVENT")
    assert str(event["description"]) == note
