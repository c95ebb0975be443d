"""Finds water changes that the readings show but nobody logged."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import Bound, Verdict
from greasecheck.predict.fit.parameters import Parameters
from greasecheck.predict.fit.posterior import Peak, find_peak
from greasecheck.predict.forecast_records import UnloggedChange
from greasecheck.predict.model.history import build_timeline
from greasecheck.predict.model.kinetics import Form
from greasecheck.predict.records import WaterChange

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.model import FloatArray, Recipe
    from greasecheck.predict.fit.clear_prior import ClearTime
    from greasecheck.predict.records import HazeReading, TubHistory

FALL_SHARE = 0.2
FALL_STD_RATIO = 3.0
MOST_CANDIDATES = 12
NEEDED_GAIN = 5.0  # log odds; a bath in which a change goes unlogged is about 1 in 150


def find_unlogged(
    history: TubHistory, now: datetime, clear_time: ClearTime
) -> tuple[UnloggedChange, ...]:
    """Return changes that explain falls of the haze much better than scatter does.

    A fall within one bath is a candidate; it is taken when the best fit with a change there is
    better by `NEEDED_GAIN` in log posterior than the best without.
    """
    falls = candidates(history, now)
    if not falls:
        return ()
    taken: list[UnloggedChange] = []
    best = _peak(history, now, clear_time)
    for fall in falls:
        tried = _peak(with_changes(history, [*taken, fall]), now, clear_time, best)
        if tried.log_posterior > best.log_posterior + NEEDED_GAIN:
            taken.append(fall)
            best = tried
    return tuple(sorted(taken, key=lambda change: change.after))


def with_changes(history: TubHistory, found: Sequence[UnloggedChange]) -> TubHistory:
    """Return the history with the found changes put in, halfway between their readings."""
    extra = tuple(
        WaterChange(at=middle, recipe=_recipe_at(history, middle))
        for middle in (fall.after + (fall.before - fall.after) / 2 for fall in found)
    )
    return replace(history, changes=history.changes + extra)


def _recipe_at(history: TubHistory, when: datetime) -> Recipe:
    before = [change for change in history.changes if change.at <= when]
    return sorted(before, key=lambda change: change.at)[-1].recipe


def candidates(history: TubHistory, now: datetime) -> tuple[UnloggedChange, ...]:
    """Return falls between neighbouring readings of one bath, largest share first.

    Falls in a span of which somebody says that the water stayed are left out.
    """
    fills = np.array(sorted(change.at.timestamp() for change in history.changes))
    seen = sorted(
        (r for r in history.readings if r.at <= now and r.verdict is not Verdict.REFUSED),
        key=lambda reading: reading.at,
    )
    falls = [
        UnloggedChange(
            after=first.at,
            before=second.at,
            fall_per_m=first.attenuation_per_m - second.attenuation_per_m,
            fall_share=1 - second.attenuation_per_m / first.attenuation_per_m,
        )
        for first, second in pairwise(seen)
        if _same_bath(fills, first, second)
        and _falls(first, second)
        and not any(
            span.after < second.at and first.at < span.before for span in history.same_water
        )
    ]
    return tuple(sorted(falls, key=lambda fall: -fall.fall_share)[:MOST_CANDIDATES])


def _same_bath(fills: FloatArray, first: HazeReading, second: HazeReading) -> bool:
    bath, later = np.searchsorted(fills, [first.at.timestamp(), second.at.timestamp()])
    return bool(bath == later and bath > 0)


def _falls(first: HazeReading, second: HazeReading) -> bool:
    if second.bound is Bound.ABOVE or first.bound is Bound.BELOW:
        return False
    margin = FALL_STD_RATIO * float(np.hypot(first.std_per_m, second.std_per_m))
    fall = first.attenuation_per_m - second.attenuation_per_m
    return fall > max(margin, FALL_SHARE * first.attenuation_per_m)


def _peak(
    history: TubHistory, now: datetime, clear_time: ClearTime, near: Peak | None = None
) -> Peak:
    timeline = build_timeline(history, now)
    parameters = Parameters(
        form=Form.TWO_POOLS, clear_time=clear_time, recipes=timeline.calendar.recipes
    )
    return find_peak(timeline, parameters, near)
