"""Options that the logbook's commands share, and the shell's completion of tubs and skulls."""

from __future__ import annotations

import os
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.shared.clock import given_time
from greasecheck.errors import GreasecheckError, LogbookError
from greasecheck.logbook.skulls.stays import EVERY_SKULL
from greasecheck.logbook.store.book import Logbook, default_path, open_or_make
from greasecheck.logbook.store.columns import tidy_name
from greasecheck.logbook.store.table import LAST_TUB
from greasecheck.logbook.water.baths import list_tubs

if TYPE_CHECKING:
    from collections.abc import Iterator
    from contextlib import AbstractContextManager
    from datetime import datetime

LOGBOOK_VARIABLE = "GREASECHECK_LOGBOOK"
MOST_TUBS = 1000


def open_logbook(path: Path | None, *, create: bool = False) -> Logbook:
    """Open the logbook that `--logbook` names, or the user's own.

    Raises
    ------
    LogbookError
        When it cannot be opened, or there is none and `create` is not set.
    """
    return Logbook(path or default_path(), create=create)


def open_or_make_logbook(path: Path | None) -> AbstractContextManager[Logbook]:
    """Open the logbook as `open_logbook` does, or make one: it is there once an entry is in."""
    return open_or_make(path or default_path())


@contextmanager
def opened_as_of(path: Path | None, now: str | None) -> Iterator[tuple[Logbook, datetime]]:
    """Open the logbook as it stood at the time that `--now` names, whole without it; and give it.

    Raises
    ------
    LogbookError
        When it cannot be opened, or the time cannot be read.
    """
    at = given_time(now)
    with Logbook(path or default_path(), as_of=at if now else None) as book:
        yield book, at


def refuse_past(now: str | None) -> None:
    """Refuse `--now` where something would be entered.

    Raises
    ------
    LogbookError
        When it is given.
    """
    if now is not None:
        raise LogbookError(
            "--now only looks, but something would be entered",
            hint="check the number or name, or leave out --now; --at tells when a thing happened",
        )


def tub_numbers(words: list[str]) -> tuple[int, ...]:
    """Return the tubs that words such as ``12`` and ``14-16`` stand for.

    Raises
    ------
    LogbookError
        When a word is neither.

    Examples
    --------
    >>> tub_numbers(["12,", "14-16,20"])
    (12, 14, 15, 16, 20)
    """
    numbers: list[int] = []
    for word in (part for typed in words for part in typed.removesuffix(",").split(",")):
        first, _, last = word.partition("-")
        if not (first.isdecimal() and (last or first).isdecimal()):
            raise LogbookError(f"'{word}' is no tub number", hint="write 12, or 14-16 for several")
        if len(last or first) > len(str(LAST_TUB)):
            raise LogbookError(f"'{word}' is no tub number", hint=f"number tubs up to {LAST_TUB}")
        span = range(int(first), int(last or first) + 1)
        if not span:
            raise LogbookError(f"'{word}' names no tubs", hint="write the smaller number first")
        if len(span) > MOST_TUBS:
            raise LogbookError(
                f"'{word}' names {len(span)} tubs", hint=f"name at most {MOST_TUBS} at a time"
            )
        numbers.extend(span)
    return tuple(dict.fromkeys(numbers))


def named_tubs(book: Logbook, words: list[str] | None) -> tuple[int, ...]:
    """Return the tubs that words name; all of the logbook without any.

    Raises
    ------
    LogbookError
        When the logbook has no such tub.
    """
    known = tuple(tub.number for tub in list_tubs(book))
    numbers = tub_numbers(words) if words else known
    for number in numbers:
        if number not in known:
            raise LogbookError(f"there is no tub {number}", hint="see the tubs: greasecheck today")
    return numbers


def tidied(typed: str | None) -> str | None:
    """Return a name as it is kept, without blanks too many; None when none was typed."""
    return None if typed is None else tidy_name(typed)


def complete_tub(ctx: typer.Context, incomplete: str) -> list[str]:
    """Complete a tub number from the logbook."""
    return _complete(
        ctx, "SELECT number FROM tubs WHERE merged_into IS NULL ORDER BY number", incomplete
    )


def complete_skull(ctx: typer.Context, incomplete: str) -> list[str]:
    """Complete a skull's name from the logbook."""
    return _complete(ctx, f"{EVERY_SKULL} ORDER BY name", incomplete)


def _complete(ctx: typer.Context, sql: str, incomplete: str) -> list[str]:
    """Look the words up; a shell in the middle of a line is no place for errors."""
    named = ctx.params.get("logbook") or os.environ.get(LOGBOOK_VARIABLE)
    try:
        with open_logbook(Path(named) if named else None) as book:
            words = [str(word) for (word,) in book.rows(sql)]
    except GreasecheckError:
        return []
    return [word for word in words if word.startswith(incomplete)]


LogbookFile = Annotated[
    Path | None,
    typer.Option(
        "--logbook",
        envvar=LOGBOOK_VARIABLE,
        help="The logbook; by default the one in your data folder.",
        metavar="FILE",
    ),
]
TubNumber = Annotated[
    int,
    typer.Argument(help="Number of the tub.", min=0, max=LAST_TUB, autocompletion=complete_tub),
]
TubWords = Annotated[
    list[str] | None,
    typer.Argument(
        help="Numbers of the tubs, such as 12 or 14-16.",
        metavar="[TUB]...",
        autocompletion=complete_tub,
    ),
]
TubOption = Annotated[
    int | None,
    typer.Option(
        "--tub", help="Number of the tub.", min=0, max=LAST_TUB, autocompletion=complete_tub
    ),
]
SkullNames = Annotated[
    list[str] | None,
    typer.Argument(
        help="Names of the skulls; all without one.",
        metavar="[SKULL]...",
        autocompletion=complete_skull,
    ),
]
SkullOnRest = Annotated[
    str | None,
    typer.Option("--skull", help="The skull on the rest.", autocompletion=complete_skull),
]
SkullName = Annotated[
    str,
    typer.Argument(help="Name of the skull, or its owner's label.", autocompletion=complete_skull),
]
At = Annotated[
    str | None,
    typer.Option(
        "--at",
        help="When: 18:05, 2026-03-04, '2026-03-04 18:05' or '2d ago'; by default now.",
        metavar="TIME",
    ),
]
AsOf = Annotated[
    str | None,
    typer.Option(
        "--now", help="Answer as of this time; what came later is not looked at.", metavar="TIME"
    ),
]
InsteadOf = Annotated[
    str | None,
    typer.Option(
        "--instead-of",
        help="Correct the entry made for about this time: --at is when it really was.",
        metavar="TIME",
    ),
]
Why = Annotated[str | None, typer.Option("--why", help="The reason.", metavar="TEXT")]
NoteText = Annotated[str | None, typer.Option("--note", help="Anything else.", metavar="TEXT")]
