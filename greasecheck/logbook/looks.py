"""Joins photos of one bone from several sides to one look."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from greasecheck.logbook.readings.readings import readings_of_skull
from greasecheck.model import Verdict

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime

    from greasecheck.logbook.records import LoggedReading
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.model import BoneState

# Photos of all sides of a skull are taken in one go; the next day's are another look. At two hours
# nothing changes, at a quarter a slow hand is cut in two.
ONE_LOOK = timedelta(hours=1)
USUAL_AREA_MM2 = 1.0  # of readings without an area: all weigh alike


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One look at a bone: photos of its sides within an hour.

    Attributes
    ----------
    at : datetime.datetime
        Zone-aware time of the first photo.
    sides : tuple of LoggedReading
        The readings, oldest first.
    yi_e313, yi_std : float
        Mean yellowness index, weighted by seen area, and its standard error, in which the sides'
        own spread has its part.
    yellow_patch_share : float or None
        Share of the area seen on all sides that is yellow.
    yellow_share_std : float or None
        Its standard error, common to all sides; None where a side does not state it.
    worst : LoggedReading
        The side with the largest share of yellow patches, and of equals the yellowest.
    """

    at: datetime
    sides: tuple[LoggedReading, ...]
    yi_e313: float
    yi_std: float
    yellow_patch_share: float | None
    yellow_share_std: float | None
    worst: LoggedReading

    @property
    def verdict(self) -> Verdict:
        """Return good when all sides are."""
        good = all(side.verdict is Verdict.GOOD for side in self.sides)
        return Verdict.GOOD if good else Verdict.DOUBTFUL

    @property
    def state(self) -> BoneState | None:
        """Return how wet the bone was; sides of one look are alike in that."""
        return self.sides[0].bone_state


def join_looks(readings: Iterable[LoggedReading]) -> tuple[Look, ...]:
    """Join readings of one bone, oldest first, to looks; those without bone are left out.

    A look ends an hour after its first photo, and where the bone is wetter or drier. Doubtful
    sides are left out of a look that has good ones.
    """
    groups: list[list[LoggedReading]] = []
    for reading in readings:
        if reading.bone_yi_e313 is None:
            continue
        if groups and _belongs(reading, groups[-1][0]):
            groups[-1].append(reading)
        else:
            groups.append([reading])
    return tuple(_look(group) for group in groups)


def looks_of(book: Logbook, skull: str) -> tuple[Look, ...]:
    """Return the looks at a skull, by the readings that name it."""
    return join_looks(readings_of_skull(book, skull))


def _belongs(reading: LoggedReading, first: LoggedReading) -> bool:
    near = reading.taken_at - first.taken_at <= ONE_LOOK
    return near and reading.bone_state is first.bone_state


def _look(group: Sequence[LoggedReading]) -> Look:
    good = [side for side in group if side.verdict is Verdict.GOOD]
    sides = tuple(good or group)
    weights = [side.bone_area_mm2 or USUAL_AREA_MM2 for side in sides]
    mean = _mean([side.bone_yi_e313 or 0.0 for side in sides], weights)
    return Look(
        at=sides[0].taken_at,
        sides=sides,
        yi_e313=mean,
        yi_std=_std(sides, weights, mean),
        yellow_patch_share=_mean_of_all([side.bone_yellow_patch_share for side in sides], weights),
        yellow_share_std=_mean_of_all([side.bone_yellow_share_std for side in sides], weights),
        worst=max(sides, key=lambda side: (side.bone_yellow_patch_share or 0, side.bone_yi_e313)),
    )


def _mean_of_all(values: Sequence[float | None], weights: Sequence[float]) -> float | None:
    known = [value for value in values if value is not None]
    return _mean(known, weights) if len(known) == len(values) else None


def _mean(values: Sequence[float], weights: Sequence[float]) -> float:
    return math.fsum(v * w for v, w in zip(values, weights, strict=True)) / math.fsum(weights)


def _std(sides: Sequence[LoggedReading], weights: Sequence[float], mean: float) -> float:
    """Return the mean's error: the card's is common to all sides, their spread is not."""
    own = _mean([side.bone_yi_std or 0.0 for side in sides], weights)
    if len(sides) < 2:
        return own
    squares = [((side.bone_yi_e313 or 0.0) - mean) ** 2 for side in sides]
    spread = _mean(squares, weights) / (len(sides) - 1)
    return math.sqrt(own**2 + spread)
