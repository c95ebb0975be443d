"""Coverage and error of the degreased date over kinds of truth that the model does not share.

Run with `python -m tests.benchmarks.forecast_truths [--quick] [--tubs N] [--workers N]`. With
`--judging` it runs the second family of tubs, on which only `doubted_share` was chosen.
"""

from __future__ import annotations

import argparse
import json
import os
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from datetime import timedelta
from functools import partial
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.predict.outlook.forecasting import forecast
from tests.benchmarks.degreased_baselines import decaying_exponential_days, usual_time_days
from tests.synthetic.judging_tubs.kinds import JudgingKind
from tests.synthetic.judging_tubs.log import invent_judging_tub
from tests.synthetic.tubs.kinds import Kind
from tests.synthetic.tubs.log import START, InventedTub, invent_tub

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]
    AnyKind = Kind | JudgingKind

AGES_DAYS = (14, 30, 60, 90)
LATEST_DAYS = 1500.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One forecast of a tub still soaking against the truth, in days from the start.

    Attributes
    ----------
    kind : str
        What is odd about the tub.
    seed, age : int
        Which tub, and the day of the forecast.
    truth : float
        When the last skull in it is really degreased.
    chance : float
        Share of the forecast's draws before the truth.
    low, median, high : float
        10 %, 50 % and 90 % quantiles.
    usual, exponential : float
        What plain rules say.
    left_when_called : float
        What is really left when 9 in 10 say degreased, by this forecast.
    seconds : float
        Time of the forecast.
    """

    kind: str
    seed: int
    age: int
    truth: float
    chance: float
    low: float
    median: float
    high: float
    usual: float
    exponential: float
    left_when_called: float
    seconds: float


def cases_of(task: tuple[AnyKind, int], ages: tuple[int, ...] = AGES_DAYS) -> list[Case]:
    """Invent a tub and forecast it at each age at which it still soaks."""
    kind, seed = task
    tub = invent_tub(seed, kind) if isinstance(kind, Kind) else invent_judging_tub(seed, kind)
    return [_case(tub, kind, seed, age) for age in ages if _truth(tub, age) > age]


def _here(tub: InventedTub) -> list[int]:
    return [n for n, one in enumerate(tub.history.skulls) if one.until is None]


def _truth(tub: InventedTub, age: float) -> float:
    """Return when the last skull that stays is degreased; 0 past the record or before a move."""
    ends = [(one.until - START) / timedelta(days=1) for one in tub.history.skulls if one.until]
    if age > len(tub.left) or age < max(ends, default=0.0):
        return 0.0
    days = max(tub.degreased_days[n] for n in _here(tub))
    return min(days, LATEST_DAYS)


def _case(tub: InventedTub, kind: AnyKind, seed: int, age: int) -> Case:
    now = START + timedelta(days=age)
    begun = time.perf_counter()
    found = forecast(tub.history, now).degreased
    seconds = time.perf_counter() - begun
    days = found.days + (found.origin - START) / timedelta(days=1)
    low, median, high = (
        float(min(np.quantile(days, p, method="inverted_cdf"), LATEST_DAYS))
        for p in (0.1, 0.5, 0.9)
    )
    truth = _truth(tub, age)
    called = min(int(max(high, age)), len(tub.left) - 1)
    return Case(
        kind=kind.value,
        seed=seed,
        age=age,
        truth=truth,
        chance=float(np.mean(days < truth)),
        low=low,
        median=median,
        high=high,
        usual=usual_time_days(tub.history, now),
        exponential=decaying_exponential_days(tub.history, now),
        left_when_called=float(max(tub.left[called, n] for n in _here(tub))),
        seconds=seconds,
    )


def run(
    kinds: Sequence[AnyKind], seeds: Sequence[int], workers: int, ages: tuple[int, ...]
) -> list[Case]:
    """Return the cases of a tub of each kind and seed."""
    tasks = [(kind, seed) for seed, kind in product(seeds, kinds)]
    ask = partial(cases_of, ages=ages)
    if workers == 1:
        return [case for task in tasks for case in ask(task)]
    with ProcessPoolExecutor(workers) as pool:
        return [case for part in pool.map(ask, tasks, chunksize=4) for case in part]


def holds(cases: Sequence[Case], probability: float) -> float:
    """Return the share of truths inside the central interval."""
    chance = np.array([case.chance for case in cases])
    tail = (1 - probability) / 2
    return float(np.mean((chance >= tail) & (chance <= 1 - tail)))


def error(cases: Sequence[Case], name: str) -> float:
    """Return the median absolute error of a column [days]; no date lies before its forecast."""
    return float(
        np.median([abs(max(getattr(case, name), case.age) - case.truth) for case in cases])
    )


def interval_score(cases: Sequence[Case]) -> float:
    """Return the mean score of the 80 % interval (Gneiting & Raftery 2007, eq. 43) [days]."""
    scores = [
        case.high - case.low + 10 * max(case.low - case.truth, 0, case.truth - case.high)
        for case in cases
    ]
    return float(np.mean(scores))


def table(cases: Sequence[Case]) -> list[str]:
    """Return a line for each kind and age, then for all kinds."""
    lines = [f"{'kind':34s} day tubs  80 %  90 %  mid  error usual expon ratio  score  left"]
    for age in sorted({case.age for case in cases}):
        these = [case for case in cases if case.age == age]
        for kind in [*dict.fromkeys(case.kind for case in these), "ALL"]:
            part = [case for case in these if kind in (case.kind, "ALL")]
            errors = [error(part, name) for name in ("median", "usual", "exponential")]
            below = np.mean([case.chance < 0.5 for case in part])
            lines.append(
                f"{kind:34s} {age:3d} {len(part):4d}  {holds(part, 0.8):.2f}"
                f"  {holds(part, 0.9):.2f} {below:.2f} {errors[0]:6.1f}"
                f" {errors[1]:5.1f} {errors[2]:5.1f}"
                f"  {errors[0] / min(errors[1:]):.2f} {interval_score(part):6.0f}"
                f"  {np.mean([case.left_when_called > 0.15 for case in part]):.2f}"
            )
    return lines


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--tubs", type=int, default=250)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--ages", type=int, nargs="*", default=AGES_DAYS)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--judging", action="store_true")
    parser.add_argument("--kinds", nargs="*")
    parser.add_argument("--save", type=Path)
    options = parser.parse_args()
    family: list[AnyKind] = list(JudgingKind) if options.judging else list(Kind)
    kinds = [kind for kind in family if kind.name in (options.kinds or (kind.name,))]
    begin = options.first_seed
    seeds = range(begin, begin + (2 if options.quick else options.tubs))
    cases = run(kinds, seeds, options.workers, tuple(options.ages))
    print("\n".join(table(cases)))
    seconds = [case.seconds for case in cases]
    print(
        f"{np.median(seconds):.2f} s a forecast (median), {np.quantile(seconds, 0.95):.2f} (95 %)"
    )
    if options.save:
        options.save.write_text(json.dumps([asdict(case) for case in cases]))


if __name__ == "__main__":
    main()
