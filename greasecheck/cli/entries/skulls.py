"""Commands for skulls: list, show, enter them, note what happens to them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from difflib import get_close_matches
from enum import StrEnum
from functools import partial
from time import sleep
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.answers.show import show_skull
from greasecheck.cli.entries.cautions import warned_once
from greasecheck.cli.shared import logbook_options as options
from greasecheck.cli.shared.clock import given_time, span_words
from greasecheck.cli.shared.options import AsJson
from greasecheck.cli.shared.output import print_answer, print_json, print_slips
from greasecheck.cli.shared.plain import plain
from greasecheck.errors import LogbookError
from greasecheck.garage.answers import skull_tasks
from greasecheck.garage.cautions import graver_of_whitening
from greasecheck.garage.milestones import all_milestones
from greasecheck.garage.soaks.answers import standing_briefs
from greasecheck.logbook.records import FollowUp, Skull, SkullEvent, WeightClass
from greasecheck.logbook.renaming import rename_skull
from greasecheck.logbook.skulls import skulls
from greasecheck.logbook.skulls.stays import skull_events, soaking
from greasecheck.logbook.today import garage_today
from greasecheck.model import BodyCondition
from greasecheck.predict.advice.stage import skull_stage
from greasecheck.predict.tables import is_known_species, known_species, species_range
from greasecheck.stages import EventKind, Stage
from greasecheck.words.answers import short_words
from greasecheck.words.stages import short_step
from greasecheck.words.times import exact

if TYPE_CHECKING:
    from collections.abc import Mapping

    from greasecheck.logbook.skulls.stays import Stay
    from greasecheck.logbook.store.book import Logbook


def complete_species(incomplete: str) -> list[str]:
    """Complete a species of the table."""
    return [name for name in known_species() if name.startswith(incomplete)]


class Happening(StrEnum):
    """What can be entered of a skull: an event, or a later look at it."""

    ENTERED = "entered"
    MOVED = "moved"
    DEGREASED = "degreased"
    WHITENED = "whitened"
    RESOAKED = "resoaked"
    DRIED = "dried"
    RETURNED = "returned"
    WHITE = "white"
    YELLOW = "yellow"


ALIKE = 0.65  # of the letters, as difflib counts them; a dragon is 0.62 of a raccoon
LOOKS = {Happening.WHITE: False, Happening.YELLOW: True}
# What each option belongs to; beside anything else it would be left out.
BELONGS = {
    "--strength": (Happening.WHITENED,),
    "--hours": (Happening.WHITENED,),
    "--yellowness": tuple(LOOKS),
    "--share": tuple(LOOKS),
    "--instead-of": tuple(one for one in Happening if one not in LOOKS),
}


def register(app: typer.Typer) -> None:
    """Add the commands to the app."""
    app.command()(skull)


def skull(
    name: Annotated[
        str | None,
        typer.Argument(
            help="Name of the skull, or its owner's label; all are listed without one.",
            autocompletion=options.complete_skull,
        ),
    ] = None,
    what: Annotated[
        Happening | None,
        typer.Argument(help="What happened, or how it looks later.", metavar="[WHAT]"),
    ] = None,
    species: Annotated[
        str | None,
        typer.Option(
            help="Species, such as 'roe deer'; `skull` alone lists them.",
            callback=options.tidied,
            autocompletion=complete_species,
        ),
    ] = None,
    tub: options.TubOption = None,
    weight: Annotated[WeightClass | None, typer.Option(help="How massive it is.")] = None,
    condition: Annotated[BodyCondition | None, typer.Option(help="How fat the animal was.")] = None,
    owner: Annotated[
        str | None, typer.Option(help="Whom it belongs to.", callback=options.tidied)
    ] = None,
    tag: Annotated[
        int | None, typer.Option(help="Number of its own printed tag.", min=1, max=200)
    ] = None,
    strength: Annotated[
        float | None,
        typer.Option(help="Strength of the whitening peroxide [% by mass].", min=0.0, max=100.0),
    ] = None,
    hours: Annotated[
        float | None, typer.Option(help="How long it was whitened [h].", min=0.0)
    ] = None,
    yellowness: Annotated[
        float | None, typer.Option(help="Yellowness index at a later look [ASTM E313, D65/2].")
    ] = None,
    share: Annotated[
        float | None,
        typer.Option(help="Share in yellow patches at a later look.", min=0.0, max=1.0),
    ] = None,
    rename: Annotated[str | None, typer.Option(help="Its right name.", metavar="NAME")] = None,
    same: Annotated[
        bool, typer.Option("--same", help="With --rename: that skull is entered, both are one.")
    ] = False,
    new: Annotated[
        bool, typer.Option("--new", help="Enter it, though nothing else is known of it.")
    ] = False,
    note: options.NoteText = None,
    at: options.At = None,
    instead_of: options.InsteadOf = None,
    now: options.AsOf = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """List the skulls, show one, enter one, or enter what happened to it.

    WHAT is entered, moved or resoaked (with --tub), degreased, whitened (with --strength and
    --hours), dried, returned; or white or yellow for a later look. Without WHAT, facts such as
    --species, or --new, enter the skull, with --tub its soak begins; alone it is shown.

    Example: greasecheck skull "fox 3" whitened --strength 3 --hours 24
    """
    facts = Skull(
        name=name or "",
        species=species,
        weight_class=weight,
        condition=condition,
        owner=owner,
        tag=tag,
        note=note,
    )
    look_again = partial(FollowUp, yi_e313=yellowness, yellow_patch_share=share, note=note)
    happened = partial(SkullEvent, tub=tub, strength_percent=strength, duration_h=hours, note=note)
    is_told = new or tub is not None or facts != Skull(name=facts.name)
    _refuse_mixed(facts, what, rename, tub, at, new=new)
    given = (strength, hours, yellowness, share, instead_of)
    _refuse_unused(what, dict(zip(BELONGS, given, strict=True)))
    creates = what is None and tub is None and is_told
    opened = options.open_or_make_logbook if creates else options.open_logbook
    if name is None:
        with options.opened_as_of(logbook, now) as (past, when):
            _list_all(past, when, as_json=as_json)
        return
    with opened(logbook) as book:
        name = skulls.name_of(book, name)
        if what is None and rename is None and not is_told:
            with options.opened_as_of(logbook, now) as (past, when):
                show_skull(past, name, when, as_json=as_json)
            return
        options.refuse_past(now)
        if rename is not None:
            rename = skulls.name_of(book, rename)
            rename_skull(book, name, rename, merge=same)
            print_answer(f"skull {name} is called {rename}", {"skull": rename}, as_json=as_json)
        elif what in LOOKS:
            look = look_again(skull=name, seen_at=given_time(at), yellowed=LOOKS[what])
            _enter_look(book, look, as_json=as_json)
        elif what is not None:
            when, kind = given_time(at), EventKind(what)
            if instead_of is None:
                when = _own_second(book, name, kind, when)
            event = happened(skull=name, happened_at=when, kind=kind)
            _enter_event(book, event, instead_of, as_json=as_json)
        else:
            if new and skulls.is_known(book, name):
                raise LogbookError(
                    f"skull {name} is in the logbook already", hint="give another name"
                )
            _enter(book, replace(facts, name=name), tub, given_time(at), as_json=as_json)


def _refuse_mixed(
    facts: Skull,
    what: Happening | None,
    rename: str | None,
    tub: int | None,
    at: str | None,
    *,
    new: bool,
) -> None:
    """Refuse what would be left out: facts beside an event, either beside a new name, a lone time.

    Raises
    ------
    LogbookError
        When something is given that the entry has no place for.
    """
    known = new or replace(facts, note=None) != Skull(name=facts.name)
    if (known and (what or rename)) or (rename and (what or facts.note or tub is not None)):
        raise LogbookError(
            "a skull's name, what is known of it and what happened to it are entries of their own",
            hint="enter one after the other",
        )
    if at is not None and what is None and tub is None:
        raise LogbookError(
            "nothing is said to have happened at that time",
            hint="name the tub it went into, or what happened to it",
        )


def _refuse_unused(what: Happening | None, given: Mapping[str, object]) -> None:
    """Refuse options that say nothing of what happened."""
    for option, value in given.items():
        if value is not None and what not in BELONGS[option]:
            raise typer.BadParameter(f"{option} goes with: {', '.join(BELONGS[option])}")


def _enter_look(book: Logbook, look: FollowUp, *, as_json: bool) -> None:
    skulls.enter_follow_up(book, look)
    words = "yellowed" if look.yellowed else "still white"
    print_answer(f"skull {look.skull}: {words}", {"follow_up": plain(look)}, as_json=as_json)


def _own_second(book: Logbook, name: str, kind: EventKind, at: datetime) -> datetime:
    """Return a time that keeps steps of one day in the order in which they are entered.

    A step that is entered then already keeps its time, and is refused; a skull may move twice.
    Of steps within this second, the later one waits for the next.
    """
    events = skull_events(book, name)
    twice = any((one.kind, one.happened_at) == (kind, at) for one in events)
    if twice and kind is not EventKind.MOVED:
        return at
    free = skulls.free_second(book, name, at)
    sleep(max(min((free - datetime.now(UTC)).total_seconds(), (free - at).total_seconds()), 0.0))
    return free


def _enter_event(
    book: Logbook, event: SkullEvent, instead_of: str | None, *, as_json: bool
) -> None:
    with warned_once(book) as graver:
        graver.extend(graver_of_whitening(event))
        if instead_of is None:
            skulls.enter_event(book, event)
        else:
            skulls.correct_event(book, event, given_time(instead_of))
    into = f", tub {event.tub}" if event.tub is not None else ""
    words = f"skull {event.skull}: {event.kind}{into}, {exact(event.happened_at)}"
    print_answer(words, {"event": plain(event)}, as_json=as_json)
    print_slips(book)


def _enter(book: Logbook, facts: Skull, tub: int | None, at: datetime, *, as_json: bool) -> None:
    name, first = facts.name, None
    if tub is not None:
        first = SkullEvent(skull=name, happened_at=at, kind=EventKind.ENTERED, tub=tub)
    is_new = not skulls.is_known(book, name)
    skulls.enter_skull(book, facts, first)
    entered = skulls.skull_named(book, name)
    alike = skulls.written_alike(name, [one.name for one in skulls.list_skulls(book)])
    known = entered.species is None or is_known_species(entered.species)
    body = {"skull": plain(entered), "event": plain(first), "species_known": known}
    into = f" into tub {tub}" if tub is not None else ""
    words = f"skull {name} is entered{into}" if is_new or into else f"noted of skull {name}"
    print_answer(words, body, as_json=as_json)
    print_slips(book)
    if alike:
        typer.echo(
            f"there is also {', '.join(alike)}: if it is the same skull, say so: greasecheck "
            f"skull '{name}' --rename '{alike[0]}' --same",
            err=True,
        )
    if facts.species is not None and not is_known_species(facts.species):
        typer.echo(_unknown_species_words(facts.species), err=True)


def _unknown_species_words(species: str) -> str:
    near = get_close_matches(species.strip().lower(), known_species(), cutoff=ALIKE)
    usual = species_range(species)
    return (
        f"the species table has no '{species}'"
        + (f"; is it one of: {', '.join(near)}?" if near else ".")
        + f" Its forecast begins at {usual.low_days:.0f} to {usual.high_days:.0f} days;"
        " see the species it has: greasecheck skull"
    )


def _list_all(book: Logbook, now: datetime, *, as_json: bool) -> None:
    """List the skulls, and where each soaks or what is next for it."""
    known = skulls.list_skulls(book)
    where = {stay.skull: stay for stay in soaking(book) if stay.since <= now}
    if as_json:
        rows = [{**plain(one), "soak": plain(where.get(one.name))} for one in known]
        print_json({"skulls": rows, "species": list(known_species())})
        return
    reached = all_milestones(book)
    tubs = {stay.tub for stay in where.values()}
    tasks = skull_tasks(garage_today(book, now), standing_briefs(book, tubs, now))
    for one in known:
        stage = skull_stage(reached.get(one.name, ()), now).stage
        place = _place_words(stage, where.get(one.name), now)
        asked = f": {short_words(tasks[one.name], now)}" if one.name in tasks else ""
        typer.echo(f"{one.name}  {one.species or 'species unknown'}  {place}{asked}")
    typer.echo(f"species of the table: {', '.join(known_species())}", err=True)


def _place_words(stage: Stage, stay: Stay | None, now: datetime) -> str:
    """Return where a skull lies and for how long, or what is next for it."""
    if stay is None:
        return short_step(stage) if stage is Stage.FOLLOWED_UP else f"next: {short_step(stage)}"
    doing = "rinsing after whitening" if stage is Stage.RINSING else "soaking"
    return f"tub {stay.tub}, {doing} for {span_words(now - stay.soak_since)}"
