"""What an entry wrote, its first-time cautions, and the way back from it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from flask import redirect, render_template, request, url_for

from greasecheck.errors import LiveError, LogbookError
from greasecheck.garage.cautions import subjects_of, used_before
from greasecheck.live.words import moment
from greasecheck.logbook.records import Attempt, Bath, LoggedReading
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.mapping import select
from greasecheck.logbook.store.tables import ATTEMPTS, BATHS, READINGS
from greasecheck.logbook.undo import find_entry, last_entry, undo
from greasecheck.reference.cautions import new_cautions
from greasecheck.report.words import haze_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from werkzeug.wrappers import Response

    from greasecheck.live.parts import Live
    from greasecheck.logbook.undo import LastEntry, PastEntry
    from greasecheck.reference.cautions import Caution

OF_ENTRY = "WHERE entry_id = ?"


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryPage:
    """An entry on its page.

    Attributes
    ----------
    entry : PastEntry
        The entry.
    lines : tuple of str
        What it wrote, where that is a bath or photos.
    cautions : tuple of Caution
        Those that no other bath or whitening has called for.
    keeps_readings : bool
        Whether its readings stay, marked wrong, when it is taken back.
    last : LastEntry or None
        The entry that can be taken back.
    """

    entry: PastEntry
    lines: tuple[str, ...]
    cautions: tuple[Caution, ...]
    keeps_readings: bool
    last: LastEntry | None


def show_entry(live: Live, number: int) -> str:
    """Show an entry, and the way back while it is the last one."""
    with Logbook(live.settings.logbook) as book:
        entry = find_entry(book, number)
        if entry is None:
            raise LiveError("there is no such entry", hint="see today's list")
        baths = select(book, Bath, BATHS, OF_ENTRY, (number,))
        readings = select(book, LoggedReading, READINGS, OF_ENTRY, (number,))
        attempts = select(book, Attempt, ATTEMPTS, OF_ENTRY, (number,))
        page = EntryPage(
            entry=entry,
            lines=(
                *map(_bath_line, baths),
                *map(_reading_line, readings),
                *(f"Refused: {attempt.problem}" for attempt in attempts),
            ),
            cautions=tuple(_first_cautions(book, baths)),
            keeps_readings=bool(readings),
            last=last_entry(book),
        )
    return render_template("entry.html.j2", page=page)


def take_back(live: Live, number: int) -> Response:
    """Take back precisely this entry, which must be the last one."""
    with Logbook(live.settings.logbook) as book:

        def work() -> str:
            last = last_entry(book)
            if last is None or last.number != number:
                raise LogbookError(
                    "another entry has been made since, or this one is taken back already",
                    hint="see the entry again; the later ones must be taken back first",
                )
            undo(book, last)
            return url_for("entry", number=number)

        return redirect(live.forms.once(request.form, request.path, work), 303)


def _bath_line(bath: Bath) -> str:
    warm = "" if bath.temperature_c is None else f" at {bath.temperature_c:g} °C"
    left = (
        ""
        if bath.carry_over_share is None
        else f", {bath.carry_over_share:.0%} of the old water left"
    )
    return f"Tub {bath.tub}: {bath.recipe}{warm}, filled {moment(bath.filled_at)}{left}"


def _reading_line(reading: LoggedReading) -> str:
    haze = "" if reading.attenuation_per_m is None else f": haze {haze_words(reading)}"
    wrong = ", marked wrong" if reading.wrong else ""
    return f"Tub {reading.tub}, {moment(reading.taken_at)}{haze}{wrong}"


def _first_cautions(book: Logbook, baths: tuple[Bath, ...]) -> Iterator[Caution]:
    for bath in baths[:1]:  # several baths of one entry have one recipe
        subjects = subjects_of(bath.recipe, bath.temperature_c)
        yield from new_cautions(subjects, used_before(book, but=bath))
