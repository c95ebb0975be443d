"""How many water changes that nobody logged are found, and how many are claimed that never were.

Run with `python -m tests.benchmarks.unlogged_changes [--tubs N]`. Told apart by what a reading can
show: a change counts as visible when the bath was read before it and after it. The last line is of
quiet water that was left alone, of which every claim is false.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from datetime import timedelta
from itertools import product
from typing import TYPE_CHECKING

from greasecheck.predict.fit.tub_fit import fit_tub
from tests.synthetic.judging_tubs.kinds import JudgingKind
from tests.synthetic.judging_tubs.log import invent_judging_tub
from tests.synthetic.judging_tubs.quiet import KeptTub, Quiet
from tests.synthetic.tubs.kinds import Kind
from tests.synthetic.tubs.log import START, InventedTub, invent_tub

if TYPE_CHECKING:
    from collections.abc import Iterator

    from greasecheck.predict.forecast_records import UnloggedChange

AGE_DAYS = 60
QUIET_SHARE, LATEST_DAY = 0.08, 300
LATE_DAYS = 1.0  # a change that was logged so late is no false claim


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """Of one tub.

    Attributes
    ----------
    found, missed : int
        Unlogged changes between two readings of one logged bath, claimed and not.
    false : int
        Claims where there was none.
    """

    found: int
    missed: int
    false: int


def count(tub: InventedTub) -> Count:
    """Return what is found in a tub at `AGE_DAYS`."""
    now = START + timedelta(days=AGE_DAYS)
    claims = fit_tub(tub.history, now).unlogged
    real = [START + timedelta(days=day) for day in _visible(tub)]
    found = [any(one.after <= at <= one.before for one in claims) for at in real]
    return Count(
        found=sum(found),
        missed=len(found) - sum(found),
        false=sum(not _explained(one, tub) for one in claims),
    )


def _visible(tub: InventedTub) -> Iterator[float]:
    """Yield the unlogged changes with a reading of the same logged bath before and after."""
    fills = [(one.at - START) / timedelta(days=1) for one in tub.history.changes]
    reads = [(one.at - START) / timedelta(days=1) for one in tub.history.readings]
    for day in tub.unlogged_days:
        begin = max((fill for fill in fills if fill <= day), default=0.0)
        end = min([fill for fill in fills if fill > day], default=float(AGE_DAYS))
        if any(begin < one <= day for one in reads) and any(
            day < one <= min(end, AGE_DAYS) for one in reads
        ):
            yield day


def _explained(claim: UnloggedChange, tub: InventedTub) -> bool:
    late = timedelta(days=LATE_DAYS)
    times = [START + timedelta(days=day) for day in tub.unlogged_days]
    times += [one.at - late for one in tub.history.changes]
    return any(claim.after <= at <= claim.before for at in times)


def claims_of_quiet_water(seed: int) -> int:
    """Return how many changes are claimed in a quiet bath that was left for `AGE_DAYS`."""
    tub = KeptTub(seed, Quiet.SOUND)
    while tub.bone.left > QUIET_SHARE and tub.day < LATEST_DAY:
        tub.live(1)
    tub.leave(AGE_DAYS)
    tub.live(AGE_DAYS)
    history = tub.history()
    filled_at = history.changes[-1].at
    return sum(one.after >= filled_at for one in fit_tub(history, tub.now).unlogged)


def main() -> None:
    """Print a line for each kind."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tubs", type=int, default=40)
    parser.add_argument("--first-seed", type=int, default=0)
    options = parser.parse_args()
    seeds = range(options.first_seed, options.first_seed + options.tubs)
    makers = [(invent_tub, kind) for kind in (Kind.UNLOGGED, Kind.PLAIN, Kind.FOAM)]
    kinds = [JudgingKind.FORGETFUL, JudgingKind.GAMMA, JudgingKind.WEEKENDS]
    for make, kind in [*makers, *product([invent_judging_tub], kinds)]:
        counts = [count(make(seed, kind)) for seed in seeds]  # type: ignore[operator]
        found, missed = sum(one.found for one in counts), sum(one.missed for one in counts)
        wrong = sum(one.false > 0 for one in counts)
        told = f"{found:3d} of {found + missed:3d} found"
        print(f"{kind.value:34s} {told}, {wrong} of {len(counts)} tubs with a false claim")
    wrong = sum(claims_of_quiet_water(seed) > 0 for seed in seeds)
    print(f"{'quiet water left alone':34s} {wrong} of {len(seeds)} tubs with a false claim")


if __name__ == "__main__":
    main()
