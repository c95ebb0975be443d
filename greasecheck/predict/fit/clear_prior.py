"""How long a tub should take before it is read: the species table, bent by the user's own tubs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from greasecheck.predict.tables import species_range, spread

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from greasecheck.predict.records import FinishedTub

QUARTILE = 0.6744897501960817  # standard normal quantile of 0.75
QUADRATURE_NODES = 401
WIDEST = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearTime:
    """A log-normal time until clear [days].

    Attributes
    ----------
    log_mean : float
        Natural-log mean.
    scatter_log_std : float
        Spread from skull to skull.
    shared_log_std : float
        Spread that all skulls of one user share: practice, soap, the table's own error.
    """

    log_mean: float
    scatter_log_std: float
    shared_log_std: float

    @property
    def log_std(self) -> float:
        """Return the whole natural-log standard deviation."""
        return float(np.hypot(self.scatter_log_std, self.shared_log_std))


def skull_time(species: str, finished: Sequence[FinishedTub] = ()) -> ClearTime:
    """Return the time until clear of one skull, pooled with the user's finished tubs.

    Parameters
    ----------
    species : str
        A species; one not in the table counts as 'unknown'.
    finished : sequence of FinishedTub
        The user's own tubs that ran clear.

    Notes
    -----
    log days = table + user's offset + species' offset + the tub's own scatter, all normal: the
    exact normal posterior of the first three, then the scatter added.

    Examples
    --------
    >>> from greasecheck.predict.records import FinishedTub
    >>> table = skull_time("deer")
    >>> slow = skull_time("deer", [FinishedTub(species="deer", days=200.0)] * 5)
    >>> round(float(np.exp(table.log_mean))), round(float(np.exp(slow.log_mean)))
    (104, 193)
    """
    user, own = (
        spread("user_offset_share").log_std ** 2,
        spread("species_offset_share").log_std ** 2,
    )
    target = _table_time(species)
    names, misses, variance = _seen_of_species(finished)
    covariance = user + own * (names[:, None] == names) + np.diag(variance)
    shared = user + own * (names == species_range(species).species)
    gain = np.linalg.solve(covariance, shared)
    return ClearTime(
        log_mean=float(target.log_mean + gain @ misses),
        scatter_log_std=target.scatter_log_std,
        shared_log_std=float(np.sqrt(user + own - gain @ shared)),
    )


def _seen_of_species(
    finished: Sequence[FinishedTub],
) -> tuple[NDArray[np.str_], FloatArray, FloatArray]:
    """Species of finished tubs, the mean log of their days over the table's, and its variance.

    Tubs of one species scatter alike, so that their mean tells all that they tell.
    """
    of_name = {name: species_range(name).species for name in {tub.species for tub in finished}}
    names, place, counts = np.unique(
        np.array([of_name[tub.species] for tub in finished], dtype=str),
        return_inverse=True,
        return_counts=True,
    )
    tables = [_table_time(str(name)) for name in names]
    sums = np.bincount(place, np.log([tub.days for tub in finished]), len(names))
    misses = sums / counts - [table.log_mean for table in tables]
    return names, misses, np.array([table.scatter_log_std**2 for table in tables]) / counts


def _table_time(species: str) -> ClearTime:
    row = species_range(species)
    scatter = np.log(row.high_days / row.low_days) / 2 / QUARTILE
    return ClearTime(
        log_mean=float(np.log(row.low_days * row.high_days) / 2),
        scatter_log_std=float(max(scatter, spread("tub_scatter_share").log_std)),
        shared_log_std=0.0,
    )


def slowest_time(skulls: Sequence[ClearTime]) -> ClearTime:
    """Return the time of the slowest of several skulls, its log's first two moments kept.

    Examples
    --------
    >>> one = skull_time("deer")
    >>> slowest_time([one, one]).log_mean > one.log_mean
    True
    """
    if len(skulls) == 1:
        return skulls[0]
    low = min(skull.log_mean - WIDEST * skull.scatter_log_std for skull in skulls)
    high = max(skull.log_mean + WIDEST * skull.scatter_log_std for skull in skulls)
    grid = np.linspace(low, high, QUADRATURE_NODES)
    below = np.prod(
        [special.ndtr((grid - skull.log_mean) / skull.scatter_log_std) for skull in skulls], axis=0
    )
    mass, middle = np.diff(below), (grid[1:] + grid[:-1]) / 2
    mean = float(mass @ middle / mass.sum())
    return ClearTime(
        log_mean=mean,
        scatter_log_std=float(np.sqrt(mass @ (middle - mean) ** 2 / mass.sum())),
        shared_log_std=max(skull.shared_log_std for skull in skulls),
    )
