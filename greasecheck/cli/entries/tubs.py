"""Commands for tubs and their water: show, enter, change, empty, answer a question."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.answers.show import show_tub
from greasecheck.cli.answers.today import questions, today
from greasecheck.cli.entries.cautions import warned_once
from greasecheck.cli.shared import logbook_options as options
from greasecheck.cli.shared.clock import given_time
from greasecheck.cli.shared.options import AsJson
from greasecheck.cli.shared.output import print_answer, print_json, print_slips
from greasecheck.cli.shared.plain import plain
from greasecheck.errors import LogbookError, SheetError
from greasecheck.garage.cautions import graver_of_bath
from greasecheck.logbook import changes
from greasecheck.logbook.records import BathTemperature, ToppedUp, Tub
from greasecheck.logbook.renaming import renumber_tub
from greasecheck.logbook.skulls.stays import soaking
from greasecheck.logbook.store.table import LAST_TUB
from greasecheck.logbook.store.tables import LEAST_L
from greasecheck.logbook.today import garage_today
from greasecheck.logbook.water import baths as water
from greasecheck.logbook.water.between import enter_temperature, enter_top_up
from greasecheck.model import Recipe, Tag
from greasecheck.reference.tags import marker_of
from greasecheck.words.figures import numbers_words
from greasecheck.words.times import day_words, exact

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime
    from pathlib import Path

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
        help="Temperature of the bath [degrees C]; by default the last that was entered.",
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
    for command in (tub, change, answer):
        app.command()(command)


def tub(
    number: Annotated[
        int | None,
        typer.Argument(
            help="Number of the tub; all are listed without one.",
            min=0,
            max=LAST_TUB,
            autocompletion=options.complete_tub,
        ),
    ] = None,
    name: Annotated[
        str | None, typer.Option(help="What it is called.", callback=options.tidied)
    ] = None,
    volume: Annotated[
        float | None, typer.Option(help="Volume of bath it holds [L].", min=LEAST_L)
    ] = None,
    started: Annotated[str | None, typer.Option(help="First day of use.", metavar="TIME")] = None,
    checked: Annotated[
        str | None,
        typer.Option(
            help="When you last found heater, soap and bones all well, such as now.",
            metavar="TIME",
        ),
    ] = None,
    renumber: Annotated[
        int | None, typer.Option(help="Give it this number.", min=0, max=LAST_TUB)
    ] = None,
    same: Annotated[
        bool, typer.Option("--same", help="With --renumber: that tub is entered, both are one.")
    ] = False,
    new: Annotated[
        bool, typer.Option("--new", help="Enter it, though nothing else is known of it.")
    ] = False,
    temperature: Annotated[
        float | None,
        typer.Option(help="What its bath is at since --at [degrees C].", min=0.0, max=100.0),
    ] = None,
    topped_up: Annotated[
        float | None,
        typer.Option(help="Water poured in at --at for what dried away [L].", min=0.001),
    ] = None,
    at: options.At = None,
    note: options.NoteText = None,
    now: options.AsOf = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Show how a tub stands; with options enter it, or change what is known of it or its bath.

    A tub that is not entered yet is entered by its name, its volume or --new.

    Example: greasecheck tub 12 --name "by the door" --volume 60
    """
    if number is None:
        told = (name, volume, started, checked, renumber, temperature, topped_up, at, note)
        if any(one is not None for one in told):
            raise LogbookError("which tub?", hint="give its number first, such as 12")
        today(now=now, logbook=logbook, as_json=as_json)
        return
    known = Tub(
        number=number,
        name=name,
        volume_l=volume,
        started_at=given_time(started) if started else None,
        checked_at=given_time(checked) if checked else None,
        note=note,
    )
    _refuse_mixed(known, renumber, temperature, topped_up, at, new=new)
    if temperature is not None or topped_up is not None:
        options.refuse_past(now)
        with options.open_logbook(logbook) as book:
            _enter_between(book, number, given_time(at), temperature, topped_up, as_json=as_json)
        return
    if renumber is None and known == Tub(number=number) and not new:
        with options.opened_as_of(logbook, now) as (past, when):
            show_tub(past, number, when, as_json=as_json)
        return
    options.refuse_past(now)
    if renumber is None:
        _enter_tub(logbook, known, new=new, as_json=as_json)
    else:
        with options.open_logbook(logbook) as book:
            renumber_tub(book, number, renumber, merge=same)
            words = f"tub {number} is tub {renumber} now"
            _print_tub(book, renumber, words, as_json=as_json)
    _warn_of_no_tag(number if renumber is None else renumber)


def _enter_tub(logbook: Path | None, known: Tub, *, new: bool, as_json: bool) -> None:
    """Enter a tub, or what is known of it; a look at an unknown one finds nothing to look at.

    Raises
    ------
    LogbookError
        When it was only looked at and is unknown, or is said to be new and is known.
    """
    number = known.number
    is_told = new or replace(known, checked_at=None) != Tub(number=number)
    opened = options.open_or_make_logbook if is_told else options.open_logbook
    with opened(logbook) as book:
        is_known = any(one.number == number for one in water.list_tubs(book))
        if not is_told:
            water.tub_numbered(book, number)
        if new and is_known:
            raise LogbookError(
                f"tub {number} is in the logbook already", hint="give another number"
            )
        water.enter_tub(book, known)
        print_slips(book)
        words = f"noted of tub {number}" if is_known else f"tub {number} is entered"
        _print_tub(book, number, words, as_json=as_json)


def _print_tub(book: Logbook, number: int, words: str, *, as_json: bool) -> None:
    print_answer(words, {"tub": plain(water.tub_numbered(book, number))}, as_json=as_json)


def _warn_of_no_tag(number: int) -> None:
    try:
        marker_of(Tag(number=number))
    except SheetError:
        typer.echo(f"no tag is printed for tub {number}: read its photos with --tub", err=True)


def _refuse_mixed(
    known: Tub,
    renumber: int | None,
    temperature: float | None,
    topped_up: float | None,
    at: str | None,
    *,
    new: bool,
) -> None:
    """Refuse what would be left out: entries beside one another, a time that none of them has.

    Raises
    ------
    LogbookError
        When something is given that the entry has no place for.
    """
    told = new or known != Tub(number=known.number)
    entries = (renumber, temperature, topped_up, True if told else None)
    if sum(one is not None for one in entries) > 1:
        raise LogbookError(
            "a tub's number, a temperature, a topping up and what else is known of it are entries "
            "of their own",
            hint="enter one after the other",
        )
    if at is not None and temperature is None and topped_up is None:
        raise LogbookError(
            "nothing is said to have been found or done at that time",
            hint="give its temperature or what was poured in; a change of water is another entry",
        )


def _enter_between(
    book: Logbook,
    number: int,
    at: datetime,
    temperature: float | None,
    topped_up: float | None,
    *,
    as_json: bool,
) -> None:
    """Enter the temperature of a bath, or that it was topped up."""
    if temperature is not None:
        found = BathTemperature(tub=number, at=at, temperature_c=temperature)
        with warned_once(book) as graver:
            enter_temperature(book, found)
            bath = water.bath_at(book, number, at)
            graver.extend(graver_of_bath(bath.recipe, temperature) if bath else ())
        _warn_of_heat([temperature])
        body, words = {"temperature": plain(found)}, f"at {temperature:g} °C"
    else:
        poured = ToppedUp(tub=number, at=at, litres=topped_up or 0.0)
        enter_top_up(book, poured)
        body, words = {"top_up": plain(poured)}, f"topped up with {poured.litres:g} L"
    print_answer(f"tub {number}: {words}, {exact(at)}", body, as_json=as_json)


def change(
    tubs: options.TubWords = None,
    every: All = False,
    recipe: RecipeName = None,
    temperature: TemperatureC = None,
    left: Left = None,
    empty: Annotated[
        bool, typer.Option("--empty", help="They were emptied and not filled again.")
    ] = False,
    not_changed: Annotated[
        bool, typer.Option("--not-changed", help="It was not changed at --at, though haze fell.")
    ] = False,
    why: options.Why = None,
    note: options.NoteText = None,
    at: options.At = None,
    instead_of: options.InsteadOf = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Enter a water change of one, several or all tubs, correct one, or say there was none.

    What goes in for the first time shows its cautions.

    Example: greasecheck change 12 14-16 --recipe soap --temperature 40
    """
    filling = water.Filling(
        recipe=recipe, temperature_c=temperature, carry_over_share=left, why=why, note=note
    )
    if (empty or not_changed) and (filling != water.Filling() or instead_of is not None):
        raise typer.BadParameter("--empty and --not-changed go with --at alone: nothing went in")
    if not_changed and (empty or at is None):
        raise typer.BadParameter("--not-changed goes with --at and without --empty")
    with options.open_logbook(logbook) as book:
        numbers = _numbers(book, tubs, every=every)
        if not_changed:
            number = _only(numbers, "--not-changed denies")
            _deny(book, changes.possible_change(book, number, given_time(at)), as_json=as_json)
        elif empty:
            _empty(book, numbers, given_time(at), as_json=as_json)
        elif instead_of is not None:
            near, right = given_time(instead_of), given_time(at)
            number = _only(numbers, "--instead-of corrects")
            wrong = water.nearest_change(book, number, near)
            with warned_once(book) as graver:
                corrected = water.correct_change(book, number, near, right, filling)
                graver.extend(graver_of_bath(corrected.recipe, corrected.temperature_c))
            _show_baths([corrected], as_json=as_json)
            _say_if_far(near, wrong.filled_at)
            print_slips(book)
        else:
            _change(book, numbers, given_time(at), filling, as_json=as_json)


def _say_if_far(near: datetime, entered_at: datetime) -> None:
    """Say on stderr that the change that was corrected is one of another day than was named."""
    if abs(entered_at - near) > timedelta(days=1):
        typer.echo(
            f"no change was entered for about {day_words(near)}; that of {day_words(entered_at)} is"
            " corrected; if another was meant, take this back: greasecheck undo",
            err=True,
        )


def _change(
    book: Logbook, numbers: tuple[int, ...], at: datetime, filling: water.Filling, *, as_json: bool
) -> None:
    """Enter a water change, and warn where one was entered shortly before."""
    before = [water.bath_at(book, number, at) for number in numbers]
    with warned_once(book) as graver:
        baths = water.change_water(book, numbers, at, filling)
        for bath in baths[:1]:  # several baths of one entry have one recipe
            graver.extend(graver_of_bath(bath.recipe, bath.temperature_c))
    _show_baths(baths, as_json=as_json)
    print_slips(book)
    for old, new in zip(before, baths, strict=True):
        if old is not None and new.filled_at - old.filled_at < water.JUST_CHANGED:
            typer.echo(
                f"tub {old.tub}: a change at {exact(old.filled_at)} stands already; if it is the "
                "same, take this one back: greasecheck undo",
                err=True,
            )


def _deny(book: Logbook, change: ProbableChange, *, as_json: bool) -> None:
    """Enter that the water was not changed between two readings."""
    changes.deny_change(book, change)
    words = f"tub {change.tub}: no change from {exact(change.earliest)} to {exact(change.latest)}"
    print_answer(words, {"denied": plain(change)}, as_json=as_json)


def _empty(book: Logbook, numbers: tuple[int, ...], at: datetime, *, as_json: bool) -> None:
    """Enter that tubs were emptied and not filled again."""
    water.dump_water(book, numbers, at)
    left = [stay for stay in soaking(book) if stay.tub in numbers]
    if as_json:
        print_json({"tubs": list(numbers), "dumped_at": at.isoformat()})
    else:
        typer.echo(f"emptied: tub {numbers_words(numbers)}, {exact(at)}")
    for stay in left:
        typer.echo(
            f"{stay.skull} still lies in tub {stay.tub} by the logbook: enter what became of it, "
            f"such as: greasecheck skull '{stay.skull}' degreased",
            err=True,
        )


class YesNo(StrEnum):
    """An answer to a question."""

    YES = "yes"
    NO = "no"


def answer(
    question: Annotated[int, typer.Argument(help="Its number in the list of today.", min=1)],
    said: Annotated[YesNo, typer.Argument(help="yes or no.", metavar="yes|no")],
    recipe: RecipeName = None,
    temperature: TemperatureC = None,
    left: Left = None,
    at: WithinIt = None,
    now: options.AsOf = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Answer a question of today's list, such as whether a tub's water was changed.

    With yes it is entered as a change, without --at halfway between its two readings.

    Example: greasecheck answer 1 yes --recipe soap
    """
    filling = water.Filling(
        recipe=recipe, temperature_c=temperature, carry_over_share=left, why="confirmed"
    )
    time = given_time(at) if at else None
    with options.opened_as_of(logbook, now) as (book, asked_at):
        found = questions(garage_today(book, asked_at))
    if question > len(found):
        raise LogbookError(f"there is no question {question}", hint="see them: greasecheck today")
    one = found[question - 1]
    with options.open_logbook(logbook) as book:
        if said is YesNo.YES:
            _show_baths(changes.confirm_change(book, one, filling, time), as_json=as_json)
            return
        _deny(book, one, as_json=as_json)


def _numbers(book: Logbook, words: list[str] | None, *, every: bool) -> tuple[int, ...]:
    if every == bool(words):
        raise LogbookError("which tubs?", hint="name them, such as 12 14-16, or say --all")
    if words:
        return options.tub_numbers(words)
    now = given_time(None)
    filled = tuple(
        number for number in options.named_tubs(book, None) if water.bath_at(book, number, now)
    )
    if not filled:
        raise LogbookError("no tub holds a bath", hint="name the tubs, such as 12 14-16")
    return filled


def _only(numbers: Sequence[int], what: str) -> int:
    if len(numbers) > 1:
        raise LogbookError(f"{what} one tub's change", hint="name one tub")
    return numbers[0]


def _warn_of_heat(temperatures_c: Sequence[float | None]) -> None:
    """Ask on stderr whether degrees Fahrenheit were meant."""
    for hot in sorted({warmth for one in temperatures_c if (warmth := one or 0.0) > HOT_C}):
        typer.echo(
            f"{hot:g} °C is hotter than degreasing baths are kept; if you meant {hot:g} °F, that "
            f"is {(hot - 32) / 1.8:.0f} °C: greasecheck undo, and enter it anew",
            err=True,
        )


def _show_baths(baths: Sequence[Bath], *, as_json: bool) -> None:
    _warn_of_heat([bath.temperature_c for bath in baths])
    if as_json:
        print_json({"baths": plain(baths)})
        return
    for bath in baths:
        warmth = "" if bath.temperature_c is None else f" at {bath.temperature_c:g} °C"
        typer.echo(f"tub {bath.tub}: {bath.recipe}{warmth}, filled {exact(bath.filled_at)}")
