"""Tubs run by the advice: whether each ends, what it costs, what is left when it is called done.

Run with `python -m tests.benchmarks.advised_seasons [--quick] [--tubs N] [--workers N]`. The tub
answers to what is done: water is changed when the advice says so, asked on the first days and then
once a week, and the skull comes out when it is degreased with 9 in 10. Fixed intervals run the same
tub until it really is.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import timedelta
from itertools import product

import numpy as np

from greasecheck.model import Recipe
from greasecheck.predict.advice.change_interval import ChangeCost, usual_cost
from greasecheck.predict.advice.decisions import advise
from greasecheck.predict.records import HazeReading, SoakingSkull, TubHistory, WaterChange
from greasecheck.reference.advice import advice_value
from tests.synthetic.judging_tubs.kinds import ODDS, JudgingKind
from tests.synthetic.judging_tubs.living import (
    KEEPERS_LOG_STD,
    SPECIES,
    STEP_DAYS,
    Keeper,
    LivingTub,
    draw_bone,
    draw_keeper,
)
from tests.synthetic.judging_tubs.log import read_haze
from tests.synthetic.judging_tubs.stores import DONE_SHARE
from tests.synthetic.tubs.log import START

KINDS = (JudgingKind.GAMMA, JudgingKind.CHAIN, JudgingKind.TIRED, JudgingKind.SLOWER)
FIXED_DAYS = (2, 3, 4, 5, 7, 10)
FIRST_ASKED, ASKED_EVERY = (1, 3, 5), 7  # days
LATEST_DAY = 600


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """How a tub went.

    Attributes
    ----------
    done_cost : float
        Spent until it really was degreased; infinite when it never was.
    done_day : float
        When that was; infinite when it never was.
    called_day : float
        When it was called degreased; infinite when it never was.
    left_when_called : float
        Share of the grease really left then.
    """

    done_cost: float
    done_day: float
    called_day: float = np.inf
    left_when_called: float = 1.0


class _Run:
    """A tub, its log so far, and when its water is changed next."""

    def __init__(self, seed: int, kind: JudgingKind) -> None:
        generator = np.random.default_rng([seed, 99, list(JudgingKind).index(kind)])
        self.odds, self.generator = ODDS[kind], generator
        self.species = str(generator.choice(SPECIES))
        habit = float(np.exp(KEEPERS_LOG_STD * generator.standard_normal()))
        bone = draw_bone(generator, self.odds, self.species, habit)
        self.keeper: Keeper = draw_keeper(generator, self.odds)
        self.tub = LivingTub(generator, self.odds, self.keeper, [bone])
        self.cost: ChangeCost = usual_cost(Recipe.SOAP, self.keeper.usual_c)
        self.changes: list[WaterChange] = []
        self.readings: list[HazeReading] = []

    def live_a_day(self, interval_days: float) -> None:
        """Change the water when it is due, let a day pass, read the haze."""
        day = self.tub.day
        last = self.changes[-1].at if self.changes else None
        if last is None or day - (last - START) / timedelta(days=1) >= interval_days - 1e-6:
            self.tub.fill()
            at = START + timedelta(days=day)
            self.changes.append(WaterChange(at=at, temperature_c=self.keeper.usual_c))
        for _ in range(round(1 / STEP_DAYS)):
            self.tub.step()
        if self.generator.random() < self.keeper.reads:
            haze = self.tub.haze_per_m
            self.readings.append(read_haze(self.generator, self.keeper, day + 0.98, haze))

    def history(self) -> TubHistory:
        """Return its log."""
        skull = SoakingSkull(name="skull", species=self.species, since=START)
        return TubHistory(
            skulls=(skull,), changes=tuple(self.changes), readings=tuple(self.readings)
        )

    def spent(self) -> float:
        """Return what it has cost so far."""
        return self.tub.day * self.cost.day + len(self.changes) * self.cost.change


def fixed_season(seed: int, kind: JudgingKind, interval_days: float) -> Season:
    """Run a tub at a fixed interval until it really is degreased."""
    run = _Run(seed, kind)
    while run.tub.left[0] >= DONE_SHARE and run.tub.day < LATEST_DAY:
        run.live_a_day(interval_days)
    if run.tub.left[0] >= DONE_SHARE:
        return Season(done_cost=np.inf, done_day=np.inf)
    return Season(done_cost=run.spent(), done_day=run.tub.day)


def advised_season(seed: int, kind: JudgingKind) -> Season:
    """Run a tub by the advice until it is called degreased."""
    run, interval = _Run(seed, kind), 3.0
    cost, done = np.inf, np.inf
    while run.tub.day < LATEST_DAY:
        run.live_a_day(interval)
        day = run.tub.day
        if run.tub.left[0] < DONE_SHARE and np.isinf(done):
            cost, done = run.spent(), day
        if day % ASKED_EVERY and day not in FIRST_ASKED:
            continue
        advice = advise(run.history(), START + timedelta(days=day), cost=run.cost)
        interval = advice.change.best_interval_days
        if advice.skulls[0].probability_degreased >= advice_value("degreased_probability"):
            if np.isinf(done):
                cost = run.spent()
            return Season(
                done_cost=cost, done_day=done, called_day=day, left_when_called=run.tub.left[0]
            )
    return Season(done_cost=cost, done_day=done)


def seasons_of(task: tuple[int, JudgingKind]) -> tuple[Season, tuple[Season, ...]]:
    """Return a tub's season by the advice and at each fixed interval."""
    seed, kind = task
    fixed = tuple(fixed_season(seed, kind, days) for days in FIXED_DAYS)
    return advised_season(seed, kind), fixed


def summary(found: list[tuple[Season, tuple[Season, ...]]]) -> str:
    """Return the lines that people read; tubs that no fixed interval ends in time are left out."""
    slow = sum(all(np.isinf(one.done_day) for one in fixed) for _, fixed in found)
    found = [pair for pair in found if any(np.isfinite(one.done_day) for one in pair[1])]
    advised = [one for one, _ in found]
    costs = np.array([[one.done_cost for one in fixed] for _, fixed in found])
    own = np.array([one.done_cost for one in advised])
    best = FIXED_DAYS[int(np.argmin(costs.sum(axis=0)))]
    called = [one for one in advised if np.isfinite(one.called_day)]
    late = [one.called_day - one.done_day for one in called if np.isfinite(one.done_day)]
    early = np.mean([one.left_when_called > 0.15 for one in called]) if called else np.nan
    middle = np.median(late) if late else np.nan
    of_best = own.sum() / costs.sum(axis=0).min()
    of_four = np.median(own / costs[:, FIXED_DAYS.index(4)])
    return "\n".join(
        (
            f"{len(called)} of {len(advised)} tubs were called degreased within {LATEST_DAY} days"
            f" ({slow} others no fixed interval ends by then)",
            f"called with more than 15 % left: {early:.2f}; days late in the median {middle:.0f}",
            f"cost until really degreased, of the best fixed interval's ({best} days) in all: "
            f"{of_best:.2f}; of every 4 days' in the median: {of_four:.2f}",
        )
    )


def main() -> None:
    """Print what the seasons cost."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--tubs", type=int, default=10)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--workers", type=int, default=1)
    options = parser.parse_args()
    count, kinds = (1, KINDS[:1]) if options.quick else (options.tubs, KINDS)
    seeds = range(options.first_seed, options.first_seed + count)
    with ProcessPoolExecutor(options.workers) as pool:
        found = list(pool.map(seasons_of, product(seeds, kinds)))
    print(summary(found))


if __name__ == "__main__":
    main()
