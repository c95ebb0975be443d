"""Which recipes a set of tubs can separate: the columns of the regression."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import ForecastError
from greasecheck.predict.model.arrhenius import REFERENCE_C, rate_factor
from greasecheck.predict.model.history import check_temperature
from greasecheck.predict.recipes.prior import comparison_prior
from greasecheck.predict.tables import UNKNOWN_SPECIES, species_range

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.model import FloatArray, Recipe
    from greasecheck.predict.recipes.records import TubRate

UNKNOWN_TEMPERATURE_STD_C = 5.0  # common practice, no source
ESTIMABLE_WITHIN = 1e-8


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """Tubs as arrays.

    Attributes
    ----------
    recipes : tuple of Recipe
        Recipes in use, in the order of `Recipe`.
    misses : ndarray, shape (tubs,)
        Log rates above what the species table expects at the reference temperature.
    std : ndarray, shape (tubs,)
        Their standard errors, unknown temperatures included.
    recipe_columns : ndarray, shape (tubs, recipes)
        1 where the tub has the recipe.
    species_columns : ndarray, shape (tubs, species)
        1 where the tub has the species; a tub of unknown species has a column of its own.
    warmth : ndarray, shape (tubs,)
        Log of the Arrhenius factor for an activation energy of 1 kJ/mol.
    """

    recipes: tuple[Recipe, ...]
    misses: FloatArray
    std: FloatArray
    recipe_columns: FloatArray
    species_columns: FloatArray
    warmth: FloatArray

    def contrast(self, recipe: Recipe, baseline: Recipe) -> FloatArray:
        """Return the weights of the recipes' effects in log(recipe / baseline)."""
        names = np.array(self.recipes)
        weights: FloatArray = (names == recipe).astype(float) - (names == baseline)
        return weights

    def separates(self, recipe: Recipe, baseline: Recipe) -> bool:
        """Return whether the two can be compared with every species' own pace left open.

        Notes
        -----
        A contrast is estimable when it lies in the row space of the design matrix: here, when
        the two recipes are linked by species that both soaked, directly or by way of others.

        References
        ----------
        S. R. Searle, Linear Models, Wiley 1971, section 5.4 (from memory).
        """
        fixed = np.hstack([self.recipe_columns, self.species_columns])
        sought = np.zeros(fixed.shape[1])
        sought[: len(self.recipes)] = self.contrast(recipe, baseline)
        projected = np.linalg.pinv(fixed) @ fixed @ sought
        return bool(np.abs(projected - sought).max() < ESTIMABLE_WITHIN)


def design_of(tubs: Sequence[TubRate]) -> Design:
    """Return the columns of `tubs`.

    Raises
    ------
    ForecastError
        When a rate is no number, has no standard error above 0, or a bath no real temperature.
    """
    for tub in tubs:
        _check(tub)
    recipes = tuple(sorted({tub.recipe for tub in tubs}, key=list(type(tubs[0].recipe)).index))
    species = [_species_label(tub, index) for index, tub in enumerate(tubs)]
    temperature_c = np.array(
        [REFERENCE_C if tub.temperature_c is None else tub.temperature_c for tub in tubs]
    )
    unknown = np.array([tub.temperature_c is None for tub in tubs])
    usual = [species_range(tub.species or UNKNOWN_SPECIES) for tub in tubs]
    usual_log_days = np.array([np.log(row.low_days * row.high_days) / 2 for row in usual])
    return Design(
        recipes=recipes,
        misses=np.array([tub.log_rate for tub in tubs]) + usual_log_days,
        std=np.hypot([tub.std for tub in tubs], unknown * _log_rate_per_unknown_warmth()),
        recipe_columns=_indicators([tub.recipe for tub in tubs], recipes),
        species_columns=_indicators(species, tuple(dict.fromkeys(species))),
        warmth=np.log(rate_factor(temperature_c, 1.0)),
    )


def _check(tub: TubRate) -> None:
    if not (np.isfinite(tub.log_rate) and np.isfinite(tub.std) and tub.std > 0):
        raise ForecastError(
            f"{tub.name}: its leach rate is no number with a standard error",
            hint="leave this tub out of the comparison",
        )
    check_temperature(tub.temperature_c)


def _species_label(tub: TubRate, index: int) -> str:
    name = (tub.species or UNKNOWN_SPECIES).strip().lower()
    return f"{name} {index}" if name == UNKNOWN_SPECIES else name


def _indicators(values: Sequence[str], levels: Sequence[str]) -> FloatArray:
    columns: FloatArray = (np.array(values)[:, None] == np.array(levels)).astype(float)
    return columns


def _log_rate_per_unknown_warmth() -> float:
    """Return the log-rate spread that an unknown temperature adds."""
    activation = comparison_prior("activation_kj_per_mol").median
    return float(np.log(rate_factor(REFERENCE_C + UNKNOWN_TEMPERATURE_STD_C, activation)))
