"""Invents judging tubs: what really happens in them, and what their keeper writes down."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import BodyCondition, Bound
from greasecheck.predict.records import HazeReading, SoakingSkull, TubHistory, WaterChange
from tests.synthetic.judging_tubs.kinds import ODDS, JudgingKind, Odds
from tests.synthetic.judging_tubs.living import (
    KEEPERS_LOG_STD,
    SPECIES,
    STEP_DAYS,
    Keeper,
    LivingTub,
    draw_bone,
    draw_keeper,
)
from tests.synthetic.judging_tubs.stores import DONE_SHARE
from tests.synthetic.tubs.log import START, InventedTub

if TYPE_CHECKING:
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]

MOST_DAYS, LEAST_DAYS = 800, 95
STOP_LEFT = 0.04
TOP_PER_M, BOTTOM_PER_M = 65.0, 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class _Story:
    """What happened: per step, and the fillings."""

    haze_per_m: FloatArray
    left: FloatArray
    fillings: tuple[float, ...]


def invent_judging_tub(seed: int, kind: JudgingKind) -> InventedTub:
    """Invent a judging tub of a kind."""
    generator = np.random.default_rng([seed, 77, list(JudgingKind).index(kind)])
    odds = ODDS[kind]
    names = [str(name) for name in generator.choice(SPECIES, odds.skulls, replace=False)]
    habit = float(np.exp(KEEPERS_LOG_STD * generator.standard_normal()))
    bones = [draw_bone(generator, odds, name, habit) for name in names]
    keeper = draw_keeper(generator, odds)
    story = _run(generator, odds, LivingTub(generator, odds, keeper, bones), keeper)
    condition = BodyCondition.FAT if odds.fat else BodyCondition.UNKNOWN
    per_day = round(1 / STEP_DAYS)
    changes, missed = _logged(generator, odds, keeper, story.fillings)
    return InventedTub(
        history=TubHistory(
            skulls=tuple(
                SoakingSkull(name=f"skull {n}", species=name, since=START, condition=condition)
                for n, name in enumerate(names)
            ),
            changes=changes,
            readings=_readings(generator, odds, keeper, story),
        ),
        degreased_days=tuple(_done(story.left[:, n]) for n in range(len(names))),
        left=story.left[per_day - 1 :: per_day],
        unlogged_days=missed,
    )


def _run(generator: np.random.Generator, odds: Odds, tub: LivingTub, keeper: Keeper) -> _Story:
    due = 0.0
    haze, left, fillings = [], [], []
    while tub.day < MOST_DAYS:
        cloudy = odds.habit == "reactive" and tub.age_days >= 1
        if tub.day >= due or (cloudy and tub.haze_per_m > keeper.cloudy_per_m):
            tub.fill()
            fillings.append(tub.day)
            due = tub.day + _wait(generator, odds, keeper, tub.day)
        tub.step()
        haze.append(tub.haze_per_m)
        left.append(tub.left)
        if tub.day > LEAST_DAYS and max(left[-1]) < STOP_LEFT:
            break
    return _Story(haze_per_m=np.array(haze), left=np.array(left), fillings=tuple(fillings))


def _wait(generator: np.random.Generator, odds: Odds, keeper: Keeper, day: float) -> float:
    if odds.habit == "reactive":
        return 10.0
    usual = float(keeper.interval_days)
    if odds.habit == "slackening":
        usual = 2 + day / 25
    return max(1.0, float(round(usual + int(generator.choice([-1, 0, 0, 0, 1])))))


def _logged(
    generator: np.random.Generator, odds: Odds, keeper: Keeper, fillings: tuple[float, ...]
) -> tuple[tuple[WaterChange, ...], tuple[float, ...]]:
    kept, missed = [], []
    for n, day in enumerate(fillings):
        if n and generator.random() < odds.forgotten:
            missed.append(day)
            continue
        late = 1.0 if n and generator.random() < odds.late else 0.0
        kept.append(
            WaterChange(at=START + timedelta(days=day + late), temperature_c=keeper.usual_c)
        )
    return tuple(kept), tuple(missed)


def _readings(
    generator: np.random.Generator, odds: Odds, keeper: Keeper, story: _Story
) -> tuple[HazeReading, ...]:
    found, gain = [], 0.0
    for day in range(int(len(story.haze_per_m) * STEP_DAYS)):
        gain += odds.drift_log_std * float(generator.standard_normal()) / np.sqrt(30) - gain / 60
        away = (START + timedelta(days=day)).weekday() < 5 if odds.weekends else False
        if away or generator.random() > keeper.reads:
            continue
        step = int((day + generator.choice([0.25, 0.5, 0.75])) / STEP_DAYS) - 1
        true_per_m = float(story.haze_per_m[step]) * float(np.exp(gain))
        found.append(read_haze(generator, keeper, (step + 1) * STEP_DAYS - 0.02, true_per_m))
    return tuple(found)


def read_haze(
    generator: np.random.Generator, keeper: Keeper, day: float, true_per_m: float
) -> HazeReading:
    """Return what a keeper reads of a true haze on a day."""
    std = 0.25 + 0.02 * true_per_m
    off = keeper.scatter * true_per_m * generator.standard_t(5) + std * generator.standard_normal()
    value = true_per_m + float(off)
    bound = Bound.ABOVE if value > TOP_PER_M else Bound.BELOW if value < BOTTOM_PER_M else None
    return HazeReading(
        at=START + timedelta(days=day),
        attenuation_per_m=float(np.clip(value, BOTTOM_PER_M, TOP_PER_M)),
        std_per_m=std * keeper.stated,
        bound=bound,
    )


def _done(left: FloatArray) -> float:
    """Return when the share left is below 10 % for good [days]."""
    above = np.flatnonzero(left >= DONE_SHARE)
    return np.inf if len(above) == len(left) else float((above[-1] + 1) * STEP_DAYS)
