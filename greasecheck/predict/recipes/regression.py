"""Bayesian regression of log leach rates, exact except for a grid over two spreads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import optimize, special

from greasecheck.predict.recipes.prior import comparison_prior

if TYPE_CHECKING:
    from greasecheck.model import BoolArray, FloatArray
    from greasecheck.predict.recipes.design import Design

SCATTER_POINTS, SPECIES_POINTS = 21, 9
GRID_REACH = 2.5  # standard deviations to either side
FAR = 12.0  # standard deviations that hold all of a mixture


@dataclass(frozen=True, slots=True, kw_only=True)
class NormalMixture:
    """A weighted sum of normal laws; all arrays of shape (n,), weights of sum 1."""

    weights: FloatArray
    means: FloatArray
    stds: FloatArray

    @property
    def mean(self) -> float:
        """Return the mean."""
        return float(self.weights @ self.means)

    @property
    def std(self) -> float:
        """Return the standard deviation."""
        second = self.weights @ (self.stds**2 + self.means**2)
        return float(np.sqrt(second - self.mean**2))

    def below(self, value: float) -> float:
        """Return the probability, 0 to 1, of lying below `value`."""
        return float(self.weights @ special.ndtr((value - self.means) / self.stds))

    def quantile(self, probability: float) -> float:
        """Return the value below which it lies with `probability`.

        Examples
        --------
        >>> one = NormalMixture(
        ...     weights=np.array([1.0]), means=np.array([2.0]), stds=np.array([0.5])
        ... )
        >>> round(one.quantile(0.975), 3)
        2.98
        """
        reach = FAR * self.stds.max()
        return float(
            optimize.brentq(
                lambda value: self.below(value) - probability,
                self.means.min() - reach,
                self.means.max() + reach,
            )
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeFit:
    """Posterior of the recipes' effects on the log rate.

    Attributes
    ----------
    weights : ndarray, shape (grid,)
        Posterior probability of each pair of spreads.
    tub_scatter : ndarray, shape (grid,)
        Natural-log scatter of tubs that are alike in all that is known.
    means : ndarray, shape (grid, recipes)
        Effects under each pair.
    covariances : ndarray, shape (grid, recipes, recipes)
        Their covariances.
    """

    weights: FloatArray
    tub_scatter: FloatArray
    means: FloatArray
    covariances: FloatArray

    @property
    def scatter(self) -> float:
        """Return the expected scatter of tubs, its root mean square."""
        return float(np.sqrt(self.weights @ self.tub_scatter**2))

    def difference(self, contrast: FloatArray) -> NormalMixture:
        """Return the law of a weighted sum of effects."""
        variances = np.einsum("i,gij,j->g", contrast, self.covariances, contrast)
        return NormalMixture(
            weights=self.weights, means=self.means @ contrast, stds=np.sqrt(variances)
        )


def recipe_spread() -> float:
    """Return the natural-log spread of recipes about their common pace."""
    return comparison_prior("recipe_spread").median


def nothing_known() -> NormalMixture:
    """Return the law of the log ratio of two recipes before any tub."""
    return NormalMixture(
        weights=np.ones(1), means=np.zeros(1), stds=np.full(1, np.sqrt(2) * recipe_spread())
    )


def fit_recipes(design: Design) -> RecipeFit:
    """Fit log rate = table + practice + species + recipe + warmth + scatter.

    Parameters
    ----------
    design : Design
        The tubs.

    Notes
    -----
    All effects are normal a priori, so that given the spreads of tubs and of species the
    posterior is normal and the evidence is in closed form (Gelman et al., Bayesian Data
    Analysis, 3rd ed. 2013, sections 14.8 and 15.3; from memory); the two spreads are summed over
    on a grid. It is solved in the effects, not in the tubs, so that many tubs cost in proportion.
    """
    scatter, species, log_prior = _spread_grid()
    effects = _effects(design)
    noise = design.std**2 + scatter[:, None] ** 2 + species[:, None] ** 2 * effects.alone
    prior = effects.variances + species[:, None] ** 2 * effects.of_species
    expected = design.warmth * comparison_prior("activation_kj_per_mol").median
    misses = design.misses - expected
    weighed = effects.columns.T / noise[:, None, :]
    precision = weighed @ effects.columns + np.eye(len(effects.variances)) / prior[:, None, :]
    projected = weighed @ misses
    covariances = np.asarray(np.linalg.inv(precision), dtype=np.float64)
    means = np.einsum("gij,gj->gi", covariances, projected)
    log_evidence = -0.5 * (
        np.linalg.slogdet(precision)[1]
        + np.log(prior).sum(axis=1)
        + np.log(noise).sum(axis=1)
        + (misses**2 / noise).sum(axis=1)
        - (means * projected).sum(axis=1)
    )
    recipes = slice(0, len(design.recipes))
    return RecipeFit(
        weights=special.softmax(log_prior + log_evidence),
        tub_scatter=scatter,
        means=means[:, recipes],
        covariances=covariances[:, recipes, recipes],
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Effects:
    """What is common to several tubs, as columns: recipes, practice, warmth, species.

    Attributes
    ----------
    columns : ndarray, shape (tubs, effects)
        The recipes come first.
    variances : ndarray, shape (effects,)
        Prior variances; 0 for species, whose spread is not known.
    of_species : ndarray, shape (effects,), bool
        Which are the species'.
    alone : ndarray, shape (tubs,), bool
        Tubs whose species no other has: to them it is one more scatter.
    """

    columns: FloatArray
    variances: FloatArray
    of_species: BoolArray
    alone: BoolArray


def _effects(design: Design) -> _Effects:
    activation = comparison_prior("activation_kj_per_mol")
    single = design.species_columns.sum(axis=0) == 1
    species = design.species_columns[:, ~single]
    known = [
        *(recipe_spread() ** 2 for _ in design.recipes),
        comparison_prior("practice_spread").median ** 2,
        (activation.median * activation.log_std) ** 2,
    ]
    columns = (design.recipe_columns, np.ones(len(design.std)), design.warmth, species)
    return _Effects(
        columns=np.column_stack(columns),
        variances=np.array([*known, *np.zeros(species.shape[1])]),
        of_species=np.arange(len(known) + species.shape[1]) >= len(known),
        alone=design.species_columns @ single > 0,
    )


def _spread_grid() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return tub scatter, species spread and log prior of each grid point, shape (grid,) each."""
    steps = np.meshgrid(
        np.linspace(-GRID_REACH, GRID_REACH, SCATTER_POINTS),
        np.linspace(-GRID_REACH, GRID_REACH, SPECIES_POINTS),
    )
    z_scatter, z_species = (step.ravel() for step in steps)
    scatter, species = comparison_prior("tub_scatter"), comparison_prior("species_spread")
    return (
        scatter.median * np.exp(scatter.log_std * z_scatter),
        species.median * np.exp(species.log_std * z_species),
        -0.5 * (z_scatter**2 + z_species**2),
    )
