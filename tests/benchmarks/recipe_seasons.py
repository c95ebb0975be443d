"""The comparison of recipes from readings on: invented tubs are read, fitted, then compared.

Run with `python -m tests.benchmarks.recipe_seasons [--quick] [--seasons N]`.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import ForecastError
from greasecheck.model import Recipe
from greasecheck.predict.outlook.forecasting import fit_tub
from greasecheck.predict.recipes.comparison import compare_recipes
from greasecheck.predict.recipes.rate import tub_rate
from tests.synthetic.tub_simulator import START, Truth, simulate_tub

if TYPE_CHECKING:
    from greasecheck.predict.recipes.records import RecipeComparison, TubRate

RECIPES = (Recipe.SOAP, Recipe.AMMONIA)
TRUE_RATIO = 1.5  # tubs whose table is wrong by that factor stand in for the quicker recipe
MOST_DAYS = 150.0


def read_rate(recipe: Recipe, seed: int) -> TubRate | None:
    """Invent a tub, read it until clear or for `MOST_DAYS`, and return its rate if it tells one."""
    truth = Truth.QUICKER_TABLE if recipe is Recipe.AMMONIA else Truth.PRIOR
    tub = simulate_tub(np.random.default_rng(seed), truth)
    changes = tuple(replace(change, recipe=recipe) for change in tub.history.changes)
    until = START + timedelta(days=min(tub.clear_days, MOST_DAYS))
    try:
        return tub_rate(fit_tub(replace(tub.history, changes=changes), until), f"tub {seed}")
    except ForecastError:
        return None


def read_season(each: int, seed: int) -> RecipeComparison:
    """Return the comparison of `each` tubs of either recipe."""
    rates = [
        read_rate(recipe, 1000 * (2 * seed + index) + number)
        for index, recipe in enumerate(RECIPES)
        for number in range(each)
    ]
    return compare_recipes([rate for rate in rates if rate is not None])


def held(found: RecipeComparison) -> tuple[bool, ...] | None:
    """Return whether each interval holds the true ratio; None when it is not ranked."""
    intervals = found.ratios[0].intervals if found.ratios else ()
    return tuple(part.low <= TRUE_RATIO <= part.high for part in intervals) or None


def main() -> None:
    """Print coverage and the share of seasons ranked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--seasons", type=int, default=40)
    options = parser.parse_args()
    seasons = 2 if options.quick else options.seasons
    for each in (5,) if options.quick else (3, 10):
        found = [read_season(each, seed) for seed in range(seasons)]
        ranked = [one for one in map(held, found) if one is not None]
        used = np.mean([len(one.tubs) for one in found]) / (2 * each)
        ratio = np.median([one.ratios[0].ratio for one in found if held(one) is not None])
        shares = " ".join(f"{share:5.2f}" for share in np.mean(ranked, axis=0))
        print(
            f"{each} + {each}: ranked {len(ranked)} of {seasons}, tubs that told {used:.2f}, "
            f"50 80 95 % hold {shares}, median ratio {ratio:.2f} (true {TRUE_RATIO})",
            flush=True,
        )


if __name__ == "__main__":
    main()
