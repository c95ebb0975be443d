"""How long a tub should take, unread: the species table, adjusted by the user's own tubs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import ForecastError
from greasecheck.model import BodyCondition
from greasecheck.predict.tables import species_range, spread

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from greasecheck.model import FloatArray
    from greasecheck.predict.records import FinishedTub

QUARTILE = 0.6744897501960817  # standard normal quantile of 0.75
COMMON_PART = 0.5  # of what skulls share: the user's practice; the other half is the species'


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneTime:
    """A log-normal time until done [days].

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


def skull_time(
    species: str,
    finished: Sequence[FinishedTub] = (),
    *,
    condition: BodyCondition = BodyCondition.UNKNOWN,
) -> DoneTime:
    """Return the time until done of one skull, pooled with the user's finished tubs.

    Parameters
    ----------
    species : str
        A species; one not in the table counts as 'unknown'.
    finished : sequence of FinishedTub
        The user's own tubs that were done.
    condition : BodyCondition
        How fat the animal was.

    Raises
    ------
    ForecastError
        For a finished tub that took no time.

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
    (104, 188)
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
    return DoneTime(
        log_mean=float(target.log_mean + gain @ misses) + _condition_log(condition),
        scatter_log_std=target.scatter_log_std,
        shared_log_std=float(np.sqrt(user + own - gain @ shared)),
    )


def _seen_of_species(
    finished: Sequence[FinishedTub],
) -> tuple[NDArray[np.str_], FloatArray, FloatArray]:
    """Return species of finished tubs, the mean log of their days over the table's, its variance.

    Tubs of one species scatter alike, so that their mean is a sufficient statistic.
    """
    if not all(0 < tub.days < np.inf for tub in finished):
        raise ForecastError("a finished tub took no time", hint="give its days, above 0")
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


def _condition_log(condition: BodyCondition) -> float:
    """Return how much longer a fat animal takes, natural log."""
    fat = float(np.log(spread("fat_over_usual_days").median))
    return {BodyCondition.FAT: fat, BodyCondition.LEAN: -fat}.get(condition, 0.0)


def _table_time(species: str) -> DoneTime:
    row = species_range(species)
    scatter = np.log(row.high_days / row.low_days) / 2 / QUARTILE
    return DoneTime(
        log_mean=float(np.log(row.low_days * row.high_days) / 2),
        scatter_log_std=float(max(scatter, spread("tub_scatter_share").log_std)),
        shared_log_std=0.0,
    )


def shared_covariance(times: Sequence[DoneTime]) -> FloatArray:
    """Return the covariance of the log times of a tub's skulls, shape (skulls, skulls).

    What they share of one user's practice is common to all of them; the rest is each one's own.

    Examples
    --------
    >>> one = skull_time("deer")
    >>> bool(shared_covariance([one, one])[0, 1] < one.log_std**2)
    True
    """
    shared = np.array([time.shared_log_std for time in times])
    common = COMMON_PART * np.minimum(shared[:, None], shared) ** 2
    whole = np.diag([time.log_std**2 for time in times])
    covariance: FloatArray = np.where(np.eye(len(times), dtype=bool), whole, common)
    return covariance
