"""Skulls exchanged for another of their species without an entry: whether it is asked about.

Run with `python -m tests.benchmarks.swapped_skulls [--quick] [--tubs N] [--first-seed N]`.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model.verdicts import StallVerdict
from greasecheck.predict.advice.standing import judge_pace
from greasecheck.predict.outlook.forecasting import fit_tub
from greasecheck.predict.records import HazeReading, SoakingSkull, TubHistory, WaterChange
from tests.synthetic.judging_tubs.kinds import Odds
from tests.synthetic.judging_tubs.living import (
    SPECIES,
    STEP_DAYS,
    LivingTub,
    draw_bone,
    draw_keeper,
)
from tests.synthetic.judging_tubs.log import read_haze
from tests.synthetic.tubs.log import START

if TYPE_CHECKING:
    from collections.abc import Sequence

SWAPPED_FROM_DAY, SWAPPED_TO_DAY = 25, 60
ASKED_AFTER_DAYS = (6, 10, 20)
GAIN_LIMITS = (0.0, 1.2, 2.5, np.inf)


@dataclass(frozen=True, slots=True, kw_only=True)
class Swap:
    """A tub whose skull was exchanged.

    Attributes
    ----------
    gain_ratio : float
        Grease of the new skull over what was left in the old one.
    was_asked : tuple of bool
        Whether the pace was asked about so many days after the exchange, see `ASKED_AFTER_DAYS`.
    """

    gain_ratio: float
    was_asked: tuple[bool, ...]


def swap(seed: int) -> Swap:
    """Keep a tub, exchange its skull at a change of the water, and go on."""
    generator = np.random.default_rng([seed, 79])
    odds = Odds()
    species = str(generator.choice(SPECIES))
    old, new = (draw_bone(generator, odds, species, 1.0) for _ in range(2))
    keeper = draw_keeper(generator, odds)
    swapped_from = float(generator.integers(SWAPPED_FROM_DAY, SWAPPED_TO_DAY))
    tub, due, swapped, ratio = LivingTub(generator, odds, keeper, [old]), 0.0, np.inf, np.nan
    changes: list[WaterChange] = []
    readings: list[HazeReading] = []
    while tub.day < swapped + ASKED_AFTER_DAYS[-1]:
        if tub.day >= due:
            if tub.day >= swapped_from and np.isinf(swapped):
                swapped, ratio = tub.day, new.grease_per_m / (old.grease_per_m * old.left)
                tub.exchange(new)
            tub.fill()
            at = START + timedelta(days=tub.day)
            changes.append(WaterChange(at=at, temperature_c=keeper.usual_c))
            due = tub.day + keeper.interval_days
        for _ in range(round(1 / STEP_DAYS)):
            tub.step()
        if generator.random() < keeper.reads:
            readings.append(read_haze(generator, keeper, tub.day - 0.02, tub.haze_per_m))
    history = TubHistory(
        skulls=(SoakingSkull(name="skull", species=species, since=START),),
        changes=tuple(changes),
        readings=tuple(readings),
    )
    asked = tuple(_is_asked(history, swapped + days) for days in ASKED_AFTER_DAYS)
    return Swap(gain_ratio=ratio, was_asked=asked)


def _is_asked(history: TubHistory, day: float) -> bool:
    pace = judge_pace(fit_tub(history, START + timedelta(days=day)), history)
    return pace.report.verdict is StallVerdict.QUICKENED


def table(swaps: Sequence[Swap]) -> list[str]:
    """Return a line for each range of how much more grease there was after the exchange."""
    lines = []
    for low, high in pairwise(GAIN_LIMITS):
        these = [one for one in swaps if low <= one.gain_ratio < high]
        counts = [sum(one.was_asked[n] for one in these) for n in range(len(ASKED_AFTER_DAYS))]
        told = ", ".join(
            f"{count} after {days} days"
            for count, days in zip(counts, ASKED_AFTER_DAYS, strict=True)
        )
        lines.append(f"{low:g} to {high:g} times the grease: of {len(these)} asked about {told}")
    return lines


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--tubs", type=int, default=30)
    parser.add_argument("--first-seed", type=int, default=200)
    options = parser.parse_args()
    begin = options.first_seed
    seeds = range(begin, begin + (1 if options.quick else options.tubs))
    print("\n".join(table([swap(seed) for seed in seeds])))


if __name__ == "__main__":
    main()
