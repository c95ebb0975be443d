"""The usual cautions of each recipe and ingredient; local rules and safety sheets come first."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import TYPE_CHECKING

from greasecheck.model import Recipe
from greasecheck.reference.folder import data_folder

if TYPE_CHECKING:
    from collections.abc import Iterable

ANY = "any"
SEPARATOR = ";"


class Ingredient(StrEnum):
    """What calls for cautions: what goes into baths, whitening, and the heater."""

    SOAP = "soap"
    AMMONIA = "ammonia"
    ACETONE = "acetone"
    PEROXIDE = "peroxide"
    HEATER = "heater"
    OWN = "own"


class Level(StrEnum):
    """How grave a caution is, gravest first."""

    DANGER = "danger"
    CARE = "care"
    RULE = "rule"


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution.

    Attributes
    ----------
    name : str
        What it is about.
    level : Level
        How grave it is.
    words : str
        What to do or leave.
    subjects : tuple of str
        The ingredients it belongs to, or `ANY`.
    """

    name: str
    level: Level
    words: str
    subjects: tuple[str, ...]


def ingredients_of(recipe: Recipe) -> tuple[Ingredient, ...]:
    """Return what calls for cautions in a recipe.

    Examples
    --------
    >>> [str(part) for part in ingredients_of(Recipe.SOAP_AMMONIA)]
    ['soap', 'ammonia']
    """
    return _recipes()[recipe]


def cautions_for(*subjects: Recipe | Ingredient) -> tuple[Caution, ...]:
    """Return the cautions of recipes and ingredients together, gravest first, none twice.

    Parameters
    ----------
    *subjects : Recipe or Ingredient
        What is used; those that belong to any bath are always among the answer.

    Examples
    --------
    >>> cautions_for(Recipe.AMMONIA)[0].name
    'ammonia and bleach'
    """
    named = {ANY, *_names(subjects)}
    return tuple(caution for caution in _cautions() if named & set(caution.subjects))


def new_cautions(
    subjects: Iterable[Recipe | Ingredient], earlier: Iterable[Recipe | Ingredient]
) -> tuple[Caution, ...]:
    """Return the cautions of `subjects` that were not shown already for what was used `earlier`.

    Examples
    --------
    >>> [caution.name for caution in new_cautions([Ingredient.HEATER], [Recipe.SOAP])]
    ['heater and water', 'hot bath']
    """
    used = tuple(earlier)
    shown = cautions_for(*used) if used else ()
    return tuple(caution for caution in cautions_for(*subjects) if caution not in shown)


def named_cautions(*names: str) -> tuple[Caution, ...]:
    """Return the cautions of these names, gravest first.

    Examples
    --------
    >>> [str(caution.level) for caution in named_cautions("labels", "acetone and sparks")]
    ['danger', 'care']
    """
    return tuple(caution for caution in _cautions() if caution.name in names)


def _names(subjects: Iterable[Recipe | Ingredient]) -> set[str]:
    found: set[str] = set()
    for subject in subjects:
        parts = ingredients_of(subject) if isinstance(subject, Recipe) else (subject,)
        found.update(parts)
    return found


@cache
def _recipes() -> dict[Recipe, tuple[Ingredient, ...]]:
    return {
        Recipe(row["recipe"]): tuple(map(Ingredient, _parts(row["ingredients"])))
        for row in _rows("recipes.csv")
    }


@cache
def _cautions() -> tuple[Caution, ...]:
    found = (
        Caution(
            name=row["name"],
            level=Level(row["level"]),
            words=row["words"],
            subjects=_parts(row["subjects"]),
        )
        for row in _rows("cautions.csv")
    )
    return tuple(sorted(found, key=lambda caution: list(Level).index(caution.level)))


def _rows(name: str) -> tuple[dict[str, str], ...]:
    from greasecheck.reference.lookup import read_lookup  # noqa: PLC0415 - loads numpy

    return read_lookup(data_folder("calibration") / name).rows


def _parts(text: str) -> tuple[str, ...]:
    return tuple(part for part in text.split(SEPARATOR) if part)
