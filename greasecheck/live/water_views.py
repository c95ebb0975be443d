"""Water changes by one tap, probable ones settled, and the way back from an entry."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from flask import redirect, render_template, request, url_for

from greasecheck.errors import LiveError, LogbookError
from greasecheck.garage.cautions import subjects_of, used_before
from greasecheck.live.forms import choice_in, number_in
from greasecheck.live.words import age
from greasecheck.logbook.book import Logbook
from greasecheck.logbook.changes import confirm_change, deny_change, probable_changes
from greasecheck.logbook.mapping import select
from greasecheck.logbook.records import Bath
from greasecheck.logbook.tables import BATHS, DENIALS
from greasecheck.logbook.times import to_text
from greasecheck.logbook.undo import entry_of, find_entry, last_entry, undo
from greasecheck.logbook.water import Filling, bath_at, change_water
from greasecheck.model import Recipe
from greasecheck.reference.cautions import new_cautions

if TYPE_CHECKING:
    from collections.abc import Mapping

    from werkzeug.wrappers import Response

    from greasecheck.live.parts import Live
    from greasecheck.logbook.records import ProbableChange
    from greasecheck.reference.cautions import Caution

JUST_CHANGED = timedelta(minutes=30)  # own choice: nobody changes the same water twice so soon


def enter_change(live: Live, number: int) -> Response | str:
    """Enter a water change now, and show the entry; ask back when one was entered just before."""
    form = request.form
    filling = _filling(form)
    with Logbook(live.settings.logbook) as book:
        now = datetime.now(UTC)
        bath = bath_at(book, number, now)
        if bath is not None and now - bath.filled_at < JUST_CHANGED and not form.get("sure"):
            known = live.forms.answer(form, request.path)
            if known is not None:
                return redirect(known, 303)
            return render_template(
                "again.html.j2", number=number, ago=age(now - bath.filled_at), form=form
            )
        done = live.forms.once(form, request.path, lambda: _change(book, number, filling))
    return redirect(done, 303)


def _change(book: Logbook, number: int, filling: Filling) -> str:
    [bath] = change_water(book, [number], datetime.now(UTC), filling)
    return _bath_entry(book, bath)


def _bath_entry(book: Logbook, bath: Bath) -> str:
    key = (bath.tub, to_text(bath.filled_at))
    return url_for("entry", number=entry_of(book, BATHS, key))


def settle_probable(live: Live, number: int) -> Response:
    """Enter the newest change that the haze betrays, or that there was none."""
    form = request.form
    was_changed = form.get("changed") == "yes"
    filling = _filling(form)
    with Logbook(live.settings.logbook) as book:

        def work() -> str:
            found = _newest_probable(book, number)
            if was_changed:
                [bath] = confirm_change(book, found, filling)
                return _bath_entry(book, bath)
            deny_change(book, found)
            key = (found.tub, to_text(found.earliest), to_text(found.latest))
            return url_for("entry", number=entry_of(book, DENIALS, key))

        return redirect(live.forms.once(form, request.path, work), 303)


def _newest_probable(book: Logbook, number: int) -> ProbableChange:
    found = probable_changes(book, number)
    if not found:
        raise LogbookError(
            f"tub {number} has no probable water change any more",
            hint="somebody has settled it; see today's list",
        )
    return found[-1]


def show_entry(live: Live, number: int) -> str:
    """Show an entry, its first-time cautions, and the way back while it is the last one."""
    with Logbook(live.settings.logbook) as book:
        entry, last = find_entry(book, number), last_entry(book)
        if entry is None:
            raise LiveError("there is no such entry", hint="see today's list")
        baths = select(book, Bath, BATHS, "WHERE entry_id = ?", (number,))
        cautions = _first_cautions(book, baths[0]) if baths else ()
    is_last = last is not None and last.number == number
    return render_template(
        "entry.html.j2", entry=entry, baths=baths, cautions=cautions, is_last=is_last, last=last
    )


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


def _filling(form: Mapping[str, str]) -> Filling:
    left_percent = number_in(form, "left", "share left", 0.0, 100.0)
    return Filling(
        recipe=choice_in(form, "recipe", Recipe),
        temperature_c=number_in(form, "temperature", "temperature", -20.0, 120.0),
        carry_over_share=None if left_percent is None else left_percent / 100,
    )


def _first_cautions(book: Logbook, bath: Bath) -> tuple[Caution, ...]:
    """Return the cautions that no other bath or whitening has called for."""
    return new_cautions(subjects_of(bath.recipe, bath.temperature_c), used_before(book, but=bath))
