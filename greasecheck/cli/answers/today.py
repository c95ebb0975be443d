"""The list for the garage: one line a tub."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from greasecheck.cli.entries.tubs import probable_words
from greasecheck.cli.shared import logbook_options as options
from greasecheck.cli.shared.clock import parse_time, span_words
from greasecheck.cli.shared.options import AsJson
from greasecheck.cli.shared.output import print_json
from greasecheck.cli.shared.plain import plain
from greasecheck.logbook.today import FLAT_PER_M_PER_DAY, Ask, garage_today
from greasecheck.model import Bound

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.table import Table
    from rich.text import Text

    from greasecheck.logbook.records import LoggedReading
    from greasecheck.logbook.today import TubToday

NOTHING = "-"
STYLES = {
    Ask.ENTER_BATH: "yellow",
    Ask.CONFIRM_CHANGE: "yellow",
    Ask.RETAKE_PHOTO: "red",
    Ask.DILUTE: "red",
    Ask.TAKE_PHOTO: "yellow",
    Ask.NAME_TUB: "dim",
}


def register(app: typer.Typer) -> None:
    """Add the command to the app."""
    app.command()(today)


def today(
    now: options.AsOf = None, logbook: options.LogbookFile = None, as_json: AsJson = False
) -> None:
    """Show the list for the garage: how each tub stands, and what the log asks for.

    Example: greasecheck today
    """
    with options.open_logbook(logbook) as book:
        tubs = garage_today(book, parse_time(now))
    if as_json:
        print_json({"tubs": [_tub_json(one) for one in tubs]})
        return
    if not tubs:
        typer.echo("no tub is entered; enter one: greasecheck tub 10")
        return
    _print_table(tubs)
    for one in tubs:
        if one.probable is not None:
            typer.echo(probable_words(one.probable))
        if one.refused is not None:
            typer.echo(f"tub {one.tub.number}: {one.refused.problem}; {one.refused.hint}")
    if any(one.skulls for one in tubs):
        typer.echo("water due, done or stalled? greasecheck advice, or the page: season", err=True)


def _print_table(tubs: Sequence[TubToday]) -> None:
    from rich.console import Console  # noqa: PLC0415 - keeps start-up light

    Console(highlight=False).print(_table(tubs))


def _table(tubs: Sequence[TubToday]) -> Table:
    from rich.table import Table  # noqa: PLC0415 - keeps start-up light
    from rich.text import Text  # noqa: PLC0415

    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold underline")
    table.add_column("tub", max_width=14, no_wrap=True)
    table.add_column("haze [1/m]", justify="right", no_wrap=True)
    table.add_column("a day", justify="right", no_wrap=True)
    table.add_column("bath", max_width=13, no_wrap=True)
    table.add_column("age", justify="right", no_wrap=True)
    table.add_column("soak", justify="right", no_wrap=True)
    table.add_column("bone", justify="right", no_wrap=True)
    table.add_column("now")
    for one in tubs:
        table.add_row(
            Text(f"{one.tub.number} {one.tub.name or ''}".rstrip()),
            _haze(one.haze),
            _trend(one),
            one.bath.recipe if one.bath else NOTHING,
            span_words(one.at - one.bath.filled_at) if one.bath else NOTHING,
            span_words(one.at - one.soak_since) if one.soak_since else NOTHING,
            f"{one.bone.bone_yi_e313:.0f}" if one.bone else NOTHING,
            _now(one),
        )
    return table


def _haze(reading: LoggedReading | None) -> str:
    if reading is None or reading.attenuation_per_m is None:
        return NOTHING
    if reading.bound is not None:
        return f"{'>' if reading.bound is Bound.ABOVE else '<'}{reading.attenuation_per_m:.1f}"
    return f"{reading.attenuation_per_m:.1f}±{reading.attenuation_std_per_m or 0:.1f}"


def _trend(one: TubToday) -> Text:
    from rich.text import Text  # noqa: PLC0415 - keeps start-up light

    slope = one.trend_per_m_per_day
    if slope is None:
        return Text(NOTHING)
    if abs(slope) < FLAT_PER_M_PER_DAY:
        return Text("flat", style="green")
    return Text(f"{slope:+.1f}", style="yellow" if slope > 0 else "cyan")


def _now(one: TubToday) -> Text:
    from rich.text import Text  # noqa: PLC0415 - keeps start-up light

    if not one.asks:
        return Text("")
    first = one.asks[0]
    return Text(ask_words(one, first), style=STYLES[first])


def ask_words(one: TubToday, ask: Ask) -> str:
    """Return what the log asks for, in a few words."""
    if ask is Ask.TAKE_PHOTO:
        last = one.haze.taken_at if one.haze else None
        return f"photo due, {span_words(one.at - last)}" if last else "first photo due"
    return {
        Ask.ENTER_BATH: "enter its bath",
        Ask.CONFIRM_CHANGE: "changed? confirm",
        Ask.RETAKE_PHOTO: "take photo again",
        Ask.DILUTE: "too murky: dilute",
        Ask.NAME_TUB: "name this tub",
    }[ask]


def _tub_json(one: TubToday) -> dict[str, object]:
    asks = [{"ask": ask, "words": ask_words(one, ask)} for ask in one.asks]
    return {**plain(one), "asks": asks}
