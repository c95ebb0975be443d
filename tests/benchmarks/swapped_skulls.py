"""Skulls exchanged for another of their species without an entry: whether it is asked about.

Heaters that were off for some days and mended are no such case: how often they are taken for one.

Run with `python -m tests.benchmarks.swapped_skulls [--quick] [--tubs N] [--first-seed N]`.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
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
    Keeper,
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
    tub, swapped, ratio = LivingTub(generator, odds, keeper, [old]), np.inf, np.nan
    log = _Log(generator, keeper, tub)
    while tub.day < swapped + ASKED_AFTER_DAYS[-1]:
        if log.is_due and tub.day >= swapped_from and np.isinf(swapped):
            swapped, ratio = tub.day, new.grease_per_m / (old.grease_per_m * old.left)
            tub.exchange(new)
        log.live_a_day()
    return Swap(gain_ratio=ratio, was_asked=_was_asked(log.history(species), swapped))


def pause(seed: int) -> tuple[bool, ...]:
    """Keep a tub whose heater is off for some days and then mended; return as `Swap.was_asked`."""
    generator = np.random.default_rng([seed, 91])
    odds = Odds(heater_off=True)
    species = str(generator.choice(SPECIES))
    bone = draw_bone(generator, odds, species, 1.0)
    off_from = float(generator.integers(SWAPPED_FROM_DAY, SWAPPED_TO_DAY))
    keeper = replace(draw_keeper(generator, odds), off_from=off_from)
    mended = off_from + keeper.off_days
    tub = LivingTub(generator, odds, keeper, [bone])
    log = _Log(generator, keeper, tub)
    while tub.day < mended + ASKED_AFTER_DAYS[-1]:
        log.live_a_day()
    return _was_asked(log.history(species), mended)


class _Log:
    """What the keeper of a tub writes down while it lives on."""

    def __init__(self, generator: np.random.Generator, keeper: Keeper, tub: LivingTub) -> None:
        self._generator, self._keeper, self._tub = generator, keeper, tub
        self._changes: list[WaterChange] = []
        self._readings: list[HazeReading] = []
        self._due = 0.0

    @property
    def is_due(self) -> bool:
        """Return whether the water is changed now."""
        return self._tub.day >= self._due

    def live_a_day(self) -> None:
        """Change the water if that is due, let a day pass, and read it as often as the keeper."""
        tub, keeper = self._tub, self._keeper
        if self.is_due:
            tub.fill()
            at = START + timedelta(days=tub.day)
            self._changes.append(WaterChange(at=at, temperature_c=keeper.usual_c))
            self._due = tub.day + keeper.interval_days
        for _ in range(round(1 / STEP_DAYS)):
            tub.step()
        if self._generator.random() < keeper.reads:
            seen = read_haze(self._generator, keeper, tub.day - 0.02, tub.haze_per_m)
            self._readings.append(seen)

    def history(self, species: str) -> TubHistory:
        """Return all of it, of one skull that was there from the start."""
        return TubHistory(
            skulls=(SoakingSkull(name="skull", species=species, since=START),),
            changes=tuple(self._changes),
            readings=tuple(self._readings),
        )


def _was_asked(history: TubHistory, since: float) -> tuple[bool, ...]:
    return tuple(_is_asked(history, since + days) for days in ASKED_AFTER_DAYS)


def _is_asked(history: TubHistory, day: float) -> bool:
    pace = judge_pace(fit_tub(history, START + timedelta(days=day)), history)
    return pace.report.verdict is StallVerdict.QUICKENED


def table(swaps: Sequence[Swap]) -> list[str]:
    """Return a line for each range of how much more grease there was after the exchange."""
    lines = []
    for low, high in pairwise(GAIN_LIMITS):
        these = [one.was_asked for one in swaps if low <= one.gain_ratio < high]
        lines.append(f"{low:g} to {high:g} times the grease: of {len(these)} {_told(these)}")
    return lines


def _told(was_asked: Sequence[tuple[bool, ...]]) -> str:
    """Return how many were asked about after how many days."""
    counts = np.sum(was_asked, axis=0, dtype=int) if was_asked else (0,) * len(ASKED_AFTER_DAYS)
    after = zip(counts, ASKED_AFTER_DAYS, strict=True)
    return "asked about " + ", ".join(f"{count} after {days} days" for count, days in after)


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
    print(f"heaters off for some days: of {len(seeds)} {_told([pause(seed) for seed in seeds])}")


if __name__ == "__main__":
    main()
