"""How a bone holds its grease in the judging tubs: laws that the other invented tubs lack."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq
from scipy.stats import gamma

if TYPE_CHECKING:
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]

DONE_SHARE = 0.1
RATES = 16
MOST_SPENT = 25.0  # nothing is left then


class Law(StrEnum):
    """How the grease comes out."""

    CHAIN = "marrow through cancellous bone through its surface"
    STRETCHED = "stretched exponential"
    GAMMA = "gamma-distributed rates"
    SATURATING = "no faster than the surface lets out"
    HELD = "a part held ten times longer"


@dataclass(frozen=True, slots=True, kw_only=True)
class Store:
    """Grease of one bone, as shares of all it holds at the start.

    Attributes
    ----------
    vectors : ndarray, shape (cells, modes)
        Modes of the linear laws: grease = vectors @ amplitudes.
    rates_per_day : ndarray, shape (modes,)
        Their decay at 40 degrees C in fresh water.
    amplitudes : ndarray, shape (modes,)
        At the start.
    power : float
        Of the soaked days: below 1 it leaches ever slower.
    half_full : float
        Share of the grease at which the surface lets out half of what it can; infinite: no limit.
    """

    vectors: FloatArray
    rates_per_day: FloatArray
    amplitudes: FloatArray
    power: float = 1.0
    half_full: float = np.inf

    def left(self, days: float) -> float:
        """Return the share left after `days` in ever fresh water at 40 degrees C."""
        if np.isinf(self.half_full):
            decay = np.exp(-self.rates_per_day * days**self.power)
            return float((self.vectors @ (self.amplitudes * decay)).sum())
        spent = min(float(self.rates_per_day[0]) * days, MOST_SPENT)
        return float(np.exp(brentq(lambda log: self._spent(np.exp(log)) - spent, -30.0, 0.0)))

    def _spent(self, left: float) -> float:
        return float(-np.log(left) + (1 - left) / self.half_full)

    def lasting(self, days: float) -> Store:
        """Return the store that is at 10 % after `days` in ever fresh water at 40 degrees C."""
        own = np.exp(brentq(lambda log: self.left(np.exp(log)) - DONE_SHARE, -7.0, 12.0))
        return replace(self, rates_per_day=self.rates_per_day * (own / days) ** self.power)


def draw_store(generator: np.random.Generator, law: Law, days: float) -> Store:
    """Draw a store of a law that is at 10 % after `days`."""
    draw = {
        Law.CHAIN: _chain,
        Law.STRETCHED: _stretched,
        Law.GAMMA: _gamma,
        Law.SATURATING: _saturating,
        Law.HELD: _held,
    }[law]
    return draw(generator).lasting(days)


def _apart(rates: FloatArray, shares: FloatArray) -> Store:
    return Store(vectors=np.eye(len(rates)), rates_per_day=rates, amplitudes=shares / shares.sum())


def _chain(generator: np.random.Generator) -> Store:
    """Two to four stores one behind the other; only the last touches the water."""
    count = int(generator.integers(2, 5))
    rooms = generator.dirichlet(np.full(count, 4.0))
    flows = np.exp(0.5 * generator.standard_normal(count)) * np.geomspace(0.3, 1.0, count)
    matrix = np.zeros((count, count))
    for n in range(count):
        matrix[n, n] += flows[n] / rooms[n]
        if n + 1 < count:
            matrix[n + 1, n] -= flows[n] / rooms[n]
            matrix[n, n + 1] -= flows[n] / rooms[n + 1]
            matrix[n + 1, n + 1] += flows[n] / rooms[n + 1]
    values, vectors = np.linalg.eig(matrix)
    vectors = np.real(vectors)
    return Store(
        vectors=vectors,
        rates_per_day=np.real(values),
        amplitudes=np.linalg.solve(vectors, rooms),
    )


def _stretched(generator: np.random.Generator) -> Store:
    return replace(_apart(np.ones(1), np.ones(1)), power=float(generator.uniform(0.65, 1.15)))


def _gamma(generator: np.random.Generator) -> Store:
    shape = generator.uniform(0.9, 3.0)
    middles = (np.arange(RATES) + 0.5) / RATES
    return _apart(gamma.ppf(middles, shape), np.ones(RATES))


def _saturating(generator: np.random.Generator) -> Store:
    return replace(
        _apart(np.ones(1), np.ones(1)), half_full=float(np.exp(generator.uniform(-1.5, 1.0)))
    )


def _held(generator: np.random.Generator) -> Store:
    held = generator.uniform(0.03, 0.08)
    quick = generator.uniform(0.0, 0.3)
    return _apart(np.array([0.1, 1.0, 6.0]), np.array([held, 1 - held - quick, quick]))
