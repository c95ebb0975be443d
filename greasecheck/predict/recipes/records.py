"""What goes into a comparison of recipes and what comes out: plain frozen records."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greasecheck.model import Recipe
    from greasecheck.model.recipe_ratios import RateRatio, RecipeNote


@dataclass(frozen=True, slots=True, kw_only=True)
class TubRate:
    """How quickly one tub leached, by its readings alone.

    Attributes
    ----------
    name : str
        Which tub and soak it was.
    log_rate : float
        Natural log of one over the days until a tenth of the grease is left [1/day], at the
        warmth and with the recipe that the tub was run with.
    std : float
        Standard error of `log_rate`, above 0.
    recipe : Recipe
        What its baths were made of.
    species : str or None
        Its slowest species; None when unknown.
    temperature_c : float or None
        Bath temperature [degrees C]; None when unknown.
    """

    name: str
    log_rate: float
    std: float
    recipe: Recipe
    species: str | None
    temperature_c: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeComparison:
    """All recipes in use against each other.

    Attributes
    ----------
    tubs : tuple of TubRate
        The tubs that were compared.
    ratios : tuple of RateRatio
        One for each pair of recipes.
    tub_scatter_log_std : float or None
        Natural-log scatter of tubs alike in all that is known; None without a tub.
    notes : tuple of RecipeNote
        What to know before believing the ratios.
    """

    tubs: tuple[TubRate, ...]
    ratios: tuple[RateRatio, ...]
    tub_scatter_log_std: float | None
    notes: tuple[RecipeNote, ...]
