"""Logged readings corrected: wrong or right again, of another tub, by another clock."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from flask import render_template, request, url_for

from greasecheck.errors import LiveError
from greasecheck.live.access.forms import number_in
from greasecheck.live.entering import enter_once
from greasecheck.live.fields import required_text, text_in, whole_in
from greasecheck.logbook.readings.corrections import (
    corrections_of,
    mark_wrong,
    move_to_tub,
    shift_readings,
)
from greasecheck.logbook.readings.readings import list_readings, reading_under
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.table import LAST_TUB

if TYPE_CHECKING:
    from werkzeug.wrappers import Response

    from greasecheck.live.parts import Live
    from greasecheck.logbook.records import LoggedReading

MOST_HOURS = 24.0 * 366


def show_readings(live: Live, number: int) -> str:
    """Show a tub's readings, the newest first, each with what can be corrected."""
    with Logbook(live.settings.logbook) as book:
        readings = list_readings(book, number, wrong_too=True)
        made = corrections_of(book, number)
    return render_template(
        "readings.html.j2", number=number, readings=tuple(reversed(readings)), corrections=made
    )


def correct_reading(live: Live, number: int) -> Response:
    """Mark a reading of a tub wrong or right, or move it to another tub."""
    form = request.form
    key, what = required_text(form, "key", "reading"), form.get("what")
    why, tub = text_in(form, "why"), whole_in(form, "tub", "tub", LAST_TUB)

    def enter(book: Logbook) -> None:
        if what == "move" and tub is not None:
            move_to_tub(book, key, tub, why)
        elif what in {"wrong", "right"}:
            mark_wrong(book, key, wrong=what == "wrong", why=why)
        else:
            raise LiveError("nothing is to be corrected", hint="tap one of the buttons")

    return enter_once(live, enter, url_for("readings", number=number))


def shift_times(live: Live, number: int) -> Response:
    """Move the times of a reading, or of it and all later ones, for a clock that was wrong."""
    form = request.form
    hours = number_in(form, "hours", "hours", -MOST_HOURS, MOST_HOURS)
    if not hours:
        raise LiveError("by how many hours?", hint="type a number, with a minus for earlier")
    key = required_text(form, "key", "reading")

    def enter(book: Logbook) -> None:
        chosen = _from(book, number, key, later_too=bool(form.get("later")))
        shift_readings(book, chosen, timedelta(hours=hours), text_in(form, "why"))

    return enter_once(live, enter, url_for("readings", number=number))


def _from(book: Logbook, number: int, key: str, *, later_too: bool) -> tuple[LoggedReading, ...]:
    first = reading_under(book, key)
    if first is None:
        raise LiveError("there is no such reading", hint="see the readings again")
    if not later_too:
        return (first,)
    return list_readings(book, number, since=first.taken_at, wrong_too=True)
