"""Falls of the haze between neighbouring readings that no filling explains: one definition."""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

from greasecheck.model import Bound

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

# A change is often entered some hours after the first reading of the fresh bath.
ENTERED_LATE = timedelta(hours=6)
DOUBTFUL_WIDENING = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Haze:
    """A reading as far as falls go.

    Attributes
    ----------
    at : datetime.datetime
        Zone-aware.
    per_m, std_per_m : float
        Haze, or the bound itself, and its standard error [1/m].
    bound : Bound or None
        Set when the true value lies only above or below.
    is_doubtful : bool
        Such a reading must fall farther.
    """

    at: datetime
    per_m: float
    std_per_m: float
    bound: Bound | None = None
    is_doubtful: bool = False

    @property
    def error_per_m(self) -> float:
        """Return the standard error, wider for a doubtful reading; none for a bound [1/m]."""
        if self.bound is not None:
            return 0.0
        return self.std_per_m * (DOUBTFUL_WIDENING if self.is_doubtful else 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fall:
    """Two neighbouring readings of which the second is lower."""

    before: Haze
    after: Haze

    @property
    def per_m(self) -> float:
        """Return the fall [1/m]."""
        return self.before.per_m - self.after.per_m

    @property
    def share(self) -> float:
        """Return the fall over the haze before it."""
        return self.per_m / self.before.per_m


@dataclass(frozen=True, slots=True, kw_only=True)
class FallLimits:
    """What a fall must exceed.

    Attributes
    ----------
    share : float
        Of the haze before it.
    standard_errors : float
        Of both readings together.
    per_m : float
        [1/m]
    """

    share: float
    standard_errors: float
    per_m: float


# A bath's haze rises or rests between changes. A sharp fall wants fresh water; settling takes less.
# A possible one is weighed by a fit, which knows what the tub gives off.
SHARP = FallLimits(share=0.4, standard_errors=3.0, per_m=1.5)
POSSIBLE = FallLimits(share=0.1, standard_errors=2.0, per_m=0.0)


def unexplained_falls(
    hazes: Sequence[Haze],
    fillings: Sequence[datetime],
    same_water: Sequence[tuple[datetime, datetime]],
    limits: FallLimits,
) -> Iterator[Fall]:
    """Yield the falls that no filling explains and nobody denied.

    Parameters
    ----------
    hazes : sequence of Haze
        Those of one tub, oldest first.
    fillings : sequence of datetime.datetime
        When the tub was filled.
    same_water : sequence of (datetime.datetime, datetime.datetime)
        Spans in which, as a person confirmed, there was no change.
    limits : FallLimits
        What a fall must exceed.
    """
    filled = sorted(fillings)
    for before, after in pairwise(hazes):
        fall = Fall(before=before, after=after)
        if _exceeds(fall, limits) and not is_explained(before.at, after.at, filled, same_water):
            yield fall


def is_explained(
    begin: datetime,
    end: datetime,
    fillings: Sequence[datetime],
    same_water: Sequence[tuple[datetime, datetime]],
) -> bool:
    """Return whether a filling, ascending, lies between two readings, or it was denied."""
    coming = bisect_left(fillings, begin)
    if coming < len(fillings) and fillings[coming] <= end + ENTERED_LATE:
        return True
    return any(first < end and begin < last for first, last in same_water)


def _exceeds(fall: Fall, limits: FallLimits) -> bool:
    before, after = fall.before, fall.after
    if before.bound is Bound.BELOW or after.bound is Bound.ABOVE:
        return False
    noise = math.hypot(before.error_per_m, after.error_per_m)
    least = max(limits.share * before.per_m, limits.standard_errors * noise, limits.per_m)
    return fall.per_m > least
