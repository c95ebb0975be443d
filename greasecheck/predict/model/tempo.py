"""How the pace of leaching changes with the days that a bone has soaked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.model.kinetics import DONE_SHARE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import FloatArray

LEAST_LAG_DAYS = 1e-6
LEAST_EVENNESS = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Tempo:
    """What turns days in the reference bath into days at full pace, one column per draw.

    Attributes
    ----------
    lag_days : ndarray, shape (draws,)
        How long leaching takes to come to its pace [days of the reference bath].
    evenness : ndarray, shape (draws,)
        1 less the order of release: 0 where grease leaves in proportion to what is left, 1 where
        as much leaves each day until nearly all is gone.
    done_days : ndarray, shape (draws,)
        Days after the lag until a tenth is left, of the skull whose release is even.
    """

    lag_days: FloatArray
    evenness: FloatArray
    done_days: FloatArray

    def picked(self, columns: NDArray[np.intp]) -> Tempo:
        """Return some of the draws."""
        return Tempo(
            lag_days=self.lag_days[columns],
            evenness=self.evenness[columns],
            done_days=self.done_days[columns],
        )

    def counted(self, soaked_days: FloatArray) -> FloatArray:
        """Return the days at full pace that `soaked_days`, shape (..., draws), are worth."""
        awake = lagged(soaked_days, self.lag_days)
        return hastened(awake, self.evenness, self.done_days) if self.evenness.any() else awake


def lagged(soaked_days: FloatArray, lag_days: FloatArray) -> FloatArray:
    """Return the days that count when the pace rises as 1 - exp(-days / lag).

    Examples
    --------
    >>> lagged(np.array([100.0]), np.array([10.0])).round(2).tolist()
    [90.0]
    """
    lag = np.maximum(lag_days, LEAST_LAG_DAYS)
    counted: FloatArray = soaked_days + lag * (np.exp(-soaked_days / lag) - 1.0)
    return counted


def hastened(days: FloatArray, evenness: FloatArray, done_days: FloatArray) -> FloatArray:
    """Return the days of a first-order release that leave as much as one of lower order.

    Parameters
    ----------
    days : ndarray, shape (..., draws)
        Since the start.
    evenness : ndarray, shape (draws,)
        1 less the order of release.
    done_days : ndarray, shape (draws,)
        When a tenth is left by either order.

    Notes
    -----
    dL/dt = -k L^n has L^(1-n) fall in a straight line until a tenth is left; what is held then
    leaves in proportion, at the pace reached. Order 0 is a surface, or a soap, that lets out only
    so much a day whatever lies behind it; 2/3 is a solid that dissolves from its surface
    (Hixson & Crowell 1931, Ind. Eng. Chem. 23, 923; from memory); 1 is a store that drains freely.

    Examples
    --------
    >>> even = hastened(np.array([0.0, 50.0, 100.0]), np.ones(1), np.full(1, 100.0))
    >>> np.exp(-np.log(10) * even / 100).round(3).tolist()  # as much each day
    [1.0, 0.55, 0.1]
    """
    spent = -np.log(DONE_SHARE) * np.maximum(evenness, LEAST_EVENNESS)
    share = days / done_days
    inside = -np.log1p(np.expm1(-spent) * np.minimum(share, 1.0)) / spent
    beyond = np.expm1(spent) / spent * np.maximum(share - 1.0, 0.0)
    counted: FloatArray = done_days * (inside + beyond)
    return counted
