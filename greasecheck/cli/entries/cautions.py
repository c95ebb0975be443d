"""The command that shows the usual cautions."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.shared.options import AsJson
from greasecheck.cli.shared.output import print_json
from greasecheck.cli.shared.plain import plain
from greasecheck.garage.cautions import used_before
from greasecheck.reference.cautions import Ingredient, cautions_for, new_cautions

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from greasecheck.logbook.store.book import Logbook
    from greasecheck.reference.cautions import Caution


def register(app: typer.Typer) -> None:
    """Add the command to the app."""
    app.command()(cautions)


def cautions(
    about: Annotated[
        list[Ingredient] | None, typer.Argument(help="What you use; all when left out.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Show the usual cautions of what goes into baths and whitening.

    Local rules and the makers' safety data sheets come first.

    Example: greasecheck cautions ammonia heater
    """
    found = cautions_for(*(about or Ingredient))
    if as_json:
        print_json({"cautions": plain(found)})
    else:
        typer.echo("\n".join(caution_lines(found)))


def caution_lines(cautions: Sequence[Caution]) -> list[str]:
    """Return cautions in words, gravest first, one line each."""
    return [f"{caution.level}: {caution.words}" for caution in cautions]


@contextmanager
def warned_once(book: Logbook) -> Iterator[list[Caution]]:
    """Show on stderr, once a logbook, the cautions of what the entries in the block bring.

    Those that the block puts into the list it is given are shown in any case.
    """
    before = used_before(book)
    graver: list[Caution] = []
    yield graver
    brought = [part for part in used_before(book) if part not in before]
    new = new_cautions(brought, before)
    for line in caution_lines([*new, *(one for one in graver if one not in new)]):
        typer.echo(line, err=True)
