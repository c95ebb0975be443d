"""What is unknown of a tub, as independent standard normal coordinates.

Every coordinate is standard normal before the readings speak, so that priors, proposals and
optimiser steps share one scale.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.predict.fit.done_prior import shared_covariance
from greasecheck.predict.model.draws import Bloom, Draws
from greasecheck.predict.model.kinetics import (
    Form,
    Spectrum,
    broad_spectrum,
    slowest_rate,
)
from greasecheck.predict.model.leaching import Network
from greasecheck.predict.model.tempo import Tempo
from greasecheck.predict.tables import Spread, recipe_prior, spread

if TYPE_CHECKING:
    from greasecheck.model import FloatArray, Recipe
    from greasecheck.predict.fit.done_prior import DoneTime

COMMON_NAMES = (
    "partition",
    "carry_over_share",
    "activation_kj_per_mol",
    "lag_share",
    "bloom_at_five_days_per_m",
    "bloom_growth_per_day",
)
COMMON = len(COMMON_NAMES)
FARTHEST = 7.0  # standard deviations; proposals reach farther, numbers must not
SHAPE_STARTS = (-1.5, 1.5)  # standard deviations of the slow pool's share
LAWS_KEPT = 64  # of tubs asked about together
SHAPES = 2  # coordinates of a form's shape, except for those with fewer
FEWER_SHAPES = MappingProxyType({Form.EVEN: 1})


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameters:
    """The meaning of the coordinates for one form, tub and prior.

    Attributes
    ----------
    form : Form
        Shape of leaching.
    done_times : tuple of DoneTime
        What is expected of each skull, in the order of the tub's story.
    recipes : tuple of Recipe
        All recipes met.
    """

    form: Form
    done_times: tuple[DoneTime, ...]
    recipes: tuple[Recipe, ...]

    @property
    def skulls(self) -> int:
        """Return the number of skulls."""
        return len(self.done_times)

    @property
    def leading(self) -> int:
        """Return the number of coordinates before those of the recipes."""
        return 2 * self.skulls + COMMON

    @property
    def size(self) -> int:
        """Return the number of coordinates."""
        return self.leading + 2 * len(self.recipes) + FEWER_SHAPES.get(self.form, SHAPES)

    def starts(self) -> tuple[FloatArray, ...]:
        """Return where to begin climbing: a slow pool that counts for little, and for much."""
        middle = np.zeros(self.size)
        if self.form is not Form.TWO_POOLS:
            return (middle,)
        shape = np.arange(self.size) == self.leading + 2 * len(self.recipes)
        return tuple(middle + far * shape for far in SHAPE_STARTS)

    def log_done_days(self, z: FloatArray) -> FloatArray:
        """Return the log of the days of the reference bath until done, shape (skulls, draws)."""
        means, root = _time_law(self.done_times)
        log_days: FloatArray = means + root @ z[: self.skulls]
        return log_days

    def draws(self, z: FloatArray) -> Draws:
        """Turn coordinates, shape (size, draws), into parameters."""
        z = z.clip(-FARTHEST, FARTHEST)
        skulls, shape = self.skulls, z[self.leading + 2 * len(self.recipes) :]
        medians, log_stds = _plain_law(skulls, self.recipes)
        plain = medians * np.exp(log_stds * z[skulls : len(z) - len(shape)])
        grease, common, recipes = np.split(plain, (skulls, skulls + COMMON))
        partition, carry_over_odds, activation, lag_share, bloom, bloom_growth = common
        done_days = np.exp(self.log_done_days(z))
        spectrum = self._spectrum(shape)
        lag_shares = lag_share * (done_days[0] / done_days)  # the tub's one lag, of each time
        counted = done_days * (1 + lag_shares * np.expm1(-1 / lag_shares))
        rates = spectrum.ratios * slowest_rate(spectrum, counted)[:, None, :]
        grease = grease[:, None, :] * spectrum.weights
        pools = (-1, z.shape[1])
        return Draws(
            network=Network(
                rates_per_day=rates.reshape(pools),
                shares=(grease / grease.sum(axis=(0, 1))).reshape(pools),
                partition=partition,
            ),
            grease_per_m=grease,
            done_days=done_days,
            tempo=Tempo(
                lag_days=lag_share * done_days[0],
                evenness=self._evenness(shape),
                done_days=counted[0],
            ),
            carry_over=carry_over_odds / (1 + carry_over_odds),
            activation_kj_per_mol=activation,
            bloom=Bloom(at_five_days_per_m=bloom, growth_per_day=bloom_growth),
            fresh_per_m=recipes[: len(self.recipes)],
            rate_ratio=recipes[len(self.recipes) :],
        )

    def _spectrum(self, z: FloatArray) -> Spectrum:
        if self.form is Form.BROAD:
            return broad_spectrum(_log_normal("fast_power", z[0]), _log_normal("slow_edge", z[1]))
        if self.form is Form.EVEN:
            return Spectrum(ratios=np.ones_like(z[:1]), weights=np.ones_like(z[:1]))
        slow = _logit_normal("slow_share", z[0])
        fast_ratio = 1 + _log_normal("fast_over_slow_less_one", z[1])
        return Spectrum(
            ratios=np.stack([np.ones_like(slow), fast_ratio]), weights=np.stack([slow, 1 - slow])
        )

    def _evenness(self, z: FloatArray) -> FloatArray:
        if self.form is Form.EVEN:
            return _logit_normal("evenness", z[0])
        return np.zeros(z.shape[1])


@lru_cache(maxsize=LAWS_KEPT)
def _time_law(times: tuple[DoneTime, ...]) -> tuple[FloatArray, FloatArray]:
    """Return the means of the logs of the skulls' times, a column, and the root of their spread."""
    means = np.array([[time.log_mean] for time in times])
    return means, np.linalg.cholesky(shared_covariance(times)).astype(np.float64)


@lru_cache(maxsize=LAWS_KEPT)
def _plain_law(skulls: int, recipes: tuple[Recipe, ...]) -> tuple[FloatArray, FloatArray]:
    """Return medians (of a share: its odds) and log spreads from grease to recipes, columns."""
    priors = [recipe_prior(recipe) for recipe in recipes]
    laws = [
        *[spread("grease_per_m")] * skulls,
        *map(spread, COMMON_NAMES),
        *(Spread(median=one.fresh_per_m, log_std=one.fresh_log_std) for one in priors),
        *(Spread(median=one.rate_ratio, log_std=one.rate_log_std) for one in priors),
    ]
    medians = np.array([[law.median] for law in laws])
    carry_over = skulls + COMMON_NAMES.index("carry_over_share")
    medians[carry_over] /= 1 - medians[carry_over]
    return medians, np.array([[law.log_std] for law in laws])


def _log_normal(name: str, z: FloatArray) -> FloatArray:
    prior = spread(name)
    value: FloatArray = prior.median * np.exp(prior.log_std * z)
    return value


def _logit_normal(name: str, z: FloatArray) -> FloatArray:
    prior = spread(name)
    share: FloatArray = special.expit(special.logit(prior.median) + prior.log_std * z)
    return share
