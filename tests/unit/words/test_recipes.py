from __future__ import annotations

from greasecheck.model import Recipe
from greasecheck.model.recipe_ratios import RateRatio, RatioInterval, RecipeVerdict
from greasecheck.words.recipes import days_words


def test_a_ratio_of_rates_is_told_in_days_as_well() -> None:
    ratio = RateRatio(
        recipe=Recipe.AMMONIA,
        baseline=Recipe.SOAP,
        tubs=6,
        baseline_tubs=7,
        verdict=RecipeVerdict.OPEN,
        hindrance=None,
        ratio=1.25,
        intervals=(RatioInterval(probability=0.8, low=0.8, high=2.0),),
        probability_faster=0.8,
        plain_ratio=1.2,
        more_tubs_each=None,
    )
    told = "where soap takes 100 days, ammonia takes about 80 (8 in 10: 50 to 125)"
    assert days_words(ratio) == told
