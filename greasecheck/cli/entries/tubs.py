"""Commands for tubs and their water: enter, change, dump, confirm or deny a probable change."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.entries.cautions import warned_once
from greasecheck.cli.shared import logbook_options as options
from greasecheck.cli.shared.clock import local, parse_time
from greasecheck.cli.shared.options import AsJson
from greasecheck.cli.shared.output import print_json
from greasecheck.cli.shared.plain import plain
from greasecheck.errors import LogbookError, SheetError
from greasecheck.logbook import changes
from greasecheck.logbook.records import Tub
from greasecheck.logbook.skulls.skulls import soaking
from greasecheck.logbook.water import baths as water
from greasecheck.model import Recipe, Tag
from greasecheck.reference.tags import marker_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.logbook.records import Bath, ProbableChange
    from greasecheck.logbook.store.book import Logbook

RecipeName = Annotated[
    Recipe | None,
    typer.Option("--recipe", help="What goes in; by default what the last bath had."),
]
TemperatureC = Annotated[
    float | None,
    typer.Option(
        "--temperature",
        help="Temperature of the bath [degrees C]; by default that of the last bath.",
        min=0.0,
        max=100.0,
    ),
]
Left = Annotated[
    float | None,
    typer.Option("--left", help="Share of the old bath left in the tub, 0 to 1.", min=0.0, max=1.0),
]
WithinIt = Annotated[
    str | None,
    typer.Option(
        "--at",
        help="A time between its two readings: which change is meant, and when it was.",
        metavar="TIME",
    ),
]
HOT_C = 60.0  # common practice, no source: warmer water harms the bone
All = Annotated[bool, typer.Option("--all", help="All tubs that hold a bath.")]


def register(app: typer.Typer) -> None:
    """Add the commands to the app."""
    for command in (tub, change, dump, probable, confirm, deny):
        app.command()(command)


def tub(
    number: options.TubNumber,
    name: Annotated[str | None, typer.Option(help="What it is called.")] = None,
    volume: Annotated[
        float | None, typer.Option(help="Volume of bath it holds [L].", min=0.001)
    ] = None,
    started: Annotated[str | None, typer.Option(help="First day of use.", metavar="TIME")] = None,
    checked: Annotated[
        str | None,
        typer.Option(
            help="When you last found heater, soap and bones all well, such as now.",
            metavar="TIME",
        ),
    ] = None,
    note: options.NoteText = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Enter a tub, or change what is known of it.

    Example: greasecheck tub 12 --name "by the door" --volume 60
    """
    known = Tub(
        number=number,
        name=name,
        volume_l=volume,
        started_at=parse_time(started) if started else None,
        checked_at=parse_time(checked) if checked else None,
        note=note,
    )
    with options.open_logbook(logbook, create=True) as book:
        water.enter_tub(book, known)
        (entered,) = (one for one in water.list_tubs(book) if one.number == number)
    if as_json:
        print_json({"tub": plain(entered)})
    else:
        typer.echo(f"tub {number} is entered")
    try:
        marker_of(Tag(number=number))
    except SheetError:
        typer.echo(f"no tag is printed for tub {number}: read its photos with --tub", err=True)


def change(
    tubs: options.TubWords = None,
    every: All = False,
    recipe: RecipeName = None,
    temperature: TemperatureC = None,
    left: Left = None,
    why: options.Why = None,
    note: options.NoteText = None,
    at: options.At = None,
    instead_of: options.InsteadOf = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Enter a water change of one, several or all tubs, or correct one.

    What goes in for the first time shows its cautions.

    Example: greasecheck change 12 14-16 --recipe soap --temperature 40
    """
    filling = water.Filling(
        recipe=recipe, temperature_c=temperature, carry_over_share=left, why=why, note=note
    )
    with options.open_logbook(logbook) as book:
        numbers = _numbers(book, tubs, every=every)
        if instead_of is not None:
            near, right = parse_time(instead_of), parse_time(at)
            with warned_once(book):
                corrected = water.correct_change(book, _only(numbers), near, right, filling)
            _show_baths([corrected], as_json=as_json)
            return
        before = [water.bath_at(book, number, parse_time(at)) for number in numbers]
        with warned_once(book):
            baths = water.change_water(book, numbers, parse_time(at), filling)
    _show_baths(baths, as_json=as_json)
    for old, new in zip(before, baths, strict=True):
        if old is not None and new.filled_at - old.filled_at < water.JUST_CHANGED:
            typer.echo(
                f"tub {old.tub}: a change at {local(old.filled_at)} stands already; if it is the "
                "same, take this one back: greasecheck undo",
                err=True,
            )


def dump(
    tubs: options.TubWords = None,
    every: All = False,
    at: options.At = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Enter that tubs were emptied and not filled again.

    Example: greasecheck dump 12 --at 18:05
    """
    with options.open_logbook(logbook) as book:
        numbers = _numbers(book, tubs, every=every)
        dumped_at = parse_time(at)
        water.dump_water(book, numbers, dumped_at)
        left = [stay for stay in soaking(book) if stay.tub in numbers]
    if as_json:
        print_json({"tubs": list(numbers), "dumped_at": dumped_at.isoformat()})
    else:
        typer.echo(f"emptied: tub {', '.join(map(str, numbers))}, {local(dumped_at)}")
    for stay in left:
        typer.echo(
            f"{stay.skull} still lies in tub {stay.tub} by the logbook: tell what became of it, "
            f"such as: greasecheck skull log '{stay.skull}' degreased",
            err=True,
        )


def probable(
    tubs: options.TubWords = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """List the water changes that nobody entered but the haze betrays.

    Example: greasecheck probable
    """
    with options.open_logbook(logbook) as book:
        numbers = options.named_tubs(book, tubs)
        found = [one for number in numbers for one in changes.probable_changes(book, number)]
    if as_json:
        print_json({"probable_changes": plain(found)})
        return
    for one in found:
        typer.echo(probable_words(one))
    if not found:
        typer.echo("no probable change; every fall of the haze is explained")


def confirm(
    tub: options.TubNumber,
    recipe: RecipeName = None,
    temperature: TemperatureC = None,
    left: Left = None,
    at: WithinIt = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Confirm a tub's newest probable change, or the one at a time, as a water change.

    Without --at it is entered halfway between its two readings.

    Example: greasecheck confirm 12 --recipe soap
    """
    filling = water.Filling(
        recipe=recipe, temperature_c=temperature, carry_over_share=left, why="confirmed"
    )
    time = parse_time(at) if at else None
    with options.open_logbook(logbook) as book:
        baths = changes.confirm_change(book, _newest_probable(book, tub, time), filling, time)
    _show_baths(baths, as_json=as_json)


def deny(
    tub: options.TubNumber,
    at: WithinIt = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Deny a tub's newest probable change, or the one at a time: the water stayed.

    Example: greasecheck deny 12
    """
    with options.open_logbook(logbook) as book:
        one = _newest_probable(book, tub, parse_time(at) if at else None)
        changes.deny_change(book, one)
    if as_json:
        print_json({"denied": plain(one)})
    else:
        typer.echo(f"tub {tub}: no change from {local(one.earliest)} to {local(one.latest)}")


def probable_words(change: ProbableChange) -> str:
    """Return a probable change in words, with the commands that settle it."""
    return (
        f"tub {change.tub}: probable change between {local(change.earliest)} and "
        f"{local(change.latest)}, haze {change.before_per_m:.1f} -> {change.after_per_m:.1f} /m;"
        f" greasecheck confirm {change.tub}, or deny {change.tub}"
    )


def _numbers(book: Logbook, words: list[str] | None, *, every: bool) -> tuple[int, ...]:
    if every == bool(words):
        raise LogbookError("which tubs?", hint="name them, such as 12 14-16, or say --all")
    if words:
        return options.tub_numbers(words)
    now = parse_time(None)
    filled = tuple(
        number for number in options.named_tubs(book, None) if water.bath_at(book, number, now)
    )
    if not filled:
        raise LogbookError("no tub holds a bath", hint="name the tubs, such as 12 14-16")
    return filled


def _only(numbers: Sequence[int]) -> int:
    if len(numbers) > 1:
        raise LogbookError("--instead-of corrects one tub's change", hint="name one tub")
    return numbers[0]


def _newest_probable(book: Logbook, tub: int, at: datetime | None) -> ProbableChange:
    found = changes.newest_probable(book, tub, at)
    if found is None and at is not None:  # the forecast finds falls that the list does not
        found = changes.between_readings(book, tub, at)
    if found is None:
        raise LogbookError(
            f"tub {tub} has no probable change{' at that time' if at else ''}",
            hint="see them: greasecheck probable; enter a change: greasecheck change",
        )
    return found


def _tell_hot(baths: Sequence[Bath]) -> None:
    """Ask on stderr whether degrees Fahrenheit were meant."""
    for hot in sorted({warmth for bath in baths if (warmth := bath.temperature_c or 0.0) > HOT_C}):
        typer.echo(
            f"{hot:g} °C is hotter than degreasing baths are kept; if you meant {hot:g} °F, that "
            f"is {(hot - 32) / 1.8:.0f} °C: greasecheck undo, and enter it anew",
            err=True,
        )


def _show_baths(baths: Sequence[Bath], *, as_json: bool) -> None:
    _tell_hot(baths)
    if as_json:
        print_json({"baths": plain(baths)})
        return
    for bath in baths:
        warmth = "" if bath.temperature_c is None else f" at {bath.temperature_c:g} °C"
        typer.echo(f"tub {bath.tub}: {bath.recipe}{warmth}, filled {local(bath.filled_at)}")
