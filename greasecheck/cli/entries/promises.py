"""The command that promises a skull for a day, and shows what is and can be promised."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.answers.show import show_skull
from greasecheck.cli.answers.today import odds_line
from greasecheck.cli.shared import logbook_options as options
from greasecheck.cli.shared.clock import given_time
from greasecheck.cli.shared.options import AsJson
from greasecheck.cli.shared.output import print_answer
from greasecheck.cli.shared.plain import plain
from greasecheck.logbook.records import Promise
from greasecheck.logbook.skulls import skulls
from greasecheck.logbook.skulls.promises import enter_promise
from greasecheck.predict.tables import is_known_species
from greasecheck.words.answers import in_ten
from greasecheck.words.times import day_words
from greasecheck.words.typed_times import end_of_day

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.garage.promises import PromiseOdds


def register(app: typer.Typer) -> None:
    """Add the command to the app."""
    app.command()(promise)


def promise(
    name: Annotated[
        str | None,
        typer.Argument(
            help="Name of the skull, or its owner's label; without one, what is promised.",
            autocompletion=options.complete_skull,
        ),
    ] = None,
    day: Annotated[
        str | None,
        typer.Argument(help="The promised day; without it, what can be promised.", metavar="[DAY]"),
    ] = None,
    note: options.NoteText = None,
    now: options.AsOf = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Promise a skull for a day, kept with its odds; or see what is and can be promised.

    For a species of the table instead of a skull it says what to promise for a new one.

    Example: greasecheck promise "fox 3" 2027-03-01
    """
    from greasecheck.garage.milestones import milestones  # noqa: PLC0415
    from greasecheck.garage.promises import (  # noqa: PLC0415 - loads scipy
        dates_in,
        odds_by,
        offer_for,
        standing_odds,
    )
    from greasecheck.garage.skull_stages import advice_for, skull_lives  # noqa: PLC0415 - scipy

    with options.opened_as_of(logbook, now) as (book, at):
        if name is None:
            _list_promises(standing_odds(book, at), as_json=as_json)
            return
        name = skulls.name_of(book, name)
        if day is None and not skulls.is_known(book, name) and is_known_species(name):
            offer = offer_for(book, name, at)
            words = f"a new {name}: promise {day_words(offer.late)} (9 in 10)"
            print_answer(words, {"offer": plain(offer)}, as_json=as_json)
            return
        skull = skulls.skull_named(book, name)
        if day is None:
            show_skull(book, name, at, as_json=as_json)
            return
        options.refuse_past(now)
        ready_by = given_time(day)
        if ":" not in day:
            ready_by = end_of_day(ready_by.astimezone().date())
        advised = advice_for(book, [skull], at)
        dates = dates_in(advised.values(), name)
        odds = odds_by(ready_by, at, milestones(book, name), dates)
        [life] = skull_lives(book, [skull], advised, at)
        made = Promise(
            skull=name, promised_at=given_time(None), ready_by=ready_by, probability=odds, note=note
        )
    with options.open_logbook(logbook) as book:
        enter_promise(book, made)
    safe = life.stage.promise_at
    words = odds_line(name, ready_by, odds) + _safe_words(ready_by, safe)
    print_answer(words, {"promise": plain(made), "safe_at": plain(safe)}, as_json=as_json)


def _safe_words(ready_by: datetime, safe: datetime | None) -> str:
    """Return by when a skull is ready with 9 in 10 where that is later than promised."""
    return f"; 9 in 10 by {day_words(safe)}" if safe and safe > ready_by else ""


def _list_promises(odds: Sequence[PromiseOdds], *, as_json: bool) -> None:
    """Show what is promised, with its odds now and on the day of the promise."""
    lines = [_promise_line(one) for one in odds]
    words = lines or ['nothing is promised; promise a day: greasecheck promise "fox 3" 2027-03-01']
    body = [{**plain(one), "in_danger": one.in_danger} for one in odds]
    print_answer("\n".join(words), {"promises": body}, as_json=as_json)


def _promise_line(one: PromiseOdds) -> str:
    promise = one.promise
    line = odds_line(promise.skull, promise.ready_by, one.now)
    if promise.probability is not None:
        line += f"; when promised {in_ten(promise.probability)}"
    return line + (": tell its owner early" if one.in_danger else "")
