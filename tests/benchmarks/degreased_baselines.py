"""What needs no model: the species' usual time, and a decaying exponential through the rises."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import curve_fit

from greasecheck.model import Verdict
from tests.synthetic.tubs.log import START, usual_days

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.predict.records import HazeReading, TubHistory

LATEST_DAYS = 1500.0
FEWEST_SOAKS = 3
DAY_SECONDS = 86400.0


def usual_time_days(history: TubHistory, now: datetime) -> float:
    """Return the middle of the slowest species' usual time."""
    here = [one for one in history.skulls if one.until is None or one.until > now]
    middles = [np.sqrt(np.prod(usual_days(one.species))) for one in here]
    before = max(
        (soak.until - min(one.since for one in soak.tub.skulls)).total_seconds() / DAY_SECONDS
        if (soak := next(iter(skull.earlier), None))
        else 0.0
        for skull in here
    )
    elapsed = (now - START).total_seconds() / DAY_SECONDS
    return float(max(max(middles) - before, elapsed))


def decaying_exponential_days(history: TubHistory, now: datetime) -> float:
    """Fit one falling exponential to the rise per day of each soak; a tenth is left at ln(10)."""
    known = [r for r in history.readings if r.at <= now and r.verdict is Verdict.GOOD]
    fills = sorted(change.at for change in history.changes if change.at <= now)
    points = [
        point
        for begin, end in pairwise([*fills, now])
        if (point := _rise([r for r in known if begin < r.at <= end], begin))
    ]
    if len(points) < FEWEST_SOAKS:
        return usual_time_days(history, now)
    days, rises = np.array(points).T
    try:
        (_, rate), _ = curve_fit(
            lambda day, start, rate: start * np.exp(-rate * day),
            days,
            rises,
            p0=(max(rises.max(), 0.1), 0.02),
        )
    except RuntimeError:
        return usual_time_days(history, now)
    if rate <= 0:
        return usual_time_days(history, now)
    elapsed = (now - START).total_seconds() / DAY_SECONDS
    return float(np.clip(np.log(10) / rate, elapsed, LATEST_DAYS))


def _rise(readings: list[HazeReading], begin: datetime) -> tuple[float, float] | None:
    """Return the middle of a soak and its rise per day, by its last reading over 2 per metre."""
    if not readings:
        return None
    last = readings[-1]
    days = (last.at - begin).total_seconds() / DAY_SECONDS
    if days <= 0:
        return None
    middle = (begin - START).total_seconds() / DAY_SECONDS + days / 2
    return middle, (last.attenuation_per_m - 2.0) / days
