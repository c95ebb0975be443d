"""Which recipe leaches faster, by how much, and how sure that is."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model.recipe_ratios import (
    FEWEST_TUBS,
    Hindrance,
    RateRatio,
    RatioInterval,
    RecipeNote,
    RecipeNoteCode,
    RecipeVerdict,
)
from greasecheck.predict.recipes.design import design_of
from greasecheck.predict.recipes.more_tubs import more_tubs_each, verdict_of
from greasecheck.predict.recipes.records import RecipeComparison
from greasecheck.predict.recipes.regression import fit_recipes, nothing_known

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.model import Recipe
    from greasecheck.predict.recipes.design import Design
    from greasecheck.predict.recipes.records import TubRate
    from greasecheck.predict.recipes.regression import NormalMixture, RecipeFit

INTERVALS = (0.5, 0.8, 0.95)
APART_C = 3.0


def compare_recipes(tubs: Sequence[TubRate]) -> RecipeComparison:
    """Compare the recipes of some tubs, finished or not.

    Parameters
    ----------
    tubs : sequence of TubRate
        How quickly each leached; their order does not matter.

    Returns
    -------
    RecipeComparison
        One ratio for each pair of recipes; a pair that the tubs cannot separate is not ranked,
        with the reason.

    Raises
    ------
    ForecastError
        When a rate is no number, has no standard error above 0, or a bath no real temperature.

    Examples
    --------
    >>> from greasecheck.model import Recipe
    >>> from greasecheck.predict.recipes.records import TubRate
    >>> tubs = [
    ...     TubRate(name=f"{recipe} {n}", log_rate=-4.5 + gain, std=0.1, recipe=recipe,
    ...             species="deer", temperature_c=40.0)
    ...     for recipe, gain in ((Recipe.SOAP, 0.0), (Recipe.AMMONIA, 0.7)) for n in range(5)
    ... ]
    >>> found = compare_recipes(tubs).ratios[0]
    >>> str(found.verdict), round(found.ratio, 1)
    ('faster', 2.0)
    """
    if not tubs:
        none = RecipeNote(code=RecipeNoteCode.NO_RATES)
        return RecipeComparison(tubs=(), ratios=(), tub_scatter_log_std=None, notes=(none,))
    design = design_of(tubs)
    fit = fit_recipes(design)
    pairs = combinations(design.recipes, 2)
    return RecipeComparison(
        tubs=tuple(tubs),
        ratios=tuple(
            _ratio(tubs, design, fit, recipe=other, baseline=first) for first, other in pairs
        ),
        tub_scatter_log_std=fit.scatter,
        notes=_notes(tubs, design),
    )


def _ratio(
    tubs: Sequence[TubRate], design: Design, fit: RecipeFit, *, recipe: Recipe, baseline: Recipe
) -> RateRatio:
    law = fit.difference(design.contrast(recipe, baseline))
    hindrance = _hindrance(tubs, design, recipe, baseline)
    read_std = float(np.median([tub.std for tub in tubs]))
    ranked = hindrance is None
    return RateRatio(
        recipe=recipe,
        baseline=baseline,
        tubs=len(_of(tubs, recipe)),
        baseline_tubs=len(_of(tubs, baseline)),
        verdict=verdict_of(law) if ranked else RecipeVerdict.NOT_RANKED,
        hindrance=hindrance,
        ratio=float(np.exp(law.quantile(0.5))) if ranked else None,
        intervals=tuple(_interval(law, p) for p in INTERVALS) if ranked else (),
        probability_faster=1 - law.below(0.0) if ranked else None,
        plain_ratio=_plain_ratio(tubs, recipe, baseline) if ranked else None,
        more_tubs_each=more_tubs_each(law if ranked else nothing_known(), fit.scatter, read_std),
    )


def _interval(law: NormalMixture, probability: float) -> RatioInterval:
    tail = (1 - probability) / 2
    return RatioInterval(
        probability=probability,
        low=float(np.exp(law.quantile(tail))),
        high=float(np.exp(law.quantile(1 - tail))),
    )


def _of(tubs: Sequence[TubRate], recipe: Recipe) -> list[TubRate]:
    return [tub for tub in tubs if tub.recipe is recipe]


def _plain_ratio(tubs: Sequence[TubRate], recipe: Recipe, baseline: Recipe) -> float:
    means = [np.mean([tub.log_rate for tub in _of(tubs, which)]) for which in (recipe, baseline)]
    return float(np.exp(means[0] - means[1]))


def _hindrance(
    tubs: Sequence[TubRate], design: Design, recipe: Recipe, baseline: Recipe
) -> Hindrance | None:
    if any(len(_of(tubs, which)) < FEWEST_TUBS for which in (recipe, baseline)):
        return Hindrance.FEW_TUBS
    return None if design.separates(recipe, baseline) else Hindrance.SPECIES_APART


def _notes(tubs: Sequence[TubRate], design: Design) -> tuple[RecipeNote, ...]:
    notes = []
    if len(design.recipes) == 1:
        notes.append(RecipeNote(code=RecipeNoteCode.ONE_RECIPE, names=(design.recipes[0],)))
    blank = tuple(tub.name for tub in tubs if tub.temperature_c is None)
    if blank:
        notes.append(RecipeNote(code=RecipeNoteCode.NO_TEMPERATURE, names=blank))
    if _warmth_apart(tubs, design) > APART_C:
        notes.append(RecipeNote(code=RecipeNoteCode.WARMTH_APART))
    return tuple(notes)


def _warmth_apart(tubs: Sequence[TubRate], design: Design) -> float:
    """Return how far the recipes' mean temperatures lie apart [degrees C]."""
    known = {
        recipe: [tub.temperature_c for tub in _of(tubs, recipe) if tub.temperature_c is not None]
        for recipe in design.recipes
    }
    means = [sum(values) / len(values) for values in known.values() if values]
    return max(means) - min(means) if means else 0.0
