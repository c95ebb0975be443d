"""Commands for skulls: enter them, note what happens to them, see their story."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.entries.cautions import warned_once
from greasecheck.cli.shared import logbook_options as options
from greasecheck.cli.shared.clock import local, parse_time, span_words
from greasecheck.cli.shared.options import AsJson
from greasecheck.cli.shared.output import print_json
from greasecheck.cli.shared.plain import plain
from greasecheck.logbook.records import FollowUp, Skull, SkullEvent, WeightClass
from greasecheck.logbook.skulls import skulls
from greasecheck.logbook.story import skull_story
from greasecheck.predict.tables import is_known_species, known_species, species_range
from greasecheck.stages import EventKind

if TYPE_CHECKING:
    from greasecheck.logbook.story import Moment

skull = typer.Typer(
    no_args_is_help=True,
    help="Enter skulls, note what happens to them, see their story.",
    rich_markup_mode="markdown",
)


def complete_species(incomplete: str) -> list[str]:
    """Complete a species of the table."""
    return [name for name in known_species() if name.startswith(incomplete)]


def register(app: typer.Typer) -> None:
    """Add the group of commands to the app."""
    app.add_typer(skull, name="skull")


@skull.command()
def enter(
    name: options.SkullName,
    species: Annotated[
        str | None,
        typer.Option(
            help="Species, as in the species table, such as 'roe deer'.",
            autocompletion=complete_species,
        ),
    ] = None,
    tub: options.TubOption = None,
    weight: Annotated[WeightClass | None, typer.Option(help="How massive it is.")] = None,
    owner: Annotated[str | None, typer.Option(help="Whom it belongs to.")] = None,
    tag: Annotated[
        int | None, typer.Option(help="Number of its own printed tag.", min=1, max=200)
    ] = None,
    note: options.NoteText = None,
    at: options.At = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Enter a skull, or change what is known of it; with --tub its soak begins.

    Example: greasecheck skull enter "fox 3" --species fox --tub 12 --at 2026-03-04
    """
    told = Skull(name=name, species=species, weight_class=weight, owner=owner, tag=tag, note=note)
    with options.open_logbook(logbook, create=True) as book:
        first = None
        if tub is not None:
            first = SkullEvent(
                skull=name, happened_at=parse_time(at), kind=EventKind.ENTERED, tub=tub
            )
        skulls.enter_skull(book, told, first)
        entered = skulls.skull_named(book, name)
        alike = skulls.written_alike(name, [one.name for one in skulls.list_skulls(book)])
    if as_json:
        known = entered.species is None or is_known_species(entered.species)
        print_json({"skull": plain(entered), "event": plain(first), "species_known": known})
    else:
        typer.echo(f"skull {name} is entered" + (f" into tub {tub}" if tub is not None else ""))
    if alike:
        typer.echo(
            f"there is also {', '.join(alike)}: if it is the same skull, take this entry back by "
            "'greasecheck undo' and use that name",
            err=True,
        )
    if species is not None and not is_known_species(species):
        typer.echo(_unknown_species_words(species), err=True)


def _unknown_species_words(species: str) -> str:
    near = get_close_matches(species.strip().lower(), known_species())
    usual = species_range(species)
    return (
        f"the species table has no '{species}'"
        + (f"; is it one of: {', '.join(near)}?" if near else "")
        + f" Its forecast begins at {usual.low_days:.0f} to {usual.high_days:.0f} days"
    )


@skull.command()
def log(
    name: options.SkullName,
    kind: Annotated[EventKind, typer.Argument(help="What happened.", metavar="WHAT")],
    tub: options.TubOption = None,
    strength: Annotated[
        float | None,
        typer.Option(help="Strength of the whitening peroxide [% by mass].", min=0.0, max=100.0),
    ] = None,
    hours: Annotated[
        float | None, typer.Option(help="How long it was whitened [h].", min=0.0)
    ] = None,
    note: options.NoteText = None,
    at: options.At = None,
    instead_of: options.InsteadOf = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Log what happened to a skull, or correct it.

    WHAT is entered, moved or resoaked (with --tub), degreased, whitened (with --strength and
    --hours), dried or returned.

    Example: greasecheck skull log "fox 3" whitened --strength 3 --hours 24
    """
    event = SkullEvent(
        skull=name,
        happened_at=parse_time(at),
        kind=kind,
        tub=tub,
        strength_percent=strength,
        duration_h=hours,
        note=note,
    )
    with options.open_logbook(logbook) as book, warned_once(book):
        if instead_of is None:
            skulls.enter_event(book, event)
        else:
            skulls.correct_event(book, event, parse_time(instead_of))
    if as_json:
        print_json({"event": plain(event)})
    else:
        into = f", tub {tub}" if tub is not None else ""
        typer.echo(f"skull {name}: {kind}{into}, {local(event.happened_at)}")


@skull.command("follow-up")
def follow_up(
    name: options.SkullName,
    yellowed: Annotated[
        bool, typer.Option("--yellowed/--white", help="Whether it has yellowed since.")
    ],
    yellowness: Annotated[
        float | None, typer.Option(help="Its yellowness index now [ASTM E313, D65/2].")
    ] = None,
    share: Annotated[
        float | None, typer.Option(help="Share of it in yellow patches.", min=0.0, max=1.0)
    ] = None,
    at: options.At = None,
    note: options.NoteText = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Enter how a finished skull looks some weeks later.

    Example: greasecheck skull follow-up "fox 3" --white --yellowness 18
    """
    seen = FollowUp(
        skull=name,
        seen_at=parse_time(at),
        yellowed=yellowed,
        yi_e313=yellowness,
        yellow_patch_share=share,
        note=note,
    )
    with options.open_logbook(logbook) as book:
        skulls.enter_follow_up(book, seen)
    if as_json:
        print_json({"follow_up": plain(seen)})
    else:
        typer.echo(f"skull {name}: {'yellowed' if yellowed else 'still white'}")


@skull.command("list")
def list_all(logbook: options.LogbookFile = None, as_json: AsJson = False) -> None:
    """List the skulls, and where each soaks.

    Example: greasecheck skull list
    """
    with options.open_logbook(logbook) as book:
        known = skulls.list_skulls(book)
        where = {stay.skull: stay for stay in skulls.soaking(book)}
    if as_json:
        rows = [{**plain(one), "soak": plain(where.get(one.name))} for one in known]
        print_json({"skulls": rows})
        return
    for one in known:
        stay = where.get(one.name)
        place = "not soaking"
        if stay is not None:
            soaked = span_words(parse_time(None) - stay.soak_since)
            place = f"tub {stay.tub}, soaking for {soaked}"
        typer.echo(f"{one.name}  {one.species or 'species unknown'}  {place}")


@skull.command()
def show(
    name: options.SkullName, logbook: options.LogbookFile = None, as_json: AsJson = False
) -> None:
    """Show a skull's story: its soaks, water changes, readings and what came after.

    Example: greasecheck skull show "fox 3"
    """
    with options.open_logbook(logbook) as book:
        known = skulls.skull_named(book, name)
        moments = skull_story(book, name)
    if as_json:
        print_json({"skull": plain(known), "story": plain(moments)})
        return
    facts = (known.species, known.weight_class, known.owner, known.note)
    typer.echo("  ".join([known.name, *(fact for fact in facts if fact)]))
    for moment in moments:
        typer.echo(f"  {_line(moment)}")


def _line(moment: Moment) -> str:
    return f"{local(moment.at)}  {moment.what}"
