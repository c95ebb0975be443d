"""Draws of a tub's parameters in their own units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from greasecheck.predict.model.leaching import Network
    from greasecheck.predict.model.tempo import Tempo

BLOOM_REFERENCE_DAYS = 5.0
MOST_LOG_GROWTH = 30.0  # keeps factors finite, far beyond where growth ends


@dataclass(frozen=True, slots=True, kw_only=True)
class Bloom:
    """Haze that is not grease and grows in old warm water; leftover water carries it on.

    Attributes
    ----------
    at_five_days_per_m : ndarray, shape (draws,)
        What it is in a first bath of five days, as it would grow without end [1/m].
    growth_per_day : ndarray, shape (draws,)
        Its growth rate [1/day].
    """

    at_five_days_per_m: FloatArray
    growth_per_day: FloatArray

    @property
    def seed_per_m(self) -> FloatArray:
        """Return what is in all fresh water, shape (draws,) [1/m]."""
        seed: FloatArray = self.at_five_days_per_m * np.exp(
            -self.growth_per_day * BLOOM_REFERENCE_DAYS
        )
        return seed

    def growth(self, days: FloatArray) -> FloatArray:
        """Return by which factor it grows in `days`, shape (days, draws)."""
        factor: FloatArray = np.exp(
            np.minimum(self.growth_per_day * days[:, None], MOST_LOG_GROWTH)
        )
        return factor

    def picked(self, columns: NDArray[np.intp]) -> Bloom:
        """Return some of the draws."""
        return Bloom(
            at_five_days_per_m=self.at_five_days_per_m[columns],
            growth_per_day=self.growth_per_day[columns],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws:
    """Parameters in their own units, one column per draw.

    Attributes
    ----------
    network : Network
        Rates, shares and partition; the pools of one skull after those of another.
    grease_per_m : ndarray, shape (skulls, pools, draws)
        Grease in each pool of each skull before it ever soaked [1/m].
    done_days : ndarray, shape (skulls, draws)
        Days of the reference bath until a tenth of a skull's grease is left.
    tempo : Tempo
        How the pace changes with the days soaked.
    carry_over : ndarray, shape (draws,)
        Share of the haze that an unmeasured change leaves.
    activation_kj_per_mol : ndarray, shape (draws,)
        Activation energy [kJ/mol].
    fresh_per_m : ndarray, shape (recipes, draws)
        Haze of each recipe's fresh bath [1/m].
    rate_ratio : ndarray, shape (recipes, draws)
        Leaching rate with each recipe over that with soap.
    bloom : Bloom
        What grows in old water.
    """

    network: Network
    grease_per_m: FloatArray
    done_days: FloatArray
    tempo: Tempo
    carry_over: FloatArray
    activation_kj_per_mol: FloatArray
    fresh_per_m: FloatArray
    rate_ratio: FloatArray
    bloom: Bloom

    def picked(self, columns: NDArray[np.intp]) -> Draws:
        """Return some of the draws."""
        return Draws(
            network=self.network.picked(columns),
            grease_per_m=self.grease_per_m.take(columns, axis=-1),
            done_days=self.done_days.take(columns, axis=-1),
            tempo=self.tempo.picked(columns),
            carry_over=self.carry_over[columns],
            activation_kj_per_mol=self.activation_kj_per_mol[columns],
            fresh_per_m=self.fresh_per_m.take(columns, axis=-1),
            rate_ratio=self.rate_ratio.take(columns, axis=-1),
            bloom=self.bloom.picked(columns),
        )
