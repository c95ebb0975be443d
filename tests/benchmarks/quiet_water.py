"""What quiet water is taken for: skulls called done, and alarms that stand, against the truth.

Run with `python -m tests.benchmarks.quiet_water [--quick] [--tubs N] [--first-seed N] [--workers N]
[--kinds NAME ...]`. Each tub is kept by one who does what the advice says of warmth and of the
proof, but answers no alarm.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model.verdicts import DoneVerdict, StallVerdict
from greasecheck.predict.advice.decisions import advise
from greasecheck.predict.records import ClearRule
from tests.synthetic.judging_tubs.quiet import KeptTub, Quiet

if TYPE_CHECKING:
    from collections.abc import Sequence

    from greasecheck.predict.advice.decisions import TubAdvice

FROM_DAY, EVERY_DAYS, LAST_DAY = 40, 6, 240
ALARM_LATER_DAYS = 55.0
DONE_SHARE, EARLY_SHARE = 0.1, 0.15
WEIGHED_AGAIN_AT = 0.25  # with more grease left than this, sound tubs are only lived through
ALARMS = frozenset({StallVerdict.STALLED, StallVerdict.QUICKENED})


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of a tub.

    Attributes
    ----------
    called_days : float
        When it was called done; infinite if never.
    left_share : float
        What was left then; nan if never.
    degreased_days : float
        When it was really degreased; infinite if not while it was watched.
    alarm_days : float
        When an alarm first stood; infinite if none did.
    alarm_stands : bool
        Whether one stood when it was last weighed.
    was_found_cold : bool
        Whether its keeper, asked for the warmth, found it cold.
    was_proved : bool
        Whether the proof was asked for.
    """

    called_days: float
    left_share: float
    degreased_days: float
    alarm_days: float
    alarm_stands: bool
    was_found_cold: bool
    was_proved: bool


def watch(seed: int, kind: Quiet) -> Outcome:
    """Keep a tub by the advice until its skull is called done or its cold water found.

    Late marrow is watched until it opens: then the pace rises, and asks by itself.
    """
    tub = KeptTub(seed, kind)
    degreased = alarm = called = np.inf
    left, stands, found_cold, proved = np.nan, False, False, False
    last = {Quiet.SOUND: LAST_DAY, Quiet.COLD: tub.fails_days + ALARM_LATER_DAYS}.get(
        kind, tub.opens_days
    )
    while tub.day < last and not np.isfinite(called) and not found_cold:
        tub.live(EVERY_DAYS if tub.day >= FROM_DAY else FROM_DAY)
        if tub.bone.left < DONE_SHARE:
            degreased = min(degreased, tub.day)
        if kind is Quiet.SOUND and tub.bone.left > WEIGHED_AGAIN_AT:
            continue
        advice = advise(tub.history(), tub.now, bones=(tub.looks,))
        stands = advice.stall.verdict in ALARMS
        alarm = min(alarm, tub.day) if stands else alarm
        verdict = _answer(tub, advice)
        proved |= verdict is DoneVerdict.PROVE
        found_cold = verdict is DoneVerdict.MEASURE_WARMTH and tub.is_cold
        if verdict is DoneVerdict.DONE:
            called, left = tub.day, tub.bone.left
    return Outcome(
        called_days=called,
        left_share=left,
        degreased_days=degreased,
        alarm_days=alarm,
        alarm_stands=stands,
        was_found_cold=found_cold,
        was_proved=proved,
    )


def _answer(tub: KeptTub, advice: TubAdvice) -> DoneVerdict:
    """Do what is asked of the water: measure it, or leave it warm and measure it."""
    [skull] = advice.skulls
    if skull.verdict in {DoneVerdict.MEASURE_WARMTH, DoneVerdict.PROVE}:
        tub.feel()
    if skull.verdict is DoneVerdict.PROVE:
        tub.leave(ClearRule().soak_days + 1)
    return skull.verdict


def line(kind: Quiet, outcomes: Sequence[Outcome]) -> str:
    """Return what became of the tubs of a kind."""
    called = [one for one in outcomes if np.isfinite(one.called_days)]
    early = sum(one.left_share > EARLY_SHARE for one in called)
    late = [one.called_days - one.degreased_days for one in called if one.degreased_days < np.inf]
    told = f"{len(called)} of {len(outcomes)} called done, {early} with over 15 % left"
    if late:
        told += f", {np.median(late):.0f} days late (median)"
    told += f"; proof asked of {sum(one.was_proved for one in outcomes)}"
    told += f"; an alarm in {sum(np.isfinite(one.alarm_days) for one in outcomes)}"
    told += f", at the end in {sum(one.alarm_stands for one in outcomes)}"
    if kind is Quiet.COLD:
        told += f"; found cold when asked {sum(one.was_found_cold for one in outcomes)}"
    return f"{kind.value}: {told}"


def main() -> None:
    """Print a line for each kind."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--tubs", type=int, default=16)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--kinds", nargs="*")
    parser.add_argument("--workers", type=int, default=1)
    options = parser.parse_args()
    begin = options.first_seed
    seeds = range(begin, begin + (1 if options.quick else options.tubs))
    kinds = [kind for kind in Quiet if kind.name in (options.kinds or (kind.name,))]
    with ProcessPoolExecutor(options.workers) as pool:
        for kind in kinds:
            print(line(kind, list(pool.map(partial(watch, kind=kind), seeds))), flush=True)


if __name__ == "__main__":
    main()
