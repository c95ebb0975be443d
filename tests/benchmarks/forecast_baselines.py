"""What a preparer could do without the model: the table, a ruler, a plain exponential."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import curve_fit

from greasecheck.model import Recipe, Verdict
from greasecheck.predict.fit.clear_prior import skull_time
from greasecheck.predict.records import SECONDS_PER_DAY
from greasecheck.predict.tables import recipe_prior

if TYPE_CHECKING:
    from datetime import datetime

    from numpy.typing import NDArray

    from greasecheck.predict.records import HazeReading, TubHistory

    FloatArray = NDArray[np.float64]

THRESHOLD_PER_M, SOAK_DAYS = 3.0, 3.0
LATEST_DAYS = 1200.0
FEWEST = 3


def table_days(history: TubHistory) -> float:
    """Return the species table's median."""
    return float(np.exp(skull_time(history.skulls[0].species).log_mean))


def straight_line_days(history: TubHistory, now: datetime) -> float:
    """Fit a straight line to the logs of the last readings before each change."""
    known = _known(history, now)
    fills = sorted(change.at for change in history.changes if change.at <= now)
    last = [
        [reading for reading in known if begin < reading.at <= end][-1:]
        for begin, end in pairwise(fills)
    ]
    days, rise = _days_and_rise(history, [reading for found in last for reading in found])
    if len(days) < FEWEST:
        return table_days(history)
    slope, start = np.polyfit(days, np.log(rise), 1)
    return _crossing(history, float(start), float(slope), now)


def plain_exponential_days(history: TubHistory, now: datetime) -> float:
    """Fit one falling exponential to all readings, as if the water were never changed."""
    days, rise = _days_and_rise(history, _known(history, now))
    if len(days) < FEWEST:
        return table_days(history)
    try:
        (start, slope), _ = curve_fit(
            lambda day, a, b: np.exp(a + b * day), days, rise, p0=(np.log(rise.mean()), -0.01)
        )
    except RuntimeError:
        return table_days(history)
    return _crossing(history, float(start), float(slope), now)


def _known(history: TubHistory, now: datetime) -> list[HazeReading]:
    return [r for r in history.readings if r.at <= now and r.verdict is Verdict.GOOD]


def _days_and_rise(
    history: TubHistory, readings: list[HazeReading]
) -> tuple[FloatArray, FloatArray]:
    fresh = recipe_prior(Recipe.SOAP).fresh_per_m
    start = history.skulls[0].since
    pairs = np.array(
        [
            ((r.at - start).total_seconds() / SECONDS_PER_DAY, r.attenuation_per_m - fresh)
            for r in readings
        ]
    ).reshape(-1, 2)
    kept = pairs[pairs[:, 1] > 0]
    return kept[:, 0], kept[:, 1]


def _crossing(history: TubHistory, start: float, slope: float, now: datetime) -> float:
    """Return when the line meets what a clear tub gains between its usual changes."""
    fills = sorted(change.at for change in history.changes if change.at <= now)
    if slope >= 0 or len(fills) < 2:
        return table_days(history)
    usual = np.median(np.diff([fill.timestamp() for fill in fills])) / SECONDS_PER_DAY
    clear = np.log(THRESHOLD_PER_M * usual / SOAK_DAYS)
    return float(np.clip((clear - start) / slope, 0.0, LATEST_DAYS))
