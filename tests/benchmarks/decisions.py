"""Decisions over an invented season against the known truth.

Run with `python -m tests.benchmarks.decisions [--quick] [--seed N]`. Each skull is judged again and
again until it is called done; the next judging comes sooner the nearer the forecast date.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model.verdicts import DoneVerdict
from greasecheck.predict.advice.backing import backing_of
from greasecheck.predict.advice.done import judge_skulls
from greasecheck.predict.advice.standing import judge_pace
from greasecheck.predict.outlook.forecasting import fit_tub, project
from greasecheck.predict.records import ClearRule
from greasecheck.predict.tables import species_range
from tests.synthetic.season import PATCH_DONE_SHARE, SeasonTub, invent_season, known_at
from tests.synthetic.tub_simulator import START

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from greasecheck.predict.advice.done import DoneAdvice
    from greasecheck.predict.forecast_records import Forecast

LAST_DAY = 300.0
START_SHARE = 0.6  # of the true clear day: earlier judgings only cost time
LEAST_STEP_DAYS, STEP_SHARE = 4.0, 0.5
FELT_DAYS = 2.0  # before each judging the keeper found the water warm
SURES = (0.7, 0.8, 0.9)
SEED = 2026


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What became of one skull for one who wants to be so sure, in days from the start.

    Attributes
    ----------
    tub : SeasonTub
        The truth.
    sure : float
        How sure clear water had to be, 0 to 1.
    called_days : float
        When it was called done; infinite if never.
    water_days : float
        When its water alone was called clear.
    """

    tub: SeasonTub
    sure: float
    called_days: float
    water_days: float

    @property
    def late_days(self) -> float:
        """Return how much later than the truth it was called; negative when too early."""
        return self.called_days - self.tub.done_days

    @property
    def usual_days(self) -> float:
        """Return how long one waits who goes by the long end of the species' usual time."""
        return species_range(self.tub.species).high_days


@dataclass(frozen=True, slots=True, kw_only=True)
class Judging:
    """One judging of a skull: when, and the verdict for each of `SURES`."""

    day: float
    probability: float
    verdicts: tuple[DoneVerdict, ...]


def yellows(tub: SeasonTub, days: float) -> bool:
    """Return whether the skull, taken out on a day, keeps patches that will turn yellow."""
    if not np.isfinite(days):
        return False
    return bool(tub.patch_share[min(int(days), len(tub.patch_share) - 1)] > PATCH_DONE_SHARE)


def decide(tub: SeasonTub) -> tuple[Decision, ...]:
    """Judge a skull until it is called done by the surest; return the decision for each."""
    judgings: list[Judging] = []
    day = START_SHARE * tub.clear_days
    while day < LAST_DAY:
        advised, wait = _judge(tub, day)
        verdicts = tuple(one.verdict for one in advised)
        judgings.append(
            Judging(day=day, probability=advised[0].probability_degreased, verdicts=verdicts)
        )
        if verdicts[-1] is DoneVerdict.DONE:
            break
        day += wait
    return tuple(
        Decision(
            tub=tub,
            sure=sure,
            called_days=_first(
                one.day for one in judgings if one.verdicts[index] is DoneVerdict.DONE
            ),
            water_days=_first(one.day for one in judgings if one.probability >= sure),
        )
        for index, sure in enumerate(SURES)
    )


def _first(days: Iterable[float]) -> float:
    return next(iter(days), np.inf)


def _judge(tub: SeasonTub, day: float) -> tuple[list[DoneAdvice], float]:
    """Judge a skull as its owner is told, for each of `SURES`; return that and the next wait."""
    now = START + timedelta(days=day)
    history = known_at(tub, day)
    fit = fit_tub(history, now)
    felt_at = now - timedelta(days=FELT_DAYS)
    pace = judge_pace(fit, history, checked_at=felt_at)
    broke = pace.once_broke
    backing = backing_of(fit, history, ClearRule(), checked_at=felt_at, pace_broke=broke)
    found = project(fit, proved=backing.proved)
    stall = pace.report.verdict
    advised = [judge_skulls(found, (tub.bone,), stall, backing, sure=sure)[0] for sure in SURES]
    return advised, _step(found, day)


def _step(found: Forecast, day: float) -> float:
    """Return the days until the next judging: part of the way to the likely date."""
    likely_at = found.degreased.quantile(0.5)
    if likely_at is None:
        return 4 * LEAST_STEP_DAYS
    ahead = (likely_at - START) / timedelta(days=1) - day
    return max(LEAST_STEP_DAYS, STEP_SHARE * ahead)


def table(decisions: Iterable[Decision]) -> list[str]:
    """Return the table, one line a skull."""
    lines = [
        "species    water clear  seen  done  called  off [d]  usual time  saved [d]  yellows later:"
        " called, by water alone, usual time"
    ]
    for one in decisions:
        flags = [
            "yes" if yellows(one.tub, days) else "no"
            for days in (one.called_days, one.water_days, one.usual_days)
        ]
        lines.append(
            f"{one.tub.species:10s} {one.tub.clear_days:10.0f} {one.water_days:5.0f}"
            f" {one.tub.done_days:5.0f}"
            f" {one.called_days:7.0f} {one.late_days:+8.0f} {one.usual_days:11.0f}"
            f" {one.usual_days - one.called_days:+10.0f}  {', '.join(flags)}"
            f"{'  (heater was off 6 days, not logged)' if one.tub.heater_failed else ''}"
        )
    return lines


def summary(decisions: Sequence[Decision]) -> list[str]:
    """Return the season in a few lines."""
    called = [one for one in decisions if np.isfinite(one.called_days)]
    early = [-one.late_days for one in called if one.late_days < 0]
    late = [one.late_days for one in called if one.late_days >= 0]
    usual_early = [one for one in decisions if one.usual_days < one.tub.done_days]
    waits = [max(one.usual_days - one.tub.done_days, 0) for one in called]
    ours = [max(one.late_days, 0) for one in called]
    return [
        f"called done {len(called)} of {len(decisions)}; too early {len(early)}"
        f" (by {max(early, default=0):.0f} days at most), late by {np.median(late or [0]):.0f} days"
        f" (median), {max(late, default=0):.0f} at most",
        f"needless soaking: {sum(ours):.0f} days; by the usual time {sum(waits):.0f} days, and"
        f" {len(usual_early)} taken out too early",
        f"missed yellowing: {sum(yellows(one.tub, one.called_days) for one in decisions)};"
        f" by clear water alone {sum(yellows(one.tub, one.water_days) for one in decisions)};"
        f" by the usual time {sum(yellows(one.tub, one.usual_days) for one in decisions)}",
    ]


def main() -> None:
    """Print the table and the summary."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--tubs", type=int, default=12)
    options = parser.parse_args()
    season: list[tuple[Decision, ...]] = []
    for tub in invent_season(options.seed, 1 if options.quick else options.tubs):
        season.append(decide(tub))
        print(table(season[-1][-1:])[-1], flush=True)
    for decisions in zip(*season, strict=True):
        print(f"\n{decisions[0].sure:.0%} sure of clear water\n")
        print("\n".join([*table(decisions), "", *summary(decisions)]))


if __name__ == "__main__":
    main()
