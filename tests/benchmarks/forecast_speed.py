"""How long a forecast takes, as ratios; seconds are printed, not kept.

Run with `python -m tests.benchmarks.forecast_speed [--quick]`.
"""

from __future__ import annotations

import argparse
import os
import time
from dataclasses import replace
from datetime import timedelta
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.outlook.forecasting import forecast, forecast_tubs
from tests.synthetic.tub_simulator import START, Habits, Truth, simulate_tub

if TYPE_CHECKING:
    from collections.abc import Callable

    from greasecheck.predict.records import TubHistory

READINGS = 180
LIMIT_S = 0.3
YARDSTICK_SIZE = 400


def daily_tub(seed: int) -> TubHistory:
    """Return a tub that is read on each of 180 days."""
    habits = Habits(reading_probability=1.0)
    generator = np.random.default_rng(seed)
    while True:
        tub = simulate_tub(generator, Truth.SLOWER_TABLE, habits)
        if len(tub.history.readings) >= READINGS:
            return replace(tub.history, readings=tub.history.readings[:READINGS])


def core_seconds(work: Callable[[], object], repeats: int) -> float:
    """Return the median processor time of `work` [s]."""
    spent = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return float(np.median(spent))


def yardstick() -> object:
    """Do a fixed amount of arithmetic: the eigenvalues of a symmetric matrix of 400 rows."""
    matrix = np.add.outer(np.arange(YARDSTICK_SIZE), np.arange(YARDSTICK_SIZE)) % 17 / 17.0
    return np.linalg.eigvalsh(matrix)


def forecast_ratio(tubs: int) -> tuple[float, float]:
    """Return a forecast's median processor time [s], and that over the yardstick's."""
    now = START + timedelta(days=READINGS)
    histories = [daily_tub(seed) for seed in range(tubs)]
    forecast(histories[0], now)
    spent = [core_seconds(partial(forecast, tub, now), 1) for tub in histories]
    middle = float(np.median(spent))
    return middle, middle / core_seconds(yardstick, 9)


def both_cores_gain(tubs: int) -> float:
    """Return how many times quicker two processes forecast many tubs than one."""
    now = START + timedelta(days=READINGS)
    histories = [daily_tub(seed) for seed in range(tubs)]
    waited = []
    for workers in (1, 2):
        start = time.perf_counter()
        forecast_tubs(histories, now, workers=workers)
        waited.append(time.perf_counter() - start)
    return waited[0] / waited[1]


def main() -> None:
    """Print the ratios."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    quick = parser.parse_args().quick
    seconds, ratio = forecast_ratio(3 if quick else 20)
    print(f"forecast of {READINGS} readings on one core: {seconds / LIMIT_S:.2f} of {LIMIT_S} s")
    print(f"  {ratio:.1f} times the eigenvalues of a {YARDSTICK_SIZE}-row matrix")
    print(f"20 tubs on two processes: {both_cores_gain(4 if quick else 20):.2f} times quicker")
    print(f"  load of this machine meanwhile: {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
