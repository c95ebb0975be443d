"""The command that shows the usual cautions."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated

import typer

from greasecheck.cli.options import AsJson
from greasecheck.cli.output import print_json
from greasecheck.cli.plain import plain
from greasecheck.reference.cautions import Ingredient, cautions_for, new_cautions

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from greasecheck.logbook.book import Logbook
    from greasecheck.model import Recipe
    from greasecheck.reference.cautions import Caution

HEATED_FROM_C = 25.0  # warmer than any room that bones soak in


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


def subjects_of(recipe: Recipe, temperature_c: float | None) -> tuple[Recipe | Ingredient, ...]:
    """Return what a bath of `recipe` at `temperature_c` [degrees C] calls for cautions about."""
    heated = temperature_c is not None and temperature_c > HEATED_FROM_C
    return (recipe, Ingredient.HEATER) if heated else (recipe,)


@contextmanager
def warned_once(book: Logbook) -> Iterator[None]:
    """Show on stderr, once a logbook, the cautions of what the entries in the block bring."""
    before = used_before(book)
    yield
    brought = [part for part in used_before(book) if part not in before]
    for line in caution_lines(new_cautions(brought, before)):
        typer.echo(line, err=True)


def used_before(book: Logbook) -> tuple[Recipe | Ingredient, ...]:
    """Return what the logbook's baths and whitenings have already called for cautions about.

    Asked before an entry, it lets `new_cautions` show each caution once.
    """
    from greasecheck.logbook.records import EventKind  # noqa: PLC0415 - keeps start-up light
    from greasecheck.logbook.skulls import list_skulls, skull_events  # noqa: PLC0415 - as above
    from greasecheck.logbook.water import list_baths, list_tubs  # noqa: PLC0415 - as above

    baths = [bath for tub in list_tubs(book) for bath in list_baths(book, tub.number)]
    used = [part for bath in baths for part in subjects_of(bath.recipe, bath.temperature_c)]
    events = (event for skull in list_skulls(book) for event in skull_events(book, skull.name))
    if any(event.kind is EventKind.WHITENED for event in events):
        used.append(Ingredient.PEROXIDE)
    return tuple(dict.fromkeys(used))
