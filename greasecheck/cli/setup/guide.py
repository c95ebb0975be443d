"""The commands of the setup: how far it is, its choices, and what each step needs."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.setup import camera, sheet, stand
from greasecheck.cli.shared import logbook_options as options
from greasecheck.cli.shared.options import AsJson
from greasecheck.cli.shared.output import print_json
from greasecheck.logbook.settings import MOST_PRICE, Setting, put_settings
from greasecheck.logbook.store.book import default_path

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.live.setup.steps import Steps

PRINTED = "greasecheck setup --done print_checked"
COMMANDS = {
    "how": "greasecheck setup --measured-by stand, ladder, card or eye",
    "print": f"greasecheck setup sheet print sheet.pdf, then {PRINTED}",
    "stand": "greasecheck read --no-log PHOTO.jpg, then greasecheck setup --done stand_checked",
    "clear": "greasecheck setup clear TAP_WATER.jpg --path-mm 60; a wide lens: greasecheck setup "
    "camera; turbidity in FNU: greasecheck setup calibrate SERIES.csv",
    "tubs": "greasecheck tub 12 --volume 60, greasecheck change 12 --recipe soap, "
    "greasecheck skull 'fox 3' --species fox --tub 12",
    "tags": "greasecheck setup sheet tags tags.pdf 12 14-20, then "
    "greasecheck setup --done tags_printed",
    "prices": "greasecheck setup --change-price 3 --day-price 2",
}
TITLES = {
    "how": "how you measure is chosen",
    "print": "what you measure by is printed, its size checked",
    "stand": "the stand is looked at",
    "clear": "clear water is photographed",
    "tubs": "tubs are entered, filled, with skulls in them",
    "tags": "the tubs' tags are printed",
    "prices": "prices are given, if you like",
}
# What is printed by those who measure without a stand.
PLATES = {
    "ladder": f"greasecheck setup sheet print ladders.pdf --design ladder --tub 12, then {PRINTED}",
    "card": f"greasecheck setup sheet print cards.pdf --design card, then {PRINTED}",
}


class MeasuredBy(StrEnum):
    """What is photographed."""

    STAND = "stand"
    LADDER = "ladder"
    CARD = "card"
    EYE = "eye"


class Done(StrEnum):
    """What a person looked at."""

    PRINT_CHECKED = "print_checked"
    STAND_CHECKED = "stand_checked"
    TAGS_PRINTED = "tags_printed"


def register(app: typer.Typer) -> None:
    """Add the group to the app; its commands serve without its name, too."""
    group = typer.Typer(invoke_without_command=True, rich_markup_mode="markdown")
    group.callback()(setup)
    for gathered in (sheet, stand, camera):
        gathered.register(group)
    app.add_typer(group, name="setup")
    for gathered in (sheet, stand, camera):
        gathered.register(app, hidden=True)


def setup(
    ctx: typer.Context,
    measured_by: Annotated[MeasuredBy | None, typer.Option(help="How you measure.")] = None,
    done: Annotated[Done | None, typer.Option(help="What you have looked at.")] = None,
    change_price: Annotated[
        float | None,
        typer.Option(
            help="What one water change costs you: soap, heat, time.", min=0.0, max=MOST_PRICE
        ),
    ] = None,
    day_price: Annotated[
        float | None,
        typer.Option(help="What one more day of soaking costs you.", min=0.001, max=MOST_PRICE),
    ] = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Show how far the setup is, and what is next; print sheets, make references, keep choices.

    Example: greasecheck setup --change-price 3 --day-price 2
    """
    chosen = {
        Setting.MEASURED_BY: measured_by,
        Setting.CHANGE_PRICE: None if change_price is None else f"{change_price:g}",
        Setting.DAY_PRICE: None if day_price is None else f"{day_price:g}",
        **({Setting(done): "yes"} if done else {}),
    }
    kept = {name: str(value) for name, value in chosen.items() if value is not None}
    if ctx.invoked_subcommand is not None and not kept:
        return
    if kept:
        with options.open_or_make_logbook(logbook) as book:
            put_settings(book, kept)
    if ctx.invoked_subcommand is None:
        _print(_steps(logbook or default_path()), as_json=as_json)


def _steps(path: Path) -> Steps:
    """Return how far the setup is; a look makes no logbook where there is none."""
    from greasecheck.live.setup.steps import Steps, setup_steps  # noqa: PLC0415 - keeps start-up light

    if not path.exists():
        typer.echo(f"there is no logbook at {path} yet: the first entry makes it", err=True)
        return Steps()
    with options.open_logbook(path) as book:
        return setup_steps(book)


def _print(steps: Steps, *, as_json: bool) -> None:
    if as_json:
        print_json({"done": steps.done, "next": steps.next_step or None, "settings": steps.chosen})
    else:
        typer.echo("\n".join(_lines(steps)))


def _lines(steps: Steps) -> list[str]:
    commands = COMMANDS | {"print": PLATES.get(steps.measured_by, COMMANDS["print"])}
    return [
        f"done  {TITLES[name]}" if done else f"open  {TITLES[name]}\n      {commands[name]}"
        for name, done in steps.done.items()
    ]
