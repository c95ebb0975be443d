"""The answers about all tubs, what is due first, from what is kept."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.answers import Finding
from greasecheck.cli.shared import logbook_options as options
from greasecheck.cli.shared.options import AsJson
from greasecheck.cli.shared.output import print_json, with_progress
from greasecheck.cli.shared.plain import plain, withheld_json
from greasecheck.words.answers import MARKS, in_ten, sentence, short_answer, why
from greasecheck.words.figures import numbers_words
from greasecheck.words.times import ago, between_words, day_words

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from greasecheck.answers import TubAnswer
    from greasecheck.garage.kept_list import GarageList
    from greasecheck.garage.soaks.answers import Answer
    from greasecheck.logbook.records import ProbableChange
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.logbook.today import TubToday

OLD = "*"
MOST_NAMED = 20  # tubs out of date; the rows of more have their stars
NAME_WIDTH, ANSWER_WIDTH = 22, 34


def register(app: typer.Typer) -> None:
    """Add the command to the app."""
    app.command()(today)


def today(
    fresh: Annotated[
        bool,
        typer.Option("--fresh/--kept", help="Work out first what is out of date, or show it so."),
    ] = False,
    now: options.AsOf = None,
    logbook: options.LogbookFile = None,
    as_json: AsJson = False,
) -> None:
    """Show the answer about each tub, what is due first; questions are numbered.

    A star marks an answer older than the newest entry about its tub.

    Example: greasecheck today --fresh
    """
    from greasecheck.garage.kept_list import kept_list  # noqa: PLC0415 - keeps start-up light
    from greasecheck.logbook.skulls.promises import standing_promises  # noqa: PLC0415

    with options.opened_as_of(logbook, now) as (book, at):
        found = kept_list(book, at)
        if fresh and found.out_of_date:
            found = kept_list(book, at, _worked_out(book, found, at))
        promised = standing_promises(book)
    if as_json:
        print_json({"tubs": [_tub_json(one, found, at) for one in found.today]})
        return
    if not found.tubs:
        typer.echo("no tub is entered; enter one: greasecheck tub 10 --new, or set up: greasecheck")
        return
    lines = [*_rows(found, at), *_steps(found, at), *question_lines(found.today)]
    lines += [f"promised: {one.skull} for {day_words(one.ready_by)}" for one in promised]
    typer.echo("\n".join(lines))
    if found.out_of_date:
        old = len(found.out_of_date)
        which = f"tub {numbers_words(found.out_of_date)}" if old <= MOST_NAMED else f"{old} tubs"
        typer.echo(f"{OLD} out of date: {which}; greasecheck today --fresh", err=True)


def _worked_out(book: Logbook, found: GarageList, at: datetime) -> tuple[Answer, ...]:
    from greasecheck.garage.soaks.refresh import refresh_answers  # noqa: PLC0415 - loads scipy

    tubs = found.out_of_date
    return tuple(with_progress(refresh_answers(book, tubs, at), len(tubs), "working out"))


def _rows(found: GarageList, at: datetime) -> Iterator[str]:
    for one in found.tubs:
        name = f"{one.tub} {one.name or ''}".strip()[:NAME_WIDTH]
        age = f"read {ago(at - one.newest_at)}" if one.newest_at else "not read yet"
        star = "" if one.is_current else OLD
        is_unknown = one.main.finding is Finding.NOT_KNOWN_YET  # nothing works it out meanwhile
        words = f"{'not worked out yet' if is_unknown else short_answer(one, at)}{star}"
        yield f"{MARKS[one.urgency]} {name:{NAME_WIDTH}} {words:{ANSWER_WIDTH}} {age}"


def _steps(found: GarageList, at: datetime) -> Iterator[str]:
    for task in found.steps:
        yield f"{MARKS[task.urgency]} {sentence(task, at)} {why(task, at)}".rstrip()


def question_lines(tubs: tuple[TubToday, ...]) -> Iterator[str]:
    """Yield the questions that the list asks, numbered as `answer` takes them."""
    for number, found in enumerate(questions(tubs), start=1):
        yield (
            f"question {number}: was the water of tub {found.tub} changed"
            f" {between_words(found.earliest, found.latest)}? Its haze fell from"
            f" {found.before_per_m:.0f} to {found.after_per_m:.0f} /m."
            f" greasecheck answer {number} yes, or no"
        )


def questions(tubs: tuple[TubToday, ...]) -> tuple[ProbableChange, ...]:
    """Return the probable changes that are asked about, by tub, each tub's oldest first."""
    return tuple(change for one in tubs for change in one.unentered)


def _tub_json(one: TubToday, found: GarageList, at: datetime) -> dict[str, object]:
    answer = next(answer for answer in found.tubs if answer.tub == one.tub.number)
    asks = [{"ask": ask} for ask in one.asks]
    newest = one.unentered[-1] if one.unentered else None
    more = {"probable": plain(newest), "asks": asks, "answer": answer_json(answer, at)}
    return {**plain(one), **more}


def answer_json(answer: TubAnswer, at: datetime) -> dict[str, object]:
    """Return an answer as plain JSON values: its codes, and the words that people see."""
    return {
        "finding": answer.main.finding,
        "urgency": answer.urgency,
        "short": short_answer(answer, at),
        "words": sentence(answer.main, at),
        "why": why(answer.main, at),
        "date": plain(answer.rest.since),
        **withheld_json(answer.rest.causes[0] if answer.rest.causes else None),
        "made_at": plain(answer.made_at),
        "is_current": answer.is_current,
        "tasks": [
            {"finding": task.finding, "skull": task.skull, "words": sentence(task, at)}
            for task in answer.tasks
        ],
    }


def odds_line(skull: str, ready_by: datetime, odds: float | None) -> str:
    """Return a promise with its odds in words."""
    chance = "its odds are not known yet" if odds is None else f"ready by then with {in_ten(odds)}"
    return f"{skull}: promised for {day_words(ready_by)}, {chance}"
