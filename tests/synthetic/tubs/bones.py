"""Bones that give off grease by many laws; nothing is shared with the forecast."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq

if TYPE_CHECKING:
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]

DONE_SHARE = 0.1
CELLS = 24


class Law(StrEnum):
    """How a bone gives off its grease."""

    POOLS = "one to three pools"
    PLATES = "plates of mixed thickness"
    BALL = "a ball"
    DELAYED = "parts wetted one after the other"
    STEEP = "loose fat first, then a long spread of rates"
    S_SHAPED = "slow at first, then ever faster"
    CORE = "a core that shrinks"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bone:
    """Grease in cells that drain side by side.

    Attributes
    ----------
    rates_per_day : ndarray, shape (cells,)
        Of each cell in fresh water of the reference bath [1/day].
    shares : ndarray, shape (cells,)
        Share of the grease at the start, sum 1.
    delays_days : ndarray, shape (cells,)
        Before a cell begins to drain [days of the reference bath].
    power : float
        The rate grows with (soaked days)^(power - 1); 1 is steady.
    order : float
        The flow goes with (grease left)^order of the cell; 1 is first order.
    """

    rates_per_day: FloatArray
    shares: FloatArray
    delays_days: FloatArray
    power: float = 1.0
    order: float = 1.0

    def left(self, days: float) -> float:
        """Return the share left after `days` in ever fresh water of the reference bath."""
        soaked = np.maximum(days - self.delays_days, 0.0) ** self.power / self.power
        spent = self.rates_per_day * soaked
        if self.order == 1.0:
            return float(self.shares @ np.exp(-spent))
        rest = np.maximum(1 - (1 - self.order) * spent, 0.0)
        return float(self.shares @ rest ** (1 / (1 - self.order)))

    def scaled(self, days: float) -> Bone:
        """Return the bone that is at 10 % after `days` in ever fresh water."""
        own = float(brentq(lambda log_days: self.left(np.exp(log_days)) - DONE_SHARE, -7, 12))
        ratio = float(np.exp(own)) / days
        return Bone(
            rates_per_day=self.rates_per_day * ratio**self.power,
            shares=self.shares,
            delays_days=self.delays_days / ratio,
            power=self.power,
            order=self.order,
        )


def draw_bone(generator: np.random.Generator, law: Law, days: float) -> Bone:
    """Draw a bone of a law that is at 10 % after `days` in ever fresh water."""
    draw = {
        Law.POOLS: _pools,
        Law.PLATES: _plates,
        Law.BALL: _ball,
        Law.DELAYED: _delayed,
        Law.STEEP: _steep,
        Law.S_SHAPED: _s_shaped,
        Law.CORE: _core,
    }[law]
    return draw(generator).scaled(days)


def _bone(rates: FloatArray, shares: FloatArray, delays: FloatArray | None = None) -> Bone:
    return Bone(
        rates_per_day=rates,
        shares=shares / shares.sum(),
        delays_days=np.zeros_like(rates) if delays is None else delays,
    )


def _pools(generator: np.random.Generator) -> Bone:
    count = int(generator.integers(1, 4))
    ratios = np.cumprod(np.append(1.0, generator.uniform(2, 8, count - 1)))
    return _bone(ratios, generator.dirichlet(np.full(count, 3.0)))


def _grid_modes(volumes: FloatArray, faces: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return rates and shares of a chain of cells open at its last face: grease left is a sum."""
    root = np.sqrt(volumes)
    matrix = np.diag(faces / volumes) + np.diag(np.append(0.0, faces[:-1] / volumes[1:]))
    side = -faces[:-1] / (root[:-1] * root[1:])
    matrix += np.diag(side, 1) + np.diag(side, -1)
    rates, vectors = np.linalg.eigh(matrix)
    shares = (vectors.T @ root) ** 2
    kept = shares > 1e-4 * shares.sum()
    return rates[kept], shares[kept]


def _plates(generator: np.random.Generator) -> Bone:
    volumes = np.full(CELLS, 1 / CELLS)
    faces = np.append(np.full(CELLS - 1, float(CELLS)), 2.0 * CELLS)
    rates, shares = _grid_modes(volumes, faces)
    thick = np.exp(generator.uniform(0.2, 0.6) * generator.standard_normal(4))
    parts = generator.dirichlet(np.full(4, 3.0))
    return _bone(np.outer(thick**-2, rates).ravel(), np.outer(parts, shares).ravel())


def _ball(generator: np.random.Generator) -> Bone:
    edges = np.linspace(0, 1, CELLS + 1)
    centres = (edges[1:] + edges[:-1]) / 2
    gaps = np.append(np.diff(centres), 1 - centres[-1])
    rates, shares = _grid_modes(np.diff(edges**3) / 3, edges[1:] ** 2 / gaps)
    skin = generator.uniform(0.0, 0.2)
    return _bone(np.append(rates, 40 * rates[0]), np.append((1 - skin) * shares, skin))


def _delayed(generator: np.random.Generator) -> Bone:
    inner = _pools(generator)
    begin = np.linspace(0.05, 1, 8) * generator.uniform(0.2, 1.2)
    rates = np.tile(inner.rates_per_day, 8)
    delays = np.repeat(begin, len(inner.rates_per_day))
    return _bone(rates, np.tile(inner.shares, 8), delays)


def _steep(generator: np.random.Generator) -> Bone:
    loose = generator.uniform(0.2, 0.5)
    logs = np.linspace(-2.2, 2.2, 12)
    weights = np.exp(-0.5 * logs**2)
    slow = np.exp(generator.uniform(0.5, 0.9) * logs)
    shares = np.append((1 - loose) * weights / weights.sum(), loose)
    return _bone(np.append(slow, generator.uniform(15, 40)), shares)


def _s_shaped(generator: np.random.Generator) -> Bone:
    flat = _pools(generator)
    return Bone(
        rates_per_day=flat.rates_per_day,
        shares=flat.shares,
        delays_days=flat.delays_days,
        power=float(generator.uniform(1.2, 1.8)),
    )


def _core(generator: np.random.Generator) -> Bone:
    sizes = np.exp(0.4 * generator.standard_normal(5))
    return Bone(
        rates_per_day=1 / sizes,
        shares=sizes**3 / (sizes**3).sum(),
        delays_days=np.zeros(5),
        order=2 / 3,
    )
