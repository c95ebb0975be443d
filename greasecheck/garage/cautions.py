"""What the logbook has called for cautions about, so that each caution is shown once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.logbook.records import EventKind
from greasecheck.logbook.skulls import list_skulls, skull_events
from greasecheck.logbook.water import list_baths, list_tubs
from greasecheck.reference.cautions import Ingredient

if TYPE_CHECKING:
    from greasecheck.logbook.book import Logbook
    from greasecheck.logbook.records import Bath
    from greasecheck.model import Recipe

HEATED_FROM_C = 25.0  # warmer than any room that bones soak in


def subjects_of(recipe: Recipe, temperature_c: float | None) -> tuple[Recipe | Ingredient, ...]:
    """Return what a bath of `recipe` at `temperature_c` [degrees C] calls for cautions about."""
    heated = temperature_c is not None and temperature_c > HEATED_FROM_C
    return (recipe, Ingredient.HEATER) if heated else (recipe,)


def used_before(book: Logbook, *, but: Bath | None = None) -> tuple[Recipe | Ingredient, ...]:
    """Return what the logbook's baths and whitenings have already called for cautions about.

    Asked before an entry, it lets `new_cautions` show each caution once; asked after it, `but`
    leaves out the bath that was entered.
    """
    baths = [bath for tub in list_tubs(book) for bath in list_baths(book, tub.number)]
    used = [
        part
        for bath in baths
        if bath != but
        for part in subjects_of(bath.recipe, bath.temperature_c)
    ]
    events = (event for skull in list_skulls(book) for event in skull_events(book, skull.name))
    if any(event.kind is EventKind.WHITENED for event in events):
        used.append(Ingredient.PEROXIDE)
    return tuple(dict.fromkeys(used))
