"""What happens to a skull: in, moved, done, whitened, soaked again, dried, back, looked at."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from time import sleep
from typing import TYPE_CHECKING

from flask import render_template, request, url_for

from greasecheck.errors import LiveError
from greasecheck.garage.milestones import milestones
from greasecheck.garage.promises import odds_by, offer_for
from greasecheck.live.access.forms import choice_in, number_in
from greasecheck.live.entering import enter_once
from greasecheck.live.fields import required_text, text_in, time_in, whole_in
from greasecheck.live.tubs.answering import garage_answers
from greasecheck.logbook.records import FollowUp, Promise, SkullEvent
from greasecheck.logbook.skulls.promises import enter_promise
from greasecheck.logbook.skulls.skulls import (
    correct_event,
    enter_event,
    enter_follow_up,
    free_second,
)
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.table import LAST_TUB
from greasecheck.predict.tables import is_known_species, known_species
from greasecheck.stages import EventKind
from greasecheck.words.typed_times import end_of_day

if TYPE_CHECKING:
    from collections.abc import Mapping

    from werkzeug.wrappers import Response

    from greasecheck.live.parts import Live

MOST_HOURS = 10_000.0
MOST_WAIT_S = 2.0  # until the next second, when two steps are tapped within one


def enter_happening(live: Live) -> Response:
    """Enter what happened to a skull, or correct when it did."""
    form = request.form
    event = _event(form)

    def enter(book: Logbook) -> None:
        near = form.get("near")
        if near:
            correct_event(book, event, datetime.fromisoformat(near))
        else:
            at = free_second(book, event.skull, event.happened_at)
            sleep(min(max((at - datetime.now(UTC)).total_seconds(), 0.0), MOST_WAIT_S))
            enter_event(book, replace(event, happened_at=at))

    return enter_once(live, enter, url_for("skull", name=event.skull))


def enter_look(live: Live) -> Response:
    """Enter how a finished skull looks later."""
    form = request.form
    seen = form.get("seen")
    if seen not in {"white", "yellow"}:
        raise LiveError("white or yellow?", hint="tap one of the two")
    look = FollowUp(
        skull=required_text(form, "skull", "skull"),
        seen_at=time_in(form),
        yellowed=seen == "yellow",
        yi_e313=number_in(form, "yellowness", "yellowness", -200.0, 200.0),
        yellow_patch_share=_share(form),
        note=text_in(form, "note"),
    )
    return enter_once(
        live, lambda book: enter_follow_up(book, look), url_for("skull", name=look.skull)
    )


def show_promises(live: Live) -> str:
    """Show all promises with their odds, and what to promise for a species if one is chosen."""
    answers, chosen = garage_answers(live), request.args.get("species", "")
    offer = None
    if is_known_species(chosen):
        with Logbook(live.settings.logbook) as book:
            offer = offer_for(book, chosen, answers.now)
    return render_template(
        "promises.html.j2",
        promises=answers.promises,
        offer=offer,
        chosen=chosen,
        species=known_species(),
    )


def promise(live: Live) -> Response:
    """Enter the day that a skull is promised for, with its odds as far as they are known."""
    form = request.form
    skull, ready_by = required_text(form, "skull", "skull"), _day(form)
    answers = garage_answers(live)

    def enter(book: Logbook) -> None:
        reached = milestones(book, skull)
        made = Promise(
            skull=skull,
            promised_at=datetime.now(UTC),
            ready_by=ready_by,
            probability=odds_by(ready_by, answers.now, reached, answers.dates.get(skull)),
            note=text_in(form, "note"),
        )
        enter_promise(book, made)

    return enter_once(live, enter, url_for("skull", name=skull))


def _event(form: Mapping[str, str]) -> SkullEvent:
    kind = choice_in(form, "kind", EventKind)
    if kind is None:
        raise LiveError("what happened to it is missing", hint="tap one of the buttons")
    return SkullEvent(
        skull=required_text(form, "skull", "skull"),
        happened_at=time_in(form),
        kind=kind,
        tub=whole_in(form, "tub", "tub", LAST_TUB),
        strength_percent=number_in(form, "strength", "strength", 0.0, 100.0),
        duration_h=number_in(form, "hours", "hours", 0.0, MOST_HOURS),
        note=text_in(form, "note"),
    )


def _share(form: Mapping[str, str]) -> float | None:
    percent = number_in(form, "patches", "yellow part", 0.0, 100.0)
    return None if percent is None else percent / 100


def _day(form: Mapping[str, str]) -> datetime:
    """Return the end of the day that was chosen."""
    try:
        return end_of_day(datetime.fromisoformat(form.get("day", "")).date())
    except (ValueError, OverflowError) as error:
        raise LiveError("the day is missing", hint="choose the day it is promised for") from error
