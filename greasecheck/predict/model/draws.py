"""Draws of a tub's parameters in their own units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greasecheck.model import FloatArray
    from greasecheck.predict.model.leaching import Network


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws:
    """Parameters in their own units, one column per draw.

    Attributes
    ----------
    network : Network
        Rates, shares and partition.
    grease_per_m : ndarray, shape (pools, draws)
        Grease in each pool at the start [1/m].
    carry_over : ndarray, shape (draws,)
        Share of the haze that an unmeasured change leaves.
    activation_kj_per_mol : ndarray, shape (draws,)
        Activation energy [kJ/mol].
    scatter_share : ndarray, shape (draws,)
        Relative scatter of readings beyond their own standard errors.
    fresh_per_m : ndarray, shape (recipes, draws)
        Haze of each recipe's fresh bath [1/m].
    rate_ratio : ndarray, shape (recipes, draws)
        Leaching rate with each recipe over that with soap.
    """

    network: Network
    grease_per_m: FloatArray
    carry_over: FloatArray
    activation_kj_per_mol: FloatArray
    scatter_share: FloatArray
    fresh_per_m: FloatArray
    rate_ratio: FloatArray

    def thinned(self, every: int) -> Draws:
        """Return each `every`-th draw."""
        return Draws(
            network=self.network.thinned(every),
            grease_per_m=self.grease_per_m[:, ::every],
            carry_over=self.carry_over[::every],
            activation_kj_per_mol=self.activation_kj_per_mol[::every],
            scatter_share=self.scatter_share[::every],
            fresh_per_m=self.fresh_per_m[:, ::every],
            rate_ratio=self.rate_ratio[:, ::every],
        )
