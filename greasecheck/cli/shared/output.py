"""Prints errors and JSON; messages go to stderr, answers to stdout."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import typer

from greasecheck.words.ways import way_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import TypeVar

    from greasecheck.errors import GreasecheckError
    from greasecheck.logbook.store.book import Logbook

    Item = TypeVar("Item")

SCHEMA = 1


def print_error(error: GreasecheckError, *, as_json: bool) -> None:
    """Print what is wrong and what to do, in words or as one JSON object, on stderr."""
    way = way_of(error.hint)
    hint = f"{error.hint} ({way})" if way else error.hint
    if as_json:
        body = {"code": error.code, "problem": error.problem, "hint": hint}
        typer.echo(json.dumps({"schema": SCHEMA, "error": body}), err=True)
    else:
        typer.echo(f"error[{error.code}]: {error.problem}\n\nhint: {hint}", err=True)


def print_json(answer: dict[str, object]) -> None:
    """Print one JSON object on stdout; NaN is refused, not printed."""
    typer.echo(json.dumps({"schema": SCHEMA, **answer}, allow_nan=False, indent=2))


def print_answer(words: str, body: dict[str, object], *, as_json: bool) -> None:
    """Print what was done in words, or as one JSON object."""
    if as_json:
        print_json(body)
    else:
        typer.echo(words)


def print_new_tub(tub: int) -> None:
    """Print on stderr that a tub was met for the first time."""
    typer.echo(
        f"tub {tub} was new and stands there unnamed; name it: greasecheck tub {tub} --name ...",
        err=True,
    )


def print_slips(book: Logbook) -> None:
    """Print on stderr which dates of the newest entry contradict others."""
    from greasecheck.logbook.date_slips import entry_slips  # noqa: PLC0415 - keeps start-up light
    from greasecheck.logbook.undo import newest_entry  # noqa: PLC0415 - as above

    for words in entry_slips(book, newest_entry(book)):
        typer.echo(f"{words}; if a date is a slip, take this back: greasecheck undo", err=True)


def with_progress(items: Iterator[Item], total: int, doing: str) -> Iterator[Item]:
    """Pass items on while a bar on stderr shows how far it is; only a terminal shows one."""
    from rich.console import Console  # noqa: PLC0415 - keeps start-up light
    from rich.progress import track  # noqa: PLC0415

    console = Console(stderr=True)
    hidden = not console.is_terminal
    yield from track(
        items, description=doing, total=total, console=console, transient=True, disable=hidden
    )
