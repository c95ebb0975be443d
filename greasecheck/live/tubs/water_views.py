"""Water changes by one tap, and those settled that the haze betrays."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from flask import redirect, render_template, request, url_for

from greasecheck.errors import LogbookError
from greasecheck.live.access.forms import choice_in, number_in
from greasecheck.live.words import age
from greasecheck.logbook.changes import confirm_change, deny_change, probable_changes
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.tables import BATHS, DENIALS
from greasecheck.logbook.store.times import to_text
from greasecheck.logbook.undo import entry_of
from greasecheck.logbook.water.baths import JUST_CHANGED, Filling, bath_at, change_water
from greasecheck.model import Recipe

if TYPE_CHECKING:
    from collections.abc import Mapping

    from werkzeug.wrappers import Response

    from greasecheck.live.parts import Live
    from greasecheck.logbook.records import Bath, ProbableChange


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
    """Enter a change that the haze betrays, or that there was none."""
    form = request.form
    was_changed = form.get("changed") == "yes"
    filling = _filling(form)
    with Logbook(live.settings.logbook) as book:

        def work() -> str:
            found = _probable(book, number, form.get("latest", ""))
            if was_changed:
                [bath] = confirm_change(book, found, filling)
                return _bath_entry(book, bath)
            deny_change(book, found)
            key = (found.tub, to_text(found.earliest), to_text(found.latest))
            return url_for("entry", number=entry_of(book, DENIALS, key))

        return redirect(live.forms.once(form, request.path, work), 303)


def _probable(book: Logbook, number: int, latest: str) -> ProbableChange:
    """Return the probable change that the form was about."""
    for found in probable_changes(book, number):
        if to_text(found.latest) == latest:
            return found
    raise LogbookError(
        f"this change of tub {number} is not probable any more",
        hint="somebody has settled it; see today's list",
    )


def _filling(form: Mapping[str, str]) -> Filling:
    left_percent = number_in(form, "left", "share left", 0.0, 100.0)
    return Filling(
        recipe=choice_in(form, "recipe", Recipe),
        temperature_c=number_in(form, "temperature", "temperature", 0.0, 100.0),
        carry_over_share=None if left_percent is None else left_percent / 100,
    )
