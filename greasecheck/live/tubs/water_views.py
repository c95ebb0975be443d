"""Water changes by one tap, of several tubs at once, and those settled that only the haze shows."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from flask import redirect, render_template, request, url_for

from greasecheck.errors import LogbookError
from greasecheck.live.access.forms import choice_in, number_in
from greasecheck.live.entering import enter_once
from greasecheck.live.fields import back_to, text_in, time_in
from greasecheck.logbook.changes import confirm_change, deny_change, probable_changes
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.table import LAST_TUB
from greasecheck.logbook.store.times import to_text
from greasecheck.logbook.undo import newest_entry
from greasecheck.logbook.water.baths import (
    JUST_CHANGED,
    Filling,
    bath_at,
    change_water,
    correct_change,
    dump_water,
)
from greasecheck.model import Recipe
from greasecheck.words.times import age

if TYPE_CHECKING:
    from collections.abc import Mapping

    from werkzeug.wrappers import Response

    from greasecheck.live.parts import Live
    from greasecheck.logbook.records import ProbableChange


def enter_change(live: Live, number: int) -> Response | str:
    """Enter a water change of one tub; ask back when one was entered just before."""
    return _enter_changes(live, (number,), url_for("tub", number=number))


def enter_changes(live: Live) -> Response | str:
    """Enter a water change of the tubs that are ticked."""
    numbers = [text for text in request.form.getlist("tub") if text.isdecimal()]
    chosen = tuple(int(text) for text in numbers if int(text) <= LAST_TUB)
    if not chosen:
        raise LogbookError("no tub is ticked", hint="tick the tubs whose water you changed")
    return _enter_changes(live, chosen, url_for("today"))


def _enter_changes(live: Live, numbers: tuple[int, ...], home: str) -> Response | str:
    form = request.form
    filling, filled_at = _filling(form), time_in(form)
    with Logbook(live.settings.logbook) as book:
        held = {number: bath_at(book, number, filled_at) for number in numbers}
        soon = [
            bath
            for bath in held.values()
            if bath is not None and filled_at - bath.filled_at < JUST_CHANGED
        ]
        if soon and not form.get("sure"):
            known = live.forms.answer(form, request.path)
            if known is not None:
                return redirect(known, 303)
            return render_template(
                "again.html.j2",
                soon=[(bath.tub, age(filled_at - bath.filled_at)) for bath in soon],
                fields=[(k, v) for k, v in form.items(multi=True) if k != "form_token"],
                back=back_to(home),
            )

        def work() -> str:
            change_water(book, numbers, filled_at, filling)
            return back_to(home, newest_entry(book))

        done = live.forms.once(form, request.path, work)
    return redirect(done, 303)


def settle_probable(live: Live, number: int) -> Response:
    """Enter a change that the haze shows, or that there was none."""
    form = request.form
    was_changed = form.get("changed") == "yes"
    filling = _filling(form)

    def enter(book: Logbook) -> None:
        found = _probable(book, number, form.get("latest", ""))
        if was_changed:
            confirm_change(book, found, filling)
        else:
            deny_change(book, found)

    return enter_once(live, enter, url_for("tub", number=number))


def enter_emptying(live: Live, number: int) -> Response:
    """Enter that a tub was emptied and not filled again."""
    form = request.form
    emptied_at = time_in(form)
    return enter_once(
        live, lambda book: dump_water(book, [number], emptied_at), url_for("tub", number=number)
    )


def correct_bath(live: Live, number: int) -> Response:
    """Correct when a water change was, and what went in."""
    form = request.form
    filled_at, filling = time_in(form), _filling(form)
    near = datetime.fromisoformat(form.get("near") or datetime.now(UTC).isoformat())

    def enter(book: Logbook) -> None:
        at = near if form.get("when", "same") == "same" else filled_at
        correct_change(book, number, near, at, filling)

    return enter_once(live, enter, url_for("tub", number=number))


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
        why=text_in(form, "why"),
        note=text_in(form, "note"),
    )
