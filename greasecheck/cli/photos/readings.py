"""Commands for logged readings: list them, enter one by hand, mark one wrong, move it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.photos.reading_json import checks_json
from greasecheck.cli.shared import logbook_options as options
from greasecheck.cli.shared.clock import given_time
from greasecheck.cli.shared.options import AsJson
from greasecheck.cli.shared.output import print_json, print_new_tub, print_slips
from greasecheck.cli.shared.plain import plain
from greasecheck.errors import LogbookError
from greasecheck.logbook.readings import corrections, readings
from greasecheck.logbook.readings.checks import checks_of
from greasecheck.logbook.records import HandReading
from greasecheck.logbook.skulls.skulls import name_of
from greasecheck.logbook.store.table import LAST_TUB
from greasecheck.logbook.story import bone_words, haze_words
from greasecheck.logbook.water.baths import list_tubs
from greasecheck.model import BoneState, Bound
from greasecheck.words.times import exact
from greasecheck.words.typed_times import parse_span

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.logbook.records import Correction, LoggedReading

reading = typer.Typer(
    no_args_is_help=True,
    help="List logged readings, enter one by hand, correct one.",
    rich_markup_mode="markdown",
)

ONLY_IN_JSON = {"check_plan", "check_values", "failed_checks"}  # figures of every check at once

Which = Annotated[
    str | None,
    typer.Option(
        "--at", help="The reading nearest to this time; by default the newest.", metavar="TIME"
    ),
]


def register(app: typer.Typer) -> None:
    """Add the group of commands to the app."""
    app.add_typer(reading, name="reading")


@reading.command()
def add(
    tub: options.TubNumber,
    haze: Annotated[
        float | None, typer.Option(help="Haze: beam attenuation, or its bound [1/m].", min=0.0)
    ] = None,
    std: Annotated[
        float | None, typer.Option(help="Standard error of the haze [1/m].", min=0.0)
    ] = None,
    bound: Annotated[
        Bound | None, typer.Option(help="When the haze lies only above or below --haze.")
    ] = None,
    last_bar: Annotated[
        float | None,
        typer.Option(
            help="Instead of a haze: the number at the deepest bar of the ladder you see; 0 for "
            "none [mm]."
        ),
    ] = None,
    yellowness: Annotated[
        float | None, typer.Option(help="Yellowness index of the bone [ASTM E313, D65/2].")
    ] = None,
    yellowness_std: Annotated[
        float | None, typer.Option(help="Standard error of the yellowness.", min=0.0)
    ] = None,
    state: Annotated[BoneState | None, typer.Option(help="How wet the bone was.")] = None,
    skull: options.SkullOnRest = None,
    at: options.At = None,
    note: options.NoteText = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Enter a reading that has no photo.

    Example: greasecheck reading add 12 --haze 14.2 --std 0.6 --at 18:05
    """
    if last_bar is not None and (haze is not None or std is not None or bound is not None):
        raise typer.BadParameter("--last-bar stands instead of --haze, --std and --bound")
    made = HandReading(
        tub=tub,
        taken_at=given_time(at),
        attenuation_per_m=haze,
        attenuation_std_per_m=std,
        bound=bound,
        bone_yi_e313=yellowness,
        bone_yi_std=yellowness_std,
        bone_state=state,
        note=note,
    )
    if last_bar is not None:
        made = _by_eye(made, last_bar)
    with options.open_or_make_logbook(logbook) as book:
        made = replace(made, skull=skull and name_of(book, skull))
        new_tub = readings.enter_by_hand(book, made)
        print_slips(book)
    if as_json:
        print_json({"reading": plain(made), "new_tub": new_tub})
    else:
        words = "" if last_bar is None else f": {haze_words(made)}"
        typer.echo(f"tub {tub}: reading of {exact(made.taken_at)} is entered{words}")
        if new_tub:
            print_new_tub(tub)


def _by_eye(made: HandReading, last_bar_mm: float) -> HandReading:
    """Return a reading with the haze that the deepest bar seen tells."""
    from greasecheck.garage.ladder.eye import reading_by_eye  # noqa: PLC0415 - loads numpy

    seen = reading_by_eye(made.tub, made.taken_at, last_bar_mm)
    return replace(
        made,
        attenuation_per_m=seen.attenuation_per_m,
        attenuation_std_per_m=seen.attenuation_std_per_m,
        bound=seen.bound,
        kind=seen.kind,
        note=made.note or seen.note,
    )


@reading.command("list")
def list_some(
    tub: options.TubNumber,
    since: Annotated[
        str | None, typer.Option(help="Leave out those before.", metavar="TIME")
    ] = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """List a tub's readings, those marked wrong and all corrections included.

    Example: greasecheck reading list 12 --since '7d ago'
    """
    start = given_time(since) if since else None
    with options.open_logbook(logbook) as book:
        found = readings.list_readings(book, tub, since=start, wrong_too=True)
        made = corrections.corrections_of(book, tub)
        if as_json:
            rows = [
                {**plain(one), "checks": checks_json(checks_of(book, one.key))} for one in found
            ]
            print_json({"readings": rows, "corrections": plain(made)})
            return
    for one in found:
        typer.echo(_line(one))
        for correction in made:
            if correction.reading_key == one.key and correction.field not in ONLY_IN_JSON:
                typer.echo(f"    {_correction_words(correction)}")
    if not found:
        typer.echo(f"tub {tub} has no reading")


@reading.command()
def wrong(
    tub: options.TubNumber,
    at: Which = None,
    why: options.Why = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Mark a reading wrong: it stays to be seen and is used for nothing.

    Example: greasecheck reading wrong 12 --why "foam in the jar"
    """
    _mark(tub, at, why, logbook, is_wrong=True, as_json=as_json)


@reading.command()
def right(
    tub: options.TubNumber,
    at: Which = None,
    why: options.Why = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Take back that a reading is wrong.

    Example: greasecheck reading right 12 --at "2026-03-04 18:05"
    """
    _mark(tub, at, why, logbook, is_wrong=False, as_json=as_json)


@reading.command()
def move(
    tub: options.TubNumber,
    to: Annotated[int, typer.Option(help="The tub it was of.", min=0, max=LAST_TUB)],
    at: Which = None,
    why: options.Why = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Move a reading to another tub: the wrong tag hung in the slot.

    Example: greasecheck reading move 12 --to 14
    """
    with options.open_logbook(logbook) as book:
        one = readings.find_reading(book, tub, given_time(at) if at else None)
        is_new = all(known.number != to for known in list_tubs(book))
        corrections.move_to_tub(book, one.key, to, why)
        _show(readings.reading_under(book, one.key), as_json=as_json)
        print_slips(book)
    if is_new:
        print_new_tub(to)


@reading.command()
def shift(
    tub: options.TubNumber,
    by: Annotated[
        str, typer.Option(help="Span to add to the times, such as 1h or -2d.", metavar="SPAN")
    ],
    since: Annotated[str, typer.Option(help="The readings from here on.", metavar="TIME")],
    until: Annotated[
        str | None, typer.Option(help="The readings up to here.", metavar="TIME")
    ] = None,
    why: options.Why = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Move the times of a tub's readings, for a camera whose clock was wrong.

    Example: greasecheck reading shift 12 --by -1h --since 2026-03-29 --why "summer time"
    """
    start, end, span = given_time(since), given_time(until), parse_span(by)
    with options.open_logbook(logbook) as book:
        found = readings.list_readings(book, tub, since=start, wrong_too=True)
        chosen = [one for one in found if one.taken_at <= end]
        if not chosen:
            raise LogbookError(
                f"tub {tub} has no reading in that time", hint=f"greasecheck reading list {tub}"
            )
        corrections.shift_readings(book, chosen, span, why)
        print_slips(book)
    if as_json:
        print_json({"moved": len(chosen), "by_s": span.total_seconds()})
    else:
        counted = "1 reading" if len(chosen) == 1 else f"{len(chosen)} readings"
        typer.echo(f"tub {tub}: {counted} moved by {by}")


def _mark(
    tub: int,
    at: str | None,
    why: str | None,
    logbook: Path | None,
    *,
    is_wrong: bool,
    as_json: bool,
) -> None:
    with options.open_logbook(logbook) as book:
        one = readings.find_reading(book, tub, given_time(at) if at else None)
        corrections.mark_wrong(book, one.key, wrong=is_wrong, why=why)
        _show(readings.reading_under(book, one.key), as_json=as_json)


def _show(one: LoggedReading | None, *, as_json: bool) -> None:
    assert one is not None, "it was found before"
    if as_json:
        print_json({"reading": plain(one)})
    else:
        typer.echo(_line(one))


def _line(one: LoggedReading) -> str:
    parts = [haze_words(one), bone_words(one), one.verdict, "WRONG" if one.wrong else ""]
    return f"tub {one.tub}  {exact(one.taken_at):>18}  {'  '.join(part for part in parts if part)}"


def _correction_words(one: Correction) -> str:
    reason = f": {one.why}" if one.why else ""
    before, after = _short(one.before), _short(one.after)
    return f"{exact(one.made_at)} {one.field} was {before}, is {after}{reason}"


def _short(value: str | None) -> str:
    """Return a corrected value with no more digits than mean something.

    Examples
    --------
    >>> _short("27.238880385060575"), _short("good"), _short(None)
    ('27.24', 'good', 'nothing')
    """
    try:
        return f"{float(value or ''):.4g}"
    except ValueError:
        return value or "nothing"
