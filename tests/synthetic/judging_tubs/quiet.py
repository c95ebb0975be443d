"""Judging tubs whose water falls quiet while grease is left: late marrow, failed heaters."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import BoneState
from greasecheck.predict.advice.bone_trend import BoneLook
from greasecheck.predict.advice.done import SkullBone
from greasecheck.predict.records import SoakingSkull, TubHistory
from tests.synthetic.judging_tubs.kinds import Odds
from tests.synthetic.judging_tubs.living import (
    KEEPERS_LOG_STD,
    SPECIES,
    Bone,
    LivingTub,
    draw_bone,
    draw_keeper,
)
from tests.synthetic.judging_tubs.log import _done, _logged, _readings, _run
from tests.synthetic.tubs.log import START, InventedTub

if TYPE_CHECKING:
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]

QUICK_SPECIES = ("mink", "cat", "fox", "coyote")
MARROW_FROM_DAYS, MARROW_TO_DAYS = 45.0, 60.0
COLD_FROM_DAYS, COLD_TO_DAYS = 20.0, 80.0
CLEAN_YI, GREASY_YI, YI_STD, SHARE_STD = 18.0, 25.0, 0.8, 0.01
LOOK_EVERY_DAYS = 3


class Quiet(StrEnum):
    """Why the water falls quiet."""

    SOUND = "sound"
    LATE_MARROW = "marrow opens on day 45 to 60"
    HIDDEN_MARROW = "so, and the bone's surface shows none of it"
    COLD = "heater fails for good, on day 20 to 80"


@dataclass(slots=True, kw_only=True)
class LateBone(Bone):
    """A skull whose marrow gives nothing before a day; the rest leaves as usual."""

    outside: float
    opens_days: float
    marrow_left: float = 1.0

    def give(self, days: float, bath_share: float) -> float:
        """Drain surface and, once it is open, marrow; return the haze given off [1/m]."""
        before = self.left
        rate = float(self.store.rates_per_day[0])
        surface = max(before - (1 - self.outside) * self.marrow_left, 0.0)
        surface = bath_share * self.outside + (surface - bath_share * self.outside) * np.exp(
            -rate * days
        )
        if self.soaked_days >= self.opens_days:
            self.marrow_left = bath_share + (self.marrow_left - bath_share) * float(
                np.exp(-rate * days)
            )
        self.soaked_days += days
        self.left = float(surface + (1 - self.outside) * self.marrow_left)
        return (before - self.left) * self.grease_per_m


@dataclass(frozen=True, slots=True, kw_only=True)
class QuietTub:
    """A tub, its bone's readings, and since when its water was cold (infinite: never)."""

    tub: InventedTub
    bone: SkullBone
    cold_from_days: float


def invent_quiet_tub(seed: int, kind: Quiet) -> QuietTub:
    """Invent a tub of a kind, with a skull whose bone is photographed every three days."""
    generator = np.random.default_rng([seed, 78, list(Quiet).index(kind)])
    late = kind in {Quiet.LATE_MARROW, Quiet.HIDDEN_MARROW}
    odds = Odds(heater_off=kind is Quiet.COLD)
    species = str(generator.choice(QUICK_SPECIES + SPECIES if late else SPECIES))
    habit = float(np.exp(KEEPERS_LOG_STD * generator.standard_normal()))
    bone = draw_bone(generator, odds, species, habit)
    if late:
        bone = _late(generator, bone)
    cold = float(generator.uniform(COLD_FROM_DAYS, COLD_TO_DAYS))
    keeper = replace(draw_keeper(generator, odds), off_from=np.inf)
    if kind is Quiet.COLD:
        keeper = replace(keeper, off_from=cold, off_days=np.inf)
    story = _run(generator, odds, LivingTub(generator, odds, keeper, [bone]), keeper)
    changes, missed = _logged(generator, odds, keeper, story.fillings)
    tub = InventedTub(
        history=TubHistory(
            skulls=(SoakingSkull(name="skull", species=species, since=START),),
            changes=changes,
            readings=_readings(generator, odds, keeper, story),
        ),
        degreased_days=(_done(story.left[:, 0]),),
        left=story.left[3::4],
        unlogged_days=missed,
    )
    shown = tub.left[:, 0]
    if kind is Quiet.HIDDEN_MARROW and isinstance(bone, LateBone):
        shown = np.exp(-bone.store.rates_per_day[0] * np.arange(len(shown)))
    return QuietTub(
        tub=tub,
        bone=SkullBone(name="skull", looks=_looks(generator, shown)),
        cold_from_days=cold if kind is Quiet.COLD else np.inf,
    )


def _late(generator: np.random.Generator, bone: Bone) -> LateBone:
    """Return the bone with a fifth of its grease outside, and the rest behind a closed wall."""
    days = float(generator.uniform(15, 30))
    store = replace(bone.store, rates_per_day=np.array([np.log(10) / days]))
    return LateBone(
        store=store,
        grease_per_m=bone.grease_per_m,
        amplitudes=bone.amplitudes,
        outside=float(generator.uniform(0.15, 0.3)),
        opens_days=float(generator.uniform(MARROW_FROM_DAYS, MARROW_TO_DAYS)),
    )


def _looks(generator: np.random.Generator, left: FloatArray) -> tuple[BoneLook, ...]:
    return tuple(
        BoneLook(
            at=START + timedelta(days=day + 0.5),
            yi_e313=float(CLEAN_YI + GREASY_YI * left[day] + YI_STD * generator.standard_normal()),
            yi_std=YI_STD,
            yellow_patch_share=float(
                np.clip(SHARE_STD * generator.standard_normal() + 0.01, 0.0, 1.0)
            ),
            state=BoneState.BLOTTED,
        )
        for day in range(0, len(left), LOOK_EVERY_DAYS)
    )
