"""Coverage and verdicts of the comparison of recipes over invented seasons with known ratio.

Run with `python -m tests.benchmarks.recipe_comparison [--quick] [--seasons N]`.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from functools import cache

import numpy as np

from greasecheck.model import Recipe
from greasecheck.model.recipe_ratios import RateRatio, RecipeVerdict
from greasecheck.predict.model.arrhenius import rate_factor
from greasecheck.predict.recipes.comparison import compare_recipes
from greasecheck.predict.recipes.records import TubRate
from greasecheck.predict.tables import species_range

RATIOS = (0.7, 1.0, 1.3, 2.0)
SCATTERS = (0.15, 0.3, 0.5)
SIZES = (3, 10)
SPECIES = ("deer", "elk", "fox")
PROBABILITIES = (0.5, 0.8, 0.95)
READ_STD = (0.05, 0.25)
TABLE_ERROR, PRACTICE_ERROR = 0.35, 0.5
ACTIVATION_KJ_PER_MOL = (35.0, 55.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """What an invented season is drawn from; `each` tubs of either recipe."""

    ratio: float
    scatter: float
    each: int
    species: tuple[str, ...] = SPECIES


def invent_season(world: World, generator: np.random.Generator) -> tuple[TubRate, ...]:
    """Invent a season of soap and ammonia tubs, by no code of the fit but the species table."""
    practice = PRACTICE_ERROR * generator.standard_normal()
    own_pace = {name: TABLE_ERROR * generator.standard_normal() for name in world.species}
    activation = generator.uniform(*ACTIVATION_KJ_PER_MOL)
    tubs = []
    for number in range(2 * world.each):
        recipe = (Recipe.SOAP, Recipe.AMMONIA)[number % 2]
        species = world.species[(number // 2) % len(world.species)]
        temperature_c = float(generator.uniform(35.0, 45.0))
        std = float(generator.uniform(*READ_STD))
        row = species_range(species)
        pace = practice + own_pace[species] - np.log(row.low_days * row.high_days) / 2
        pace += np.log(rate_factor(temperature_c, activation))
        pace += np.log(world.ratio) * (recipe is Recipe.AMMONIA)
        noise = np.hypot(world.scatter, std) * generator.standard_normal()
        tubs.append(
            TubRate(
                name=f"tub {number}",
                log_rate=float(pace + noise),
                std=std,
                recipe=recipe,
                species=species,
                temperature_c=temperature_c,
            )
        )
    return tuple(tubs)


@cache
def compare_worlds(world: World, seasons: int) -> tuple[RateRatio, ...]:
    """Return the ratio found in each of many invented seasons, other ones for each world."""
    seed = (round(100 * world.ratio), round(100 * world.scatter), world.each)
    generator = np.random.default_rng(seed)
    return tuple(compare_recipes(invent_season(world, generator)).ratios[0] for _ in range(seasons))


def intervals_hold(found: RateRatio, truth: float) -> tuple[bool, ...]:
    """Return whether each interval, of ammonia over soap, holds the true ratio."""
    return tuple(interval.low <= truth <= interval.high for interval in found.intervals)


def coverage(worlds: list[World], seasons: int) -> tuple[float, ...]:
    """Return the share of seasons whose 50, 80 and 95 % intervals hold the truth."""
    held = [
        intervals_hold(found, world.ratio)
        for world in worlds
        for found in compare_worlds(world, seasons)
    ]
    return tuple(float(share) for share in np.mean(held, axis=0))


def all_worlds(each: int) -> list[World]:
    """Return every combination of ratio and scatter."""
    return [
        World(ratio=ratio, scatter=scatter, each=each) for ratio in RATIOS for scatter in SCATTERS
    ]


def wrong_verdicts(worlds: list[World], seasons: int) -> float:
    """Return the share of seasons that call the truly slower recipe, or none, the faster one."""
    return float(
        np.mean(
            [
                (found.verdict is RecipeVerdict.FASTER and world.ratio <= 1)
                or (found.verdict is RecipeVerdict.SLOWER and world.ratio >= 1)
                for world in worlds
                for found in compare_worlds(world, seasons)
            ]
        )
    )


def settled_share(world: World, seasons: int) -> tuple[float, float]:
    """Let each season run on for as many tubs as asked; return the shares settled and asked."""
    generator = np.random.default_rng(2)
    settled = []
    for _ in range(seasons):
        ratio = float(np.exp(0.5 * np.sqrt(2) * generator.standard_normal()))
        truth = World(ratio=ratio, scatter=world.scatter, each=world.each + 60)
        tubs = invent_season(truth, generator)
        more = compare_recipes(tubs[: 2 * world.each]).ratios[0].more_tubs_each
        if more:
            later = compare_recipes(tubs[: 2 * (world.each + more)]).ratios[0]
            settled.append(later.verdict is not RecipeVerdict.OPEN)
    return float(np.mean(settled)) if settled else float("nan"), len(settled) / seasons


def _print_row(name: str, worlds: list[World], seasons: int) -> None:
    held = " ".join(f"{share:5.2f}" for share in coverage(worlds, seasons))
    print(f"{name:38s} {held}  {wrong_verdicts(worlds, seasons):5.3f}", flush=True)


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--seasons", type=int, default=400)
    options = parser.parse_args()
    seasons = 3 if options.quick else options.seasons
    print(f"{'tubs, true ratio, scatter':38s}  50 %  80 %  95 %  wrong verdict")
    for each in SIZES:
        for world in all_worlds(each):
            name = f"{each} + {each}, {world.ratio:g}, {world.scatter:g}"
            _print_row(name, [world], seasons)
        _print_row(f"{each} + {each}, all", all_worlds(each), seasons)
        share, asked = settled_share(World(ratio=1.0, scatter=0.3, each=each), seasons)
        print(f"{each} + {each}: settled after the tubs asked for: {share:.2f} ({asked:.2f} asked)")


if __name__ == "__main__":
    main()
