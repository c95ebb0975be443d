"""Judging tubs whose water falls quiet while grease is left, kept by one who follows the advice."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import BoneState
from greasecheck.predict.advice.bone_trend import BoneLook
from greasecheck.predict.advice.done import SkullBone
from greasecheck.predict.records import (
    HazeReading,
    SoakingSkull,
    TemperatureRecord,
    TubHistory,
    WaterChange,
)
from tests.synthetic.judging_tubs.kinds import Odds
from tests.synthetic.judging_tubs.living import (
    KEEPERS_LOG_STD,
    ROOM_C,
    SPECIES,
    STEP_DAYS,
    Bone,
    LivingTub,
    draw_bone,
    draw_keeper,
)
from tests.synthetic.judging_tubs.log import read_haze
from tests.synthetic.tubs.log import START

if TYPE_CHECKING:
    from datetime import datetime

# With them a skull can look done while its marrow is closed; slower ones are never so early.
QUICK_SPECIES = ("mink", "cat", "fox", "coyote")
OPENS_FROM_DAYS, OPENS_TO_DAYS = 45.0, 60.0
FAILS_FROM_DAYS, FAILS_TO_DAYS = 20.0, 80.0
CLEAN_YI, GREASY_YI, YI_STD, SHARE_STD = 18.0, 25.0, 0.8, 0.01
LOOK_EVERY_DAYS = 3


class Quiet(StrEnum):
    """Why the water falls quiet."""

    SOUND = "little grease is left"
    LATE = "marrow opens on day 45 to 60"
    HIDDEN = "the same, and its bone shows the outside alone"
    COLD = "heater fails for good on day 20 to 80"


@dataclass(slots=True, kw_only=True)
class LateBone(Bone):
    """A skull whose marrow gives nothing before a day; outside and marrow leave alike."""

    outside: float
    opens_days: float
    marrow: float
    outside_left: float
    is_open: bool = False

    def give(self, days: float, bath_share: float) -> float:
        """Drain the outside and, once it is open, the marrow; return the haze given off [1/m]."""
        before = self.outside_left + self.marrow
        kept = float(np.exp(-self.store.rates_per_day[0] * days))
        self.outside_left = _leached(self.outside_left, bath_share * self.outside, kept)
        if self.is_open:
            self.marrow = _leached(self.marrow, bath_share * (1 - self.outside), kept)
        self.left = self.outside_left + self.marrow
        return (before - self.left) * self.grease_per_m


def _leached(left: float, rest: float, kept: float) -> float:
    return rest + (left - rest) * kept


class KeptTub:
    """A tub that lives on, and its log; changed in place day by day."""

    def __init__(self, seed: int, kind: Quiet) -> None:
        generator = np.random.default_rng([seed, 78, list(Quiet).index(kind)])
        self._generator, self._kind = generator, kind
        self._odds = Odds(heater_off=kind is Quiet.COLD)
        late = kind in {Quiet.LATE, Quiet.HIDDEN}
        self.species = str(generator.choice(QUICK_SPECIES if late else SPECIES))
        habit = float(np.exp(KEEPERS_LOG_STD * generator.standard_normal()))
        bone = draw_bone(generator, self._odds, self.species, habit)
        self.bone = _late(generator, bone) if late else bone
        self.fails_days = (
            float(generator.uniform(FAILS_FROM_DAYS, FAILS_TO_DAYS))
            if kind is Quiet.COLD
            else np.inf
        )
        self._keeper = replace(
            draw_keeper(generator, self._odds), off_from=self.fails_days, off_days=np.inf
        )
        self._water = LivingTub(generator, self._odds, self._keeper, [self.bone])
        self._due = 0.0
        self._changes: list[WaterChange] = []
        self._readings: list[HazeReading] = []
        self._looks: list[BoneLook] = []
        self._felt: list[TemperatureRecord] = []

    @property
    def day(self) -> float:
        """Return the days since the start."""
        return self._water.day

    @property
    def now(self) -> datetime:
        """Return the time."""
        return START + timedelta(days=self.day)

    @property
    def looks(self) -> SkullBone:
        """Return the bone's readings."""
        return SkullBone(name="skull", looks=tuple(self._looks))

    @property
    def opens_days(self) -> float:
        """Return when its marrow opens; from the start except for late ones."""
        return self.bone.opens_days if isinstance(self.bone, LateBone) else 0.0

    @property
    def is_cold(self) -> bool:
        """Return whether its heater has failed."""
        return self.day >= self.fails_days

    def history(self) -> TubHistory:
        """Return what its keeper wrote down."""
        return TubHistory(
            skulls=(SoakingSkull(name="skull", species=self.species, since=START),),
            changes=tuple(self._changes),
            readings=tuple(self._readings),
            temperatures=tuple(self._felt),
        )

    def leave(self, days: float) -> None:
        """Leave its water alone for so many days."""
        self._due = max(self._due, self.day + days)

    def feel(self) -> None:
        """Measure how warm the water is."""
        warm_c = ROOM_C if self.is_cold else self._keeper.usual_c
        self._felt.append(TemperatureRecord(at=self.now, temperature_c=warm_c))

    def live(self, days: int) -> None:
        """Let days pass, with their changes, readings and photos of the bone."""
        for _ in range(days):
            self._live_a_day()

    def _live_a_day(self) -> None:
        if self.day >= self._due:
            self._water.fill()
            self._changes.append(WaterChange(at=self.now, temperature_c=self._keeper.usual_c))
            self._due = self.day + self._keeper.interval_days
        if isinstance(self.bone, LateBone):
            self.bone.is_open = self.day >= self.bone.opens_days
        for _ in range(round(1 / STEP_DAYS)):
            self._water.step()
        if self._generator.random() < self._keeper.reads:
            haze = self._water.haze_per_m
            self._readings.append(read_haze(self._generator, self._keeper, self.day - 0.02, haze))
        if round(self.day) % LOOK_EVERY_DAYS == 0:
            self._looks.append(self._look())

    def _look(self) -> BoneLook:
        bone, chance = self.bone, self._generator.standard_normal(2)
        shown = bone.left
        if self._kind is Quiet.HIDDEN and isinstance(bone, LateBone):
            shown = bone.outside_left / bone.outside
        return BoneLook(
            at=self.now - timedelta(hours=1),
            yi_e313=float(CLEAN_YI + GREASY_YI * shown + YI_STD * chance[0]),
            yi_std=YI_STD,
            yellow_patch_share=float(np.clip(0.01 + SHARE_STD * chance[1], 0.0, 1.0)),
            state=BoneState.BLOTTED,
        )


def _late(generator: np.random.Generator, bone: Bone) -> LateBone:
    """Return the bone with a fifth or so of its grease outside, the rest in closed marrow."""
    days = float(generator.uniform(12, 25))
    outside = float(generator.uniform(0.15, 0.3))
    return LateBone(
        store=replace(bone.store, rates_per_day=np.array([np.log(10) / days])),
        grease_per_m=bone.grease_per_m,
        amplitudes=bone.amplitudes,
        outside=outside,
        outside_left=outside,
        marrow=1 - outside,
        opens_days=float(generator.uniform(OPENS_FROM_DAYS, OPENS_TO_DAYS)),
    )
