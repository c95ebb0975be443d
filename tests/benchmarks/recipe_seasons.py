"""The comparison of recipes from readings on: invented tubs are read, fitted, then compared.

Run with `python -m tests.benchmarks.recipe_seasons [--quick] [--seasons N] [--workers N]`.
"""

from __future__ import annotations

import argparse
import os
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from datetime import timedelta
from itertools import product

import numpy as np

from greasecheck.errors import ForecastError
from greasecheck.model import Recipe
from greasecheck.predict.outlook.forecasting import fit_tub
from greasecheck.predict.recipes.comparison import compare_recipes
from greasecheck.predict.recipes.rate import tub_rate
from greasecheck.predict.recipes.records import RecipeComparison, TubRate
from tests.synthetic.tubs.kinds import Kind
from tests.synthetic.tubs.log import START, invent_tub

RECIPES = (Recipe.SOAP, Recipe.AMMONIA)
TRUE_RATIO = 1.65
MOST_DAYS = 150.0
SEED_STEP = 1000


def read_rate(task: tuple[Recipe, int]) -> TubRate | None:
    """Invent a tub, read it until degreased or for `MOST_DAYS`, and return the rate it tells."""
    recipe, seed = task
    pace = TRUE_RATIO if recipe is Recipe.AMMONIA else 1.0
    tub = invent_tub(seed, Kind.PLAIN, recipe_pace=pace)
    changes = tuple(replace(change, recipe=recipe) for change in tub.history.changes)
    until = START + timedelta(days=min(tub.degreased_days[0], MOST_DAYS))
    try:
        return tub_rate(fit_tub(replace(tub.history, changes=changes), until), f"tub {seed}")
    except ForecastError:
        return None


def read_seasons(each: int, seasons: int, workers: int) -> list[RecipeComparison]:
    """Return the comparisons of `each` tubs of either recipe in each season."""
    tasks = [
        (recipe, SEED_STEP * (2 * season + index) + number)
        for season in range(seasons)
        for (index, recipe), number in product(enumerate(RECIPES), range(each))
    ]
    with ProcessPoolExecutor(workers) as pool:
        rates = list(pool.map(read_rate, tasks, chunksize=4))
    size = 2 * each
    return [
        compare_recipes([rate for rate in rates[begin : begin + size] if rate is not None])
        for begin in range(0, len(rates), size)
    ]


def held(found: RecipeComparison) -> tuple[bool, ...] | None:
    """Return whether each interval holds the true ratio; None when it is not ranked."""
    intervals = found.ratios[0].intervals if found.ratios else ()
    return tuple(part.low <= TRUE_RATIO <= part.high for part in intervals) or None


def main() -> None:
    """Print coverage and the share of seasons ranked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--seasons", type=int, default=40)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    options = parser.parse_args()
    seasons, each = (2, 5) if options.quick else (options.seasons, 12)
    found = read_seasons(each, seasons, options.workers)
    ranked = [one for one in map(held, found) if one is not None]
    used = np.mean([len(one.tubs) for one in found]) / (2 * each)
    ratios = [one.ratios[0].ratio for one in found if held(one) is not None]
    ratio = np.median(np.array(ratios, dtype=float)) if ratios else np.nan
    shares = " ".join(f"{share:5.2f}" for share in np.mean(ranked, axis=0)) if ranked else "none"
    print(
        f"{each} + {each}: ranked {len(ranked)} of {seasons}, tubs that told {used:.2f}, "
        f"50 80 95 % hold {shares}, median ratio {ratio:.2f} (true {TRUE_RATIO})",
        flush=True,
    )


if __name__ == "__main__":
    main()
