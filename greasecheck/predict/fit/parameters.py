"""What is unknown of a tub, as independent standard normal coordinates.

Every coordinate is standard normal before the readings speak, so that priors, proposals and
optimiser steps share one scale.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.predict.model.draws import Draws
from greasecheck.predict.model.kinetics import (
    STANDARD_GAIN_PER_M,
    Form,
    Spectrum,
    grease_and_rates,
    sheet_spectrum,
    sphere_spectrum,
)
from greasecheck.predict.model.leaching import Network
from greasecheck.predict.tables import recipe_prior, spread

if TYPE_CHECKING:
    from greasecheck.model import FloatArray, Recipe
    from greasecheck.predict.fit.clear_prior import ClearTime

LEADING = 6
SHAPE_STARTS = (-1.5, 1.5)
SLOWEST_DIFFUSION_PER_DAY = 1e-3  # slower, and no first gain falls to the last within the time
DIFFUSION_EDGE_LOG_STD = 0.1
SHAPES = {
    Form.ONE_POOL: 0,
    Form.TWO_POOLS: 2,
    Form.THREE_POOLS: 4,
    Form.SHEET: 0,
    Form.SPHERE: 0,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameters:
    """The meaning of the coordinates for one form, tub and prior."""

    form: Form
    clear_time: ClearTime
    recipes: tuple[Recipe, ...]

    @property
    def size(self) -> int:
        """Return the number of coordinates."""
        return LEADING + 2 * len(self.recipes) + SHAPES[self.form]

    def starts(self) -> tuple[FloatArray, ...]:
        """Return where to begin climbing: a slow pool that counts for little, and for much."""
        middle = np.zeros(self.size)
        if not SHAPES[self.form]:
            return (middle,)
        shape = np.arange(self.size) == LEADING + 2 * len(self.recipes)
        return tuple(middle + far * shape for far in SHAPE_STARTS)

    def log_clear_days(self, z: FloatArray) -> FloatArray:
        """Return the log of the standard days until clear, shape (draws,)."""
        log_days: FloatArray = self.clear_time.log_mean + self.clear_time.log_std * z[0]
        return log_days

    def draws(self, z: FloatArray) -> Draws:
        """Turn coordinates, shape (size, draws), into parameters."""
        recipes, priors = len(self.recipes), [recipe_prior(recipe) for recipe in self.recipes]
        spectrum = _spectrum(self.form, z[LEADING + 2 * recipes :])
        first_gain = STANDARD_GAIN_PER_M + _log_normal("first_gain_per_m", z[1])
        grease, rates = grease_and_rates(spectrum, np.exp(self.log_clear_days(z)), first_gain)
        return Draws(
            network=Network(
                rates_per_day=rates,
                shares=grease / grease.sum(axis=0),
                partition=_log_normal("partition", z[2]),
            ),
            grease_per_m=grease,
            carry_over=_logit_normal("carry_over_share", z[3]),
            activation_kj_per_mol=_log_normal("activation_kj_per_mol", z[4]),
            scatter_share=_log_normal("scatter_share", z[5]),
            fresh_per_m=np.stack(
                [
                    prior.fresh_per_m * np.exp(prior.fresh_log_std * z[LEADING + index])
                    for index, prior in enumerate(priors)
                ]
            ),
            rate_ratio=np.stack(
                [
                    prior.rate_ratio * np.exp(prior.rate_log_std * z[LEADING + recipes + index])
                    for index, prior in enumerate(priors)
                ]
            ),
        )

    def outside(self, draws: Draws) -> FloatArray:
        """Return how far draws lie outside what the form can do, in standard deviations."""
        slowest = draws.network.rates_per_day[0]
        if self.form not in {Form.SHEET, Form.SPHERE}:
            return np.zeros_like(slowest)
        short = np.log(SLOWEST_DIFFUSION_PER_DAY / slowest)
        beyond: FloatArray = np.maximum(short, 0.0) / DIFFUSION_EDGE_LOG_STD
        return beyond


def _log_normal(name: str, z: FloatArray) -> FloatArray:
    prior = spread(name)
    value: FloatArray = prior.median * np.exp(prior.log_std * z)
    return value


def _logit_normal(name: str, z: FloatArray) -> FloatArray:
    prior = spread(name)
    share: FloatArray = special.expit(special.logit(prior.median) + prior.log_std * z)
    return share


def _spectrum(form: Form, z: FloatArray) -> Spectrum:
    if form is Form.SHEET:
        return sheet_spectrum()
    if form is Form.SPHERE:
        return sphere_spectrum()
    if form is Form.ONE_POOL:
        return Spectrum(ratios=np.ones((1, 1)), weights=np.ones((1, 1)), of_gain=True)
    slow = _logit_normal("slow_gain_share", z[0])
    fast_ratio = 1 + _log_normal("fast_over_slow_less_one", z[1])
    if form is Form.TWO_POOLS:
        return Spectrum(
            ratios=np.stack([np.ones_like(slow), fast_ratio]),
            weights=np.stack([slow, 1 - slow]),
            of_gain=True,
        )
    middle = (1 - slow) * _logit_normal("middle_gain_share", z[2])
    middle_ratio = 1 + _log_normal("middle_over_slow_less_one", z[3])
    return Spectrum(
        ratios=np.stack([np.ones_like(slow), middle_ratio, middle_ratio * fast_ratio]),
        weights=np.stack([slow, middle, 1 - slow - middle]),
        of_gain=True,
    )
