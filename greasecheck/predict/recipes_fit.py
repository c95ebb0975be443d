"""Bayesian regression of log leach rates, exact but for a grid over two spreads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import optimize, special

from greasecheck.predict.recipes_prior import comparison_prior

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.recipes_design import Design

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
    on a grid.
    """
    scatter, species, log_prior = _spread_grid()
    expected = design.warmth * comparison_prior("activation_kj_per_mol").median
    misses = design.misses - expected
    covariance = _known_covariance(design) + _spread_covariance(design, scatter, species)
    whitened = np.linalg.solve(covariance, misses[None, :, None])[..., 0]
    log_evidence = -0.5 * (np.linalg.slogdet(covariance)[1] + whitened @ misses)
    own = recipe_spread() ** 2
    shared = own * design.recipe_columns
    told = np.linalg.solve(covariance, np.broadcast_to(shared, (len(scatter), *shared.shape)))
    return RecipeFit(
        weights=special.softmax(log_prior + log_evidence),
        tub_scatter=scatter,
        means=whitened @ shared,
        covariances=own * np.eye(len(design.recipes)) - shared.T @ told,
    )


def _known_covariance(design: Design) -> FloatArray:
    """Return the tubs' covariance from all but the two unknown spreads, shape (tubs, tubs)."""
    activation = comparison_prior("activation_kj_per_mol")
    warmth = design.warmth * activation.median * activation.log_std
    covariance: FloatArray = (
        comparison_prior("practice_spread").median ** 2
        + recipe_spread() ** 2 * design.recipe_columns @ design.recipe_columns.T
        + np.outer(warmth, warmth)
        + np.diag(design.std**2)
    )
    return covariance


def _spread_covariance(design: Design, scatter: FloatArray, species: FloatArray) -> FloatArray:
    """Return what the two spreads add, shape (grid, tubs, tubs)."""
    together = design.species_columns @ design.species_columns.T
    covariance: FloatArray = (
        species[:, None, None] ** 2 * together
        + scatter[:, None, None] ** 2 * np.eye(len(design.std))[None]
    )
    return covariance


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
