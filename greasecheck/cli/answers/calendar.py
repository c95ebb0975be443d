"""The command that writes what is to do, and what was promised, into a calendar file."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.shared import logbook_options as options
from greasecheck.cli.shared.options import AsJson, write_bytes
from greasecheck.cli.shared.output import print_json
from greasecheck.cli.shared.plain import plain
from greasecheck.logbook.water.baths import list_tubs
from greasecheck.model.verdicts import ChangeVerdict
from greasecheck.words.calendar import (
    PROMISE_NOTE,
    change_note,
    change_title,
    ready_title,
    step_title,
)
from greasecheck.words.stages import step_words

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from greasecheck.garage.milestones import SkullLife
    from greasecheck.predict.advice.decisions import TubAdvice
    from greasecheck.report.calendar import DayEntry


def register(app: typer.Typer) -> None:
    """Add the command to the app."""
    app.command()(calendar)


def calendar(
    file: Annotated[Path, typer.Argument(help="The .ics file to write.", metavar="FILE")],
    weeks: Annotated[int, typer.Option(help="Water changes of so many weeks ahead.", min=1)] = 4,
    now: options.AsOf = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Write water changes, next steps and promised dates into an iCalendar file.

    Example: greasecheck calendar season.ics --weeks 6
    """
    from greasecheck.garage.skull_stages import (  # noqa: PLC0415 - loads scipy
        advice_for,
        named_skulls,
        skull_lives,
    )
    from greasecheck.report.calendar import calendar_file  # noqa: PLC0415 - loads icalendar

    with options.opened_as_of(logbook, now) as (book, at):
        skulls = named_skulls(book, ())
        advised = advice_for(book, skulls, at)
        lives = skull_lives(book, skulls, advised, at)
        names = {tub.number: tub.name for tub in list_tubs(book)}
    entries = [
        *(
            entry
            for tub, one in advised.items()
            if one is not None
            for entry in change_entries(tub, names.get(tub), one, at + timedelta(weeks=weeks))
        ),
        *(entry for life in lives for entry in skull_entries(life, at)),
    ]
    write_bytes(file, calendar_file(entries, at), "calendar")
    if as_json:
        rows = [{**plain(entry), "day": entry.day.isoformat()} for entry in entries]
        print_json({"file": str(file), "entries": rows})
    else:
        typer.echo(f"{len(entries)} entries are in {file}; import it into your calendar")


def change_entries(
    tub: int, name: str | None, one: TubAdvice, until: datetime
) -> Iterator[DayEntry]:
    """Yield a tub's water changes at its best interval, until its skulls are surely degreased.

    Where that date is withheld they go on, while there is haze to change the water for.
    """
    from greasecheck.report.calendar import DayEntry  # noqa: PLC0415 - loads icalendar

    degreased_at = one.degreased.quantile(0.9) if one.degreased else None
    last = until if degreased_at is None else min(until, degreased_at)
    if one.change.verdict is ChangeVerdict.ENOUGH:
        return
    due, number, every_days = one.change.due_at, 1, one.change.best_interval_days
    while due <= last:
        yield DayEntry(
            key=f"tub {tub} change {number}",
            day=due.astimezone().date(),
            title=change_title(tub, name),
            note=change_note(every_days, one.forecast.made_at),
        )
        due += timedelta(days=every_days)
        number += 1


def skull_entries(life: SkullLife, now: datetime) -> Iterator[DayEntry]:
    """Yield a skull's next step, today when overdue, and the date its owner can be promised."""
    from greasecheck.report.calendar import DayEntry  # noqa: PLC0415 - loads icalendar

    stage = life.stage
    if stage.next_at is not None:
        yield DayEntry(
            key=f"skull {life.name} next",
            day=max(stage.next_at, now).astimezone().date(),
            title=step_title(life.name, stage.stage, done=stage.done),
            note=step_words(stage.stage, done=stage.done),
        )
    if stage.promise_at is not None:
        yield DayEntry(
            key=f"skull {life.name} promised",
            day=stage.promise_at.astimezone().date(),
            title=ready_title(life.name, life.owner),
            note=PROMISE_NOTE,
        )
