from __future__ import annotations

import pytest

from greasecheck.model import Recipe
from greasecheck.reference.cautions import (
    ANY,
    Ingredient,
    Level,
    cautions_for,
    ingredients_of,
    new_cautions,
)


@pytest.mark.parametrize("recipe", Recipe)
def test_every_recipe_has_its_ingredients_and_the_cautions_of_any_bath(recipe: Recipe) -> None:
    names = [caution.name for caution in cautions_for(recipe)]
    assert {"raw tissue", "disposal", "protected species", "what comes first"} <= set(names)
    assert len(names) == len(set(names))
    assert all(isinstance(part, Ingredient) for part in ingredients_of(recipe))


@pytest.mark.parametrize(
    ("subject", "words"),
    [
        (Recipe.AMMONIA, "chlorine bleach"),
        (Recipe.SOAP_AMMONIA, "chlorine bleach"),
        (Recipe.AMMONIA, "strong draught"),
        (Recipe.ACETONE, "no heater, flame, spark"),
        (Recipe.ACETONE, "explosive"),
        (Recipe.OWN, "safety data sheet of every part"),
        (Ingredient.PEROXIDE, "12% and more burns"),
        (Ingredient.PEROXIDE, "goggles and gloves"),
        (Ingredient.HEATER, "residual-current device"),
        (Recipe.SOAP, "Raw animal tissue"),
        (Recipe.SOAP, "permit"),
        (Recipe.SOAP, "safety data sheets come first"),
    ],
)
def test_what_must_be_said(subject: Recipe | Ingredient, words: str) -> None:
    assert any(words in caution.words for caution in cautions_for(subject))


def test_dangers_come_first_and_rules_last() -> None:
    levels = [caution.level for caution in cautions_for(*Ingredient)]
    assert levels == sorted(levels, key=list(Level).index)
    assert set(levels) == set(Level)


def test_every_caution_belongs_to_something_known() -> None:
    known = {ANY, *Ingredient}
    assert all(set(caution.subjects) <= known for caution in cautions_for(*Ingredient))
    assert all(caution.subjects for caution in cautions_for(*Ingredient))


def test_soap_brings_no_danger() -> None:
    assert all(caution.level is not Level.DANGER for caution in cautions_for(Recipe.SOAP))


def test_cautions_are_shown_once() -> None:
    assert new_cautions([Recipe.SOAP], []) == cautions_for(Recipe.SOAP)
    assert new_cautions([Recipe.SOAP], [Recipe.SOAP]) == ()
    added = new_cautions([Recipe.SOAP_AMMONIA], [Recipe.SOAP])
    assert {caution.name for caution in added} == {
        "ammonia and bleach",
        "ammonia in the air",
        "gloves and eyes",
    }
    assert new_cautions([Recipe.AMMONIA], [Recipe.SOAP_AMMONIA]) == ()
