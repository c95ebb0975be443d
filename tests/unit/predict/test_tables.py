from __future__ import annotations

import pytest

from greasecheck.model import Recipe
from greasecheck.predict.tables import recipe_prior, spread
from greasecheck.reference.folder import data_folder
from greasecheck.reference.lookup import HEADER_KEYS, read_lookup


@pytest.mark.parametrize("name", ["species", "recipes", "leaching_priors"])
def test_tables_name_their_source(name: str) -> None:
    table = read_lookup(data_folder("calibration") / f"{name}.csv")
    assert all(table.header[key] for key in HEADER_KEYS)
    assert "no source" in table.header["source"] or "our guess" in table.header["source"]


@pytest.mark.parametrize("recipe", list(Recipe))
def test_every_recipe_has_a_prior(recipe: Recipe) -> None:
    prior = recipe_prior(recipe)
    assert prior.fresh_per_m > 0
    assert prior.rate_ratio > 0


def test_soap_is_what_the_others_are_measured_against() -> None:
    assert (recipe_prior(Recipe.SOAP).rate_ratio, recipe_prior(Recipe.SOAP).rate_log_std) == (1, 0)
    assert spread("partition").log_std > 0
