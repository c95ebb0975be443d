"""False alarms and delay of the stall test over invented tubs whose heater fails, or does not.

Run with `python -m tests.benchmarks.stalled_alarm [--quick] [--tubs N]`. Nobody logs the failure:
the forecast is told the usual temperature throughout.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model.verdicts import StallVerdict
from greasecheck.predict.advice.stalled import find_stall
from greasecheck.predict.outlook.forecasting import fit_tub, project
from tests.synthetic import tub_simulator as simulator
from tests.synthetic.tub_simulator import START, Habits, Truth

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from greasecheck.predict.fit.tub_fit import TubFit
    from greasecheck.predict.records import TubHistory

    FloatArray = simulator.FloatArray

TRUTHS = (Truth.PRIOR, Truth.THREE_POOLS, Truth.SLOWER_TABLE, Truth.SPHERE)
WATCHED_FROM_DAY, WATCHED_DAYS = 7, 100
REFIT_DAYS = 10
DROP_C = 20.0
FIRST_SEED = 900_000
READINGS_GIVEN = 12
MOST_DAYS = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """One tub watched while nothing was wrong: for how long, and its false alarms."""

    days: float
    readings: int
    alarms: int
    odd_readings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """One failed heater.

    Attributes
    ----------
    readings_needed : int or None
        Readings until it was found; None when not found in those given.
    gain_per_m : float
        What a fresh soak would have gained at the failure, as forecast [1/m].
    """

    readings_needed: int | None
    gain_per_m: float


def invent_tub(seed: int, failure_hour: int | None) -> tuple[TubHistory, float]:
    """Return a tub's log, silent of the failure, and the day it runs clear without one."""
    generator = np.random.default_rng(seed)
    truth = TRUTHS[seed % len(TRUTHS)]
    species = str(generator.choice(simulator.SPECIES))
    bone = simulator.draw_bone(generator, truth, species)
    interval = int(generator.choice([48, 72, 72, 96, 120]))
    usual_c = float(generator.choice([40.0, 45.0]))
    hours = 24 * MOST_DAYS
    changes = simulator._change_hours(generator, interval, hours)
    temperature_c = np.full(hours, usual_c)
    if failure_hour is not None:
        temperature_c[failure_hour:] -= DROP_C
    habits = Habits(heater_failure_probability=0.0, most_days=MOST_DAYS)
    tub = simulator._run(generator, bone, species, changes, temperature_c, habits)
    told = tuple(replace(change, temperature_c=usual_c) for change in tub.history.changes)
    return replace(tub.history, changes=told, temperatures=()), tub.clear_days


def reading_times(history: TubHistory, begin: datetime, end: datetime) -> Iterator[datetime]:
    """Yield when readings were taken, oldest first."""
    yield from sorted(reading.at for reading in history.readings if begin < reading.at <= end)


def watch_tub(seed: int, days: int = WATCHED_DAYS) -> Watch:
    """Test after each reading of a tub where nothing is wrong; each alarm is looked into once."""
    history, clear_days = invent_tub(seed, None)
    begin = START + timedelta(days=WATCHED_FROM_DAY)
    end = begin + timedelta(days=min(days, clear_days + REFIT_DAYS))
    fit, checked, alarms, odd, count = fit_tub(history, begin), START, 0, 0, 0
    for now in reading_times(history, begin, end):
        count += 1
        if now - fit.now > timedelta(days=REFIT_DAYS):
            fit = fit_tub(history, now)
        report = find_stall(fit, history, now, checked_at=checked)
        if report.verdict is StallVerdict.STEADY:
            continue
        fit = fit_tub(history, now)  # the command always fits afresh
        verdict = find_stall(fit, history, checked_at=checked).verdict
        alarms += verdict is StallVerdict.STALLED
        odd += verdict is StallVerdict.ODD_READING
        checked = now if verdict is StallVerdict.STALLED else checked
    return Watch(
        days=(end - begin) / timedelta(days=1), readings=count, alarms=alarms, odd_readings=odd
    )


def search_failure(seed: int) -> Search | None:
    """Fail a heater before the tub runs clear; None for a tub clear too soon or read no more."""
    generator = np.random.default_rng(seed + FIRST_SEED)
    _, clear_days = invent_tub(seed, None)
    last = int(min(clear_days - 5, WATCHED_DAYS))
    if last <= WATCHED_FROM_DAY + 3:
        return None
    hour = int(generator.integers(24 * (WATCHED_FROM_DAY + 3), 24 * last))
    history, _ = invent_tub(seed, hour)
    failed = START + timedelta(hours=hour)
    times = list(reading_times(history, failed, failed + timedelta(days=60)))[:READINGS_GIVEN]
    if len(times) < READINGS_GIVEN:
        return None
    fit = fit_tub(history, failed)
    return Search(
        readings_needed=_readings_needed(fit, history, times),
        gain_per_m=project(fit).gain_now_per_m[1],
    )


def _readings_needed(fit: TubFit, history: TubHistory, times: list[datetime]) -> int | None:
    for number, now in enumerate(times, start=1):
        if find_stall(fit, history, now).verdict is StallVerdict.STEADY:
            continue
        if find_stall(fit_tub(history, now), history).verdict is StallVerdict.STALLED:
            return number
    return None


def found_within(searches: list[Search], readings: int) -> float:
    """Return the share of failures found within so many readings."""
    return float(np.mean([(search.readings_needed or np.inf) <= readings for search in searches]))


def alarms_per_100_days(watches: list[Watch]) -> float:
    """Return false alarms per tub and 100 days."""
    return 100 * sum(watch.alarms for watch in watches) / sum(watch.days for watch in watches)


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--tubs", type=int, default=40)
    options = parser.parse_args()
    tubs = 3 if options.quick else options.tubs
    searches: list[Search] = []
    for seed in range(FIRST_SEED, FIRST_SEED + 2 * tubs):
        found = search_failure(seed)
        if found is not None:
            searches.append(found)
            print(
                f"{seed}: gain {found.gain_per_m:5.1f} /m, found {found.readings_needed}",
                flush=True,
            )
    shares = ", ".join(f"{n}: {found_within(searches, n):.0%}" for n in (2, 3, 4, 6, 8, 12))
    print(f"heater off by {DROP_C:.0f} degrees, {len(searches)} failures; found within {shares}")
    watches: list[Watch] = []
    for seed in range(FIRST_SEED, FIRST_SEED + tubs):
        watches.append(watch_tub(seed, 40 if options.quick else WATCHED_DAYS))
        print(
            f"{len(watches)} tubs, {sum(w.days for w in watches):.0f} days: false alarms per tub"
            f" and 100 days {alarms_per_100_days(watches):.2f}, odd readings asked again"
            f" {sum(w.odd_readings for w in watches)}",
            flush=True,
        )


if __name__ == "__main__":
    main()
