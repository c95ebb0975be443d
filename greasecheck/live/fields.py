"""Fields of forms that many pages share: times as people say them, the page to go back to."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from typing import TYPE_CHECKING
from urllib.parse import parse_qsl, urlencode, urlsplit

from flask import request

from greasecheck.errors import LiveError
from greasecheck.logbook.store.columns import tidy_name
from greasecheck.words.typed_times import utc_of

if TYPE_CHECKING:
    from collections.abc import Mapping

LONGEST_TEXT = 200
NAMED_TIMES = {"morning": (0, time(8)), "noon": (0, time(12)), "yesterday": (1, time(18))}


def time_in(form: Mapping[str, str]) -> datetime:
    """Return the time that a form's fields `when` and `at` name; now without them.

    Raises
    ------
    LiveError
        When another time is meant but none is filled in.
    """
    stated = form.get("when", "now")
    now = datetime.now(UTC)
    if stated in NAMED_TIMES:
        days, clock = NAMED_TIMES[stated]
        day = (now.astimezone() - timedelta(days=days)).date()
        return min(datetime.combine(day, clock).astimezone(UTC), now)
    if stated != "at":
        return now
    try:
        return utc_of(datetime.fromisoformat(form.get("at", "")))
    except (ValueError, OverflowError) as error:
        raise LiveError("the time is missing", hint="fill in its day and time") from error


def text_in(form: Mapping[str, str], name: str) -> str | None:
    """Return what was typed into a field, without spaces around it; None when left blank."""
    return form.get(name, "").strip()[:LONGEST_TEXT] or None


def name_in(form: Mapping[str, str], name: str) -> str | None:
    """Return a name that was typed into a field, without blanks too many; None when left blank."""
    text = text_in(form, name)
    return text and tidy_name(text)


def required_text(form: Mapping[str, str], name: str, what: str) -> str:
    """Return what was typed into a field that may not be blank.

    Raises
    ------
    LiveError
        When it is blank.
    """
    text = text_in(form, name)
    if text is None:
        raise LiveError(f"the {what} is missing", hint="fill it in")
    return text


def whole_in(form: Mapping[str, str], name: str, what: str, highest: int) -> int | None:
    """Return a whole number that was typed into a field; None when left blank.

    Raises
    ------
    LiveError
        When it is none, or out of range.
    """
    text = form.get(name, "").strip()
    if not text:
        return None
    if not text.isdecimal() or len(text) > len(str(highest)) or int(text) > highest:
        raise LiveError(
            f"the {what} '{text[:20]}' makes no sense", hint=f"type a whole number up to {highest}"
        )
    return int(text)


def back_to(default: str, entry: int | None = None) -> str:
    """Return the page that a form names to go back to, with the entry that was made.

    A page of another host is not gone to.
    """
    asked = urlsplit(request.form.get("back", ""))
    is_own = asked.path.startswith("/") and not asked.path.startswith("//") and not asked.netloc
    page = asked if is_own else urlsplit(default)
    rest = [(key, value) for key, value in parse_qsl(page.query) if key != "entry"]
    query = urlencode([*rest, *([("entry", str(entry))] if entry is not None else [])])
    return f"{page.path}?{query}" if query else page.path
