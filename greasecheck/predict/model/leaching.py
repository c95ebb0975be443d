"""The leaching network in closed form, for many parameter draws at once.

Grease sits in pools i of the bone and leaks into the bath:

    dG_i/dt = -k_i (G_i - w_i B / K),    dB/dt = sum_i k_i (G_i - w_i B / K),    sum_i w_i = 1

All amounts are in units of the bath's beam attenuation [1/m]. Scaling G_i by sqrt(w_i / K) makes
the rate matrix symmetric, so that its eigenvalues are real and each stretch between two changes is
a sum of exponentials. A diffusing sheet or sphere in a stirred bath is the same network with fixed
rate ratios (`greasecheck.predict.model.kinetics`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """Leaching networks, one per draw.

    Attributes
    ----------
    rates_per_day : ndarray, shape (n, draws)
        k_i at the reference temperature and recipe [1/day].
    shares : ndarray, shape (n, draws)
        w_i: each pool's share of the grease at the start and of the bone's capacity.
    partition : ndarray, shape (draws,)
        K: haze of the bath over grease left in the bone, at equilibrium.
    """

    rates_per_day: FloatArray
    shares: FloatArray
    partition: FloatArray

    def picked(self, columns: NDArray[np.intp]) -> Network:
        """Return the networks of some draws."""
        return Network(
            rates_per_day=self.rates_per_day.take(columns, axis=-1),
            shares=self.shares.take(columns, axis=-1),
            partition=self.partition[columns],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Modes:
    """Eigenmodes of networks.

    Attributes
    ----------
    decay_per_day : ndarray, shape (n + 1, draws)
        Eigenvalues, not above 0 [1/day].
    vectors : ndarray, shape (n + 1, n + 1, draws)
        Orthonormal eigenvectors, component first (pools, then the bath), mode second.
    scale : ndarray, shape (n + 1, draws)
        Amounts over scaled amounts: sqrt(w_i / K), and 1 for the bath.
    """

    decay_per_day: FloatArray
    vectors: FloatArray
    scale: FloatArray

    def picked(self, columns: NDArray[np.intp]) -> Modes:
        """Return the modes of some draws."""
        return Modes(
            decay_per_day=self.decay_per_day.take(columns, axis=-1),
            vectors=self.vectors.take(columns, axis=-1),
            scale=self.scale.take(columns, axis=-1),
        )

    @property
    def bath(self) -> FloatArray:
        """Return the bath's component of each mode, shape (n + 1, draws)."""
        row: FloatArray = self.vectors[-1]
        return row


def rate_matrix(network: Network) -> tuple[FloatArray, FloatArray]:
    """Return the symmetric rate matrices, shape (draws, n + 1, n + 1), and the scale.

    Notes
    -----
    With S = diag(sqrt(w_i / K), 1) and x = S y: A_ii = -k_i, A_iB = A_Bi = k_i sqrt(w_i / K),
    A_BB = -sum_i k_i w_i / K.
    """
    pools, draws = network.rates_per_day.shape
    root = np.sqrt(network.shares / network.partition)
    exchange = network.rates_per_day * root
    matrix = np.zeros((draws, pools + 1, pools + 1))
    inner = np.arange(pools)
    matrix[:, inner, inner] = -network.rates_per_day.T
    matrix[:, inner, pools] = matrix[:, pools, inner] = exchange.T
    matrix[:, pools, pools] = -(exchange * root).sum(axis=0)
    return matrix, np.concatenate([root, np.ones((1, draws))])


def modes_of(network: Network) -> Modes:
    """Return the eigenmodes of `network`.

    Examples
    --------
    >>> one = Network(
    ...     rates_per_day=np.array([[0.1]]), shares=np.array([[1.0]]), partition=np.array([0.5])
    ... )
    >>> modes_of(one).decay_per_day.round(6).tolist()  # -k (1 + 1/K), and 0: mass is kept
    [[-0.3], [0.0]]
    """
    matrix, scale = rate_matrix(network)
    values, vectors = np.linalg.eigh(matrix)
    return Modes(
        decay_per_day=np.ascontiguousarray(np.minimum(values, 0.0).T),
        vectors=np.ascontiguousarray(vectors.transpose(1, 2, 0)),
        scale=scale,
    )


def to_modes(modes: Modes, amounts_per_m: FloatArray) -> FloatArray:
    """Turn amounts (pools, then bath), shape (n + 1, draws) [1/m], into mode weights."""
    weights: FloatArray = np.einsum("cmd,cd->md", modes.vectors, amounts_per_m / modes.scale)
    return weights


def to_amounts(modes: Modes, weights: FloatArray) -> FloatArray:
    """Turn mode weights, shape (n + 1, draws), into amounts (pools, then bath) [1/m]."""
    amounts: FloatArray = np.einsum("cmd,md->cd", modes.vectors, weights) * modes.scale
    return amounts


def decay(modes: Modes, days: FloatArray) -> FloatArray:
    """Return exp(eigenvalue x days), shape (times, n + 1, draws), for days (times, draws)."""
    spent: FloatArray = modes.decay_per_day * days[:, None, :]
    return np.exp(spent, out=spent)


def bath_haze(modes: Modes, weights: FloatArray) -> FloatArray:
    """Return the grease haze of the bath [1/m]; the mode axis of `weights` is its last but one."""
    haze: FloatArray = np.einsum("md,...md->...d", modes.bath, weights)
    return haze


def keep_bath_share(modes: Modes, weights: FloatArray, share: FloatArray | float) -> FloatArray:
    """Return the weights after a change that leaves `share` of the bath's haze."""
    removed = (share - 1.0) * bath_haze(modes, weights)
    return weights + removed[..., None, :] * modes.bath


@dataclass(frozen=True, slots=True, kw_only=True)
class Events:
    """What happens to a tub, in time order, for many draws.

    Attributes
    ----------
    gaps_days : ndarray, shape (events, draws)
        Effective days since the event before; the first is 0.
    kept : ndarray, shape (events, draws)
        Share of the bath's haze kept: 1 where the water stays.
    enters, leaves : ndarray of bool, shape (events, skulls)
        Which skull goes in, or is taken out.
    """

    gaps_days: FloatArray
    kept: FloatArray
    enters: NDArray[np.bool_]
    leaves: NDArray[np.bool_]


def run_events(modes: Modes, events: Events, grease_per_m: FloatArray) -> FloatArray:
    """Return the mode weights just after each event, shape (events, n + 1, draws).

    Parameters
    ----------
    modes : Modes
        From `modes_of`.
    events : Events
        Changes, entries and exits; before them there is a clean bath and no skull.
    grease_per_m : ndarray, shape (skulls, pools, draws)
        Grease of each skull when it goes in [1/m].
    """
    after, bath = decay(modes, events.gaps_days), modes.bath
    enters = np.any(events.enters, axis=1).tolist()
    leaves = np.any(events.leaves, axis=1).tolist()
    removed = (events.kept - 1.0)[:, None, :] * bath
    before = np.zeros_like(bath)
    for index, taken in enumerate(removed):
        weights = after[index]
        weights *= before
        weights += taken * np.vecdot(bath.T, weights.T)
        if enters[index]:
            weights += _entry(modes, grease_per_m, events.enters[index])
        if leaves[index]:
            weights -= _exit(modes, weights, events.leaves[index])
        before = weights
    return after


def _entry(modes: Modes, grease_per_m: FloatArray, which: NDArray[np.bool_]) -> FloatArray:
    loaded = np.where(which[:, None, None], grease_per_m, 0.0)
    return entry_weights(modes, loaded.reshape(-1, grease_per_m.shape[-1]))


def _exit(modes: Modes, weights: FloatArray, which: NDArray[np.bool_]) -> FloatArray:
    """Return the mode weights of what the skulls that leave take with them."""
    pools = to_amounts(modes, weights)[:-1]
    leaving = np.repeat(which, len(pools) // len(which))
    return entry_weights(modes, np.where(leaving[:, None], pools, 0.0))


def entry_weights(modes: Modes, grease_per_m: FloatArray) -> FloatArray:
    """Return the mode weights of grease in the pools, shape (n, draws) [1/m], and a clean bath."""
    bath = np.zeros((1, grease_per_m.shape[1]))
    return to_modes(modes, np.concatenate([grease_per_m, bath]))
