"""Entries: the latest, one with what it wrote and what rests on it, and the way back from it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from flask import redirect, render_template, request, url_for

from greasecheck.errors import LiveError
from greasecheck.garage.cautions import (
    graver_of_bath,
    graver_of_whitening,
    subjects_of,
    used_before,
)
from greasecheck.live.entries.lines import EntryLine, latest_entries
from greasecheck.live.fields import back_to, whole_in
from greasecheck.logbook.dependents import with_dependents
from greasecheck.logbook.records import (
    Attempt,
    Bath,
    BathTemperature,
    LoggedReading,
    SkullEvent,
    ToppedUp,
)
from greasecheck.logbook.skulls.stays import ever_happened
from greasecheck.logbook.store.book import EntryKind, Logbook
from greasecheck.logbook.store.mapping import select
from greasecheck.logbook.store.tables import (
    ATTEMPTS,
    BATHS,
    FOLLOW_UPS,
    READINGS,
    SKULL_EVENTS,
    SKULLS,
    TEMPERATURES,
    TOP_UPS,
    TUBS,
)
from greasecheck.logbook.undo import find_entry, take_back, take_back_together
from greasecheck.logbook.water.baths import bath_at
from greasecheck.model import Recipe
from greasecheck.reference.cautions import Ingredient, new_cautions
from greasecheck.stages import EventKind
from greasecheck.words.figures import haze_words, listed
from greasecheck.words.stages import EVENTS
from greasecheck.words.times import counted, moment

if TYPE_CHECKING:
    from collections.abc import Iterator

    from werkzeug.wrappers import Response

    from greasecheck.live.parts import Live
    from greasecheck.logbook.undo import PastEntry
    from greasecheck.reference.cautions import Caution

OF_ENTRY = "WHERE entry_id = ?"
SHOWN = 40
MOST_LINES, FIRST_LINES = 12, 5  # a page of a phone; of what is longer, the first lines
ROWS = {
    TUBS.name: "tub",
    SKULLS.name: "skull",
    BATHS.name: "water change",
    TEMPERATURES.name: "temperature",
    TOP_UPS.name: "top-up",
    SKULL_EVENTS.name: "skull step",
    FOLLOW_UPS.name: "later look",
    READINGS.name: "reading",
    ATTEMPTS.name: "refused photo",
}
LARGEST = 2**53


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryPage:
    """An entry on its page.

    Attributes
    ----------
    entry : PastEntry
        The entry.
    first, rest : tuple of str
        What it wrote: a few lines, and those that only a long import has beside them.
    counts : str
        How much of each kind came from files, or with a long entry; empty for others.
    baths, events, readings : tuple
        What of it can be corrected by itself.
    is_import : bool
        Whether it came from files, so that its readings go when it is taken back; others stay,
        marked wrong.
    resting : tuple of EntryLine
        The later entries that would go with it.
    numbers : str
        All of them, for the form that agrees to it.
    """

    entry: PastEntry
    first: tuple[str, ...]
    rest: tuple[str, ...]
    counts: str
    baths: tuple[Bath, ...]
    events: tuple[SkullEvent, ...]
    readings: tuple[LoggedReading, ...]
    is_import: bool
    resting: tuple[EntryLine, ...]
    numbers: str


def show_entries(live: Live) -> str:
    """Show the latest entries, or those before one of them."""
    before = whole_in(request.args, "before", "entry", LARGEST)
    with Logbook(live.settings.logbook) as book:
        lines = latest_entries(book, SHOWN, before)
    return render_template("entries.html.j2", lines=lines, more=len(lines) == SHOWN)


def show_entry(live: Live, number: int) -> str:
    """Show an entry, what rests on it, and the way back."""
    with Logbook(live.settings.logbook) as book:
        entry = find_entry(book, number)
        if entry is None:
            raise LiveError("there is no such entry", hint="see today's list")
        page = _page(book, entry)
    return render_template("entry.html.j2", page=page, recipes=tuple(Recipe))


def undo_entry(live: Live, number: int) -> Response:
    """Take back precisely this entry, and those that rest on it when a person agreed to it."""
    form = request.form
    agreed = tuple(int(one) for one in form.get("agreed", "").split() if one.isdecimal())
    with Logbook(live.settings.logbook) as book:
        if len(agreed) < 2:
            past = find_entry(book, number)
            stands = past is not None and past.undone_at is None
            if stands and len(with_dependents(book, number)) > 1:
                return redirect(url_for("entry", number=number), 303)

        def work() -> str:
            if agreed:
                take_back_together(book, agreed)
            else:
                take_back(book, number)
            return back_to(url_for("entry", number=number), number)

        return redirect(live.forms.once(form, request.path, work), 303)


def _page(book: Logbook, entry: PastEntry) -> EntryPage:
    number = entry.number
    baths = select(book, Bath, BATHS, OF_ENTRY, (number,))
    events = select(book, SkullEvent, SKULL_EVENTS, OF_ENTRY, (number,))
    readings = select(book, LoggedReading, READINGS, OF_ENTRY, (number,))
    attempts = select(book, Attempt, ATTEMPTS, OF_ENTRY, (number,))
    numbers = (number,) if entry.undone_at else with_dependents(book, number)
    lines = (
        *map(_bath_line, baths),
        *_between_lines(book, number),
        *map(_event_line, events),
        *map(_reading_line, readings),
        *(f"Refused: {attempt.problem}" for attempt in attempts),
    )
    is_import = (EntryKind.IMPORT,) in book.rows("SELECT kind FROM entries WHERE id = ?", (number,))
    shown = len(lines) if len(lines) <= MOST_LINES else FIRST_LINES
    return EntryPage(
        entry=entry,
        first=lines[:shown],
        rest=lines[shown:],
        counts=_counts(book, number) if is_import or len(lines) > shown else "",
        baths=baths,
        events=events,
        readings=readings,
        is_import=is_import,
        resting=tuple(_line(book, one) for one in numbers if one != number),
        numbers=" ".join(map(str, numbers)),
    )


def _counts(book: Logbook, number: int) -> str:
    """Return how many rows of each kind an entry added, for people."""
    sql = "SELECT count(*) FROM {} WHERE entry_id = ?"
    counts = [(book.rows(sql.format(name), (number,))[0][0], word) for name, word in ROWS.items()]
    return listed(tuple(counted(count, word) for count, word in counts if count))


def _line(book: Logbook, number: int) -> EntryLine:
    [line] = latest_entries(book, 1, number + 1)
    return line


def _bath_line(bath: Bath) -> str:
    warm = "" if bath.temperature_c is None else f" at {bath.temperature_c:g} °C"
    left = (
        ""
        if bath.carry_over_share is None
        else f", {bath.carry_over_share:.0%} of the old water left"
    )
    return f"Tub {bath.tub}: {bath.recipe}{warm}, filled {moment(bath.filled_at)}{left}"


def _between_lines(book: Logbook, number: int) -> Iterator[str]:
    for found in select(book, BathTemperature, TEMPERATURES, OF_ENTRY, (number,)):
        yield f"Tub {found.tub}: at {found.temperature_c:g} °C from {moment(found.at)}"
    for poured in select(book, ToppedUp, TOP_UPS, OF_ENTRY, (number,)):
        yield f"Tub {poured.tub}: topped up with {poured.litres:g} L, {moment(poured.at)}"


def _event_line(event: SkullEvent) -> str:
    into = f" into tub {event.tub}" if event.tub is not None else ""
    strength = "" if event.strength_percent is None else f", {event.strength_percent:g}%"
    hours = "" if event.duration_h is None else f", {event.duration_h:g} h"
    what = f"{event.skull}: {EVENTS[event.kind]}{into}{strength}{hours}"
    return f"{what}, {moment(event.happened_at)}"


def _reading_line(reading: LoggedReading) -> str:
    haze = "" if reading.attenuation_per_m is None else f": haze {haze_words(reading)}"
    wrong = ", marked wrong" if reading.wrong else ""
    return f"Tub {reading.tub}, {moment(reading.taken_at)}{haze}{wrong}"


def entry_cautions(book: Logbook, number: int) -> tuple[Caution, ...]:
    """Return the cautions of what came in by an entry for the first time, and the graver ones."""
    of_entry = (number,)
    events = select(book, SkullEvent, SKULL_EVENTS, OF_ENTRY, of_entry)
    warmths = select(book, BathTemperature, TEMPERATURES, OF_ENTRY, of_entry)
    found = (
        *_of_baths(book, select(book, Bath, BATHS, OF_ENTRY, of_entry)),
        *(_of_whitening(book, number) if any(map(_whitens, events)) else ()),
        *(caution for event in events for caution in graver_of_whitening(event)),
        *(caution for warmth in warmths for caution in _of_warmth(book, warmth)),
    )
    return tuple(dict.fromkeys(found))


def _whitens(event: SkullEvent) -> bool:
    return event.kind is EventKind.WHITENED


def _of_baths(book: Logbook, baths: tuple[Bath, ...]) -> Iterator[Caution]:
    for bath in baths[:1]:  # several baths of one entry have one recipe
        subjects = subjects_of(bath.recipe, bath.temperature_c)
        yield from new_cautions(subjects, used_before(book, left_out=bath))
        yield from graver_of_bath(bath.recipe, bath.temperature_c)


def _of_warmth(book: Logbook, found: BathTemperature) -> tuple[Caution, ...]:
    bath = bath_at(book, found.tub, found.at)
    return graver_of_bath(bath.recipe, found.temperature_c) if bath else ()


def _of_whitening(book: Logbook, number: int) -> tuple[Caution, ...]:
    earlier = ever_happened(book, EventKind.WHITENED, before_entry=number)
    return () if earlier else tuple(new_cautions([Ingredient.PEROXIDE], ()))
