"""What the logbook has called for cautions about, so that each caution is shown once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.logbook.skulls.stays import ever_happened
from greasecheck.logbook.water.baths import warmest_by_recipe
from greasecheck.model import Recipe
from greasecheck.reference.advice import advice_value
from greasecheck.reference.cautions import Ingredient, named_cautions
from greasecheck.stages import EventKind

if TYPE_CHECKING:
    from greasecheck.logbook.records import Bath, SkullEvent
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.reference.cautions import Caution

HEATED_FROM_C = 25.0  # warmer than any room that bones soak in


def subjects_of(recipe: Recipe, temperature_c: float | None) -> tuple[Recipe | Ingredient, ...]:
    """Return what a bath of `recipe` at `temperature_c` [degrees C] calls for cautions about."""
    heated = temperature_c is not None and temperature_c > HEATED_FROM_C
    return (recipe, Ingredient.HEATER) if heated else (recipe,)


def graver_of_bath(recipe: Recipe, temperature_c: float | None) -> tuple[Caution, ...]:
    """Return what is shown every time a bath is entered so, not once a logbook: warm acetone."""
    warm = temperature_c is not None and temperature_c > HEATED_FROM_C
    return named_cautions("acetone and sparks") if warm and recipe is Recipe.ACETONE else ()


def graver_of_whitening(event: SkullEvent) -> tuple[Caution, ...]:
    """Return what is shown every time a whitening is entered so: strong peroxide, or for long."""
    if event.kind is not EventKind.WHITENED:
        return ()
    strong = (event.strength_percent or 0.0) >= advice_value("peroxide_low_percent")
    long = strong or (event.duration_h or 0.0) > advice_value("mild_high_hours")
    return named_cautions(
        *(("strong peroxide", "closed peroxide") if strong else ()),
        *(("peroxide and bone",) if long else ()),
    )


def used_before(book: Logbook, *, left_out: Bath | None = None) -> tuple[Recipe | Ingredient, ...]:
    """Return what the logbook's baths and whitenings have already called for cautions about.

    Asked before an entry, it lets `new_cautions` show each caution once; asked after it, `left_out`
    is the bath that was entered.
    """
    baths = warmest_by_recipe(book, left_out=left_out)
    used = [part for recipe, warmest in baths.items() for part in subjects_of(recipe, warmest)]
    if ever_happened(book, EventKind.WHITENED):
        used.append(Ingredient.PEROXIDE)
    return tuple(dict.fromkeys(used))
