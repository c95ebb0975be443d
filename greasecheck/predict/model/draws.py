"""Draws of a tub's parameters in their own units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.model.leaching import Network
    from greasecheck.predict.model.tempo import Tempo


@dataclass(frozen=True, slots=True, kw_only=True)
class Bloom:
    """Haze that is not grease and grows in old warm water, gone at a change.

    Attributes
    ----------
    at_five_days_per_m : ndarray, shape (draws,)
        What it is in a bath of five days [1/m].
    growth_per_day : ndarray, shape (draws,)
        Its growth rate [1/day].
    """

    at_five_days_per_m: FloatArray
    growth_per_day: FloatArray

    def thinned(self, every: int) -> Bloom:
        """Return each `every`-th draw."""
        return Bloom(
            at_five_days_per_m=self.at_five_days_per_m[::every],
            growth_per_day=self.growth_per_day[::every],
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

    def thinned(self, every: int) -> Draws:
        """Return each `every`-th draw."""
        return Draws(
            network=self.network.thinned(every),
            grease_per_m=self.grease_per_m[..., ::every],
            done_days=self.done_days[:, ::every],
            tempo=self.tempo.thinned(every),
            carry_over=self.carry_over[::every],
            activation_kj_per_mol=self.activation_kj_per_mol[::every],
            fresh_per_m=self.fresh_per_m[:, ::every],
            rate_ratio=self.rate_ratio[:, ::every],
            bloom=self.bloom.thinned(every),
        )
