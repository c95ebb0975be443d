"""Coverage and error of the forecast over invented tubs with known truth.

Run with `python -m tests.benchmarks.forecast_accuracy [--quick] [--tubs N] [--workers N]`.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.outlook.forecasting import forecast
from tests.benchmarks.forecast_baselines import (
    plain_exponential_days,
    straight_line_days,
    table_days,
)
from tests.synthetic.tub_simulator import START, Truth, simulate_tub

if TYPE_CHECKING:
    from greasecheck.predict.records import TubHistory

AGES_DAYS = (14, 30, 60)
LEARNING_AGES_DAYS = (2, 4, 7, 10, 14, 21, 30, 45, 60)
TRUTHS = (
    Truth.PRIOR,
    Truth.THREE_POOLS,
    Truth.SPHERE,
    Truth.SLOWER_TABLE,
    Truth.QUICKER_TABLE,
)
SEED_STEP = 100_000
LATEST_DAYS = 1200.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One forecast against the truth, in days from the start; `chance` is where the truth fell."""

    age: int
    truth: float
    chance: float
    median: float
    table: float
    line: float
    exponential: float
    trusted: bool


def cases_of(seed: int, truth: Truth, ages: tuple[int, ...] = AGES_DAYS) -> list[Case]:
    """Simulate a tub and forecast it at each age."""
    tub = simulate_tub(np.random.default_rng(seed), truth)
    return [_case(tub.history, tub.clear_days, age) for age in ages]


def _case(history: TubHistory, clear_days: float, age: int) -> Case:
    now = START + timedelta(days=age)
    found = forecast(history, now)
    days = found.dates.days
    return Case(
        age=age,
        truth=clear_days,
        chance=float(np.mean(days < clear_days)),
        median=float(min(np.median(days), LATEST_DAYS)),
        table=table_days(history),
        line=straight_line_days(history, now),
        exponential=plain_exponential_days(history, now),
        trusted=found.diagnostics.converged and found.diagnostics.describes_data,
    )


def simulate_cases(
    truth: Truth, tubs: int, workers: int, ages: tuple[int, ...] = AGES_DAYS
) -> list[Case]:
    """Return the cases of many tubs."""
    first = SEED_STEP * (1 + list(Truth).index(truth))
    ask = partial(cases_of, truth=truth, ages=ages)
    seeds = range(first, first + tubs)
    if workers == 1:
        return [case for seed in seeds for case in ask(seed)]
    with ProcessPoolExecutor(workers) as pool:
        return [case for part in pool.map(ask, seeds, chunksize=4) for case in part]


def coverage(cases: list[Case], probability: float) -> float:
    """Return the share of truths inside the central interval."""
    chance = np.array([case.chance for case in cases])
    tail = (1 - probability) / 2
    return float(np.mean((chance >= tail) & (chance <= 1 - tail)))


def median_error(cases: list[Case], name: str) -> float:
    """Return the median absolute error of a column [days]."""
    return float(np.median([abs(getattr(case, name) - case.truth) for case in cases]))


def error_ratio(cases: list[Case]) -> float:
    """Return the forecast's median error over that of the best baseline, tubs not yet clear."""
    open_cases = [case for case in cases if case.truth > case.age]
    best = min(median_error(open_cases, name) for name in ("table", "line", "exponential"))
    return median_error(open_cases, "median") / best


def _print_truth(truth: Truth, cases: list[Case]) -> None:
    for age in AGES_DAYS:
        these = [case for case in cases if case.age == age]
        waiting = [case for case in these if case.truth > age]
        covered = " ".join(f"{coverage(these, p):5.2f}" for p in (0.5, 0.8, 0.95))
        errors = " ".join(
            f"{median_error(waiting, name):6.1f}"
            for name in ("median", "table", "line", "exponential")
        )
        trusted = np.mean([case.trusted for case in these])
        print(
            f"{truth:40s} {age:3d} {len(these):4d}  {covered}  {errors}"
            f"  {error_ratio(these):5.2f}  {trusted:5.2f}",
            flush=True,
        )


def _print_learning(cases: list[Case]) -> None:
    print("\nday  median error: model, table [days]; share of tubs nearer than the table")
    for age in LEARNING_AGES_DAYS:
        these = [case for case in cases if case.age == age and case.truth > age]
        nearer = np.mean([abs(c.median - c.truth) < abs(c.table - c.truth) for c in these])
        print(
            f"{age:3d}  {median_error(these, 'median'):6.1f} {median_error(these, 'table'):6.1f}"
            f"  {nearer:.2f}",
            flush=True,
        )


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--tubs", type=int, default=300)
    parser.add_argument("--workers", type=int, default=1)
    options = parser.parse_args()
    tubs = 9 if options.quick else options.tubs
    print(f"{'truth':40s} day tubs   50 %  80 %  95 %  errors: model table line exp  ratio trust")
    for truth in TRUTHS:
        count = tubs if truth is Truth.PRIOR else tubs // 3
        _print_truth(truth, simulate_cases(truth, count, options.workers))
    _print_learning(simulate_cases(Truth.PRIOR, tubs // 3, options.workers, LEARNING_AGES_DAYS))


if __name__ == "__main__":
    main()
