"""Invents judging tubs: what really happens in them, and what their keeper writes down."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import BodyCondition, Bound
from greasecheck.predict.records import HazeReading, SoakingSkull, TubHistory, WaterChange
from tests.synthetic.judging_tubs.kinds import ODDS, JudgingKind, Odds
from tests.synthetic.judging_tubs.stores import DONE_SHARE, Store, draw_store
from tests.synthetic.tubs.log import QUARTILE, START, InventedTub, usual_days

if TYPE_CHECKING:
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]

SPECIES = ("wolf", "roe deer", "goat", "moose", "badger", "wild boar", "bobcat", "cattle", "seal")
KEEPERS_LOG_STD, SPECIES_LOG_STD = 0.3, 0.2
STEP_DAYS = 0.25
MOST_DAYS, LEAST_DAYS = 800, 95
STOP_LEFT = 0.04
TISSUE_DAYS = 6.0
SOAP_DAYS = 2.5
TOP_PER_M, BOTTOM_PER_M = 65.0, 0.4
ROOM_C = 18.0


@dataclass(slots=True, kw_only=True)
class _Bone:
    """One skull's grease, drained step by step."""

    store: Store
    grease_per_m: float
    amplitudes: FloatArray
    left: float = 1.0
    soaked_days: float = 0.0

    def give(self, days: float, bath_share: float) -> float:
        """Drain for so many days at 40 degrees C; return the haze given off [1/m]."""
        store = self.store
        before, spent = self.left, self._spent(days)
        if np.isinf(store.half_full):
            held = bath_share * store.amplitudes
            self.amplitudes = held + (self.amplitudes - held) * np.exp(-store.rates_per_day * spent)
            self.left = float((store.vectors @ self.amplitudes).sum())
        else:
            drive = (before - bath_share) / (1 + before / store.half_full)
            self.left = before - float(store.rates_per_day[0]) * spent * drive
        return (before - self.left) * self.grease_per_m

    def _spent(self, days: float) -> float:
        begun, power = self.soaked_days, self.store.power
        self.soaked_days = begun + days
        return float(self.soaked_days**power - begun**power)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Keeper:
    """Who keeps and reads a tub."""

    interval_days: int
    usual_c: float
    cloudy_per_m: float
    reads: float
    scatter: float
    stated: float
    fresh_per_m: float
    q10: float
    carry: float
    partition: float
    off_from: float
    off_days: float


def _keeper(generator: np.random.Generator, odds: Odds) -> _Keeper:
    off = float(generator.uniform(5, 50)) if odds.heater_off else np.inf
    return _Keeper(
        interval_days=int(generator.choice([2, 3, 4, 6, 7])),
        usual_c=float(generator.choice([32.0, 38.0, 42.0, 48.0])),
        cloudy_per_m=float(generator.uniform(12, 35)),
        reads=float(generator.choice([0.5, 0.8, 1.0])),
        scatter=float(generator.uniform(0.03, 0.12)),
        stated=float(generator.uniform(0.6, 1.3)),
        fresh_per_m=float(1.3 * np.exp(0.5 * generator.standard_normal())),
        q10=float(generator.uniform(1.5, 2.4)),
        carry=float(generator.uniform(0.02, 0.15)),
        partition=float(1.5 * np.exp(0.7 * generator.standard_normal())),
        off_from=off,
        off_days=float(generator.uniform(5, 12)),
    )


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
    bones = [_bone(generator, odds, name, habit) for name in names]
    keeper = _keeper(generator, odds)
    story = _run(generator, odds, keeper, bones)
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


def _bone(generator: np.random.Generator, odds: Odds, species: str, habit: float) -> _Bone:
    low, high = usual_days(species)
    spread = np.hypot(max(float(np.log(high / low)) / 2 / QUARTILE, 0.2), SPECIES_LOG_STD)
    days = np.sqrt(low * high) * np.exp(spread * generator.standard_normal())
    law = odds.laws[int(generator.integers(len(odds.laws)))]
    store = draw_store(generator, law, float(days) * habit * odds.pace)
    return _Bone(
        store=store,
        grease_per_m=float(300 * np.exp(0.7 * generator.standard_normal())),
        amplitudes=store.amplitudes,
    )


def _run(generator: np.random.Generator, odds: Odds, keeper: _Keeper, bones: list[_Bone]) -> _Story:
    grease, tissue, age, due = 0.0, 0.0, 0.0, 0.0
    all_grease = sum(bone.grease_per_m for bone in bones)
    fresh, haze, left, fillings = keeper.fresh_per_m, [], [], []
    for step in range(round(MOST_DAYS / STEP_DAYS)):
        day = step * STEP_DAYS
        seen = fresh + grease + tissue
        if day >= due or (odds.habit == "reactive" and age >= 1 and seen > keeper.cloudy_per_m):
            grease, tissue, age = keeper.carry * grease, keeper.carry * tissue, 0.0
            fresh = keeper.fresh_per_m * float(np.exp(0.15 * generator.standard_normal()))
            fillings.append(day)
            due = day + _wait(generator, odds, keeper, day)
        pace = _pace(generator, keeper, day) * (
            1 - odds.spent_share * (1 - np.exp(-age / SOAP_DAYS))
        )
        share = grease / (keeper.partition * all_grease)
        grease += sum(bone.give(pace * STEP_DAYS, share) for bone in bones)
        tissue += odds.tissue_per_m / TISSUE_DAYS * np.exp(-day / TISSUE_DAYS) * STEP_DAYS
        age += STEP_DAYS
        haze.append(fresh + grease + tissue)
        left.append([bone.left for bone in bones])
        if day > LEAST_DAYS and max(left[-1]) < STOP_LEFT:
            break
    return _Story(haze_per_m=np.array(haze), left=np.array(left), fillings=tuple(fillings))


def _wait(generator: np.random.Generator, odds: Odds, keeper: _Keeper, day: float) -> float:
    if odds.habit == "reactive":
        return 10.0
    usual = float(keeper.interval_days)
    if odds.habit == "slackening":
        usual = 2 + day / 25
    return max(1.0, float(round(usual + int(generator.choice([-1, 0, 0, 0, 1])))))


def _pace(generator: np.random.Generator, keeper: _Keeper, day: float) -> float:
    is_off = keeper.off_from <= day < keeper.off_from + keeper.off_days
    night = -1.5 if day % 1 < 0.5 else 1.5
    warm_c = (ROOM_C if is_off else keeper.usual_c + night) + generator.standard_normal()
    return float(keeper.q10 ** ((warm_c - 40) / 10))


def _logged(
    generator: np.random.Generator, odds: Odds, keeper: _Keeper, fillings: tuple[float, ...]
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
    generator: np.random.Generator, odds: Odds, keeper: _Keeper, story: _Story
) -> tuple[HazeReading, ...]:
    found, gain = [], 0.0
    for day in range(int(len(story.haze_per_m) * STEP_DAYS)):
        gain += odds.drift_log_std * float(generator.standard_normal()) / np.sqrt(30) - gain / 60
        away = (START + timedelta(days=day)).weekday() < 5 if odds.weekends else False
        if away or generator.random() > keeper.reads:
            continue
        step = int((day + generator.choice([0.25, 0.5, 0.75])) / STEP_DAYS) - 1
        true_per_m = float(story.haze_per_m[step]) * float(np.exp(gain))
        found.append(_reading(generator, keeper, (step + 1) * STEP_DAYS - 0.02, true_per_m))
    return tuple(found)


def _reading(
    generator: np.random.Generator, keeper: _Keeper, day: float, true_per_m: float
) -> HazeReading:
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
