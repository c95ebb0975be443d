"""An invented season: tubs with bones whose grease, haze and yellow patches are known.

The water is that of `tub_simulator`. The bone's yellowness follows the grease left in it; in every
third skull a pocket of grease too small to be seen in the water keeps a yellow patch for longer.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import BoneState
from greasecheck.predict.advice.bone_trend import BoneLook
from greasecheck.predict.advice.done import SkullBone
from greasecheck.predict.records import SoakingSkull, TubHistory, WaterChange
from sample_images.leaching import Bone, hourly_states, pace_at
from tests.synthetic import tub_simulator as simulator
from tests.synthetic.tub_simulator import START, Habits, Truth

if TYPE_CHECKING:
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]

SPECIES = ("fox", "deer", "roe deer", "sheep", "raccoon", "coyote")
USUAL_C, COLD_C = 40.0, 20.0
HOURS = 24 * 320
LATEST_CLEAR_DAYS, SOONEST_CLEAR_DAYS = 230.0, 15.0
CLEAN_YI, GREASY_YI = 18.0, 25.0
YI_STD, SHARE_STD = 0.8, 0.01
PATCH_DONE_SHARE, SETTLED_FALL_PER_WEEK = 0.05, 1.0
LOOK_EVERY_DAYS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonTub:
    """One tub with one skull, and the truth.

    Attributes
    ----------
    history : TubHistory
        All readings and changes to the end of the season.
    bone : SkullBone
        All bone readings.
    species : str
        Of the skull.
    clear_days : float
        Day on which less than a tenth of the grease is really left.
    patch_share, yi_e313 : ndarray, shape (days,)
        True share of the bone in yellow patches, and its true yellowness, day by day.
    heater_failed : bool
        Whether the heater was off for some days and nobody wrote it down.
    """

    history: TubHistory
    bone: SkullBone
    species: str
    clear_days: float
    patch_share: FloatArray
    yi_e313: FloatArray
    heater_failed: bool

    @property
    def done_days(self) -> float:
        """Return the first day with little grease, no yellow patches and a settled bone."""
        fall_per_week = self.yi_e313[:-7] - self.yi_e313[7:]
        unfinished = (self.patch_share[7:] > PATCH_DONE_SHARE) | (
            fall_per_week > SETTLED_FALL_PER_WEEK
        )
        last = np.flatnonzero(unfinished)
        return max(self.clear_days, float(last[-1] + 8) if len(last) else 0.0)


def invent_season(seed: int, tubs: int = 12) -> tuple[SeasonTub, ...]:
    """Invent the tubs of a season."""
    generator = np.random.default_rng(seed)
    return tuple(_invent_tub(generator, number) for number in range(tubs))


def _invent_tub(generator: np.random.Generator, number: int) -> SeasonTub:
    species = SPECIES[number % len(SPECIES)]
    failed = number % 6 == 5
    while True:
        bone = simulator.draw_bone(generator, Truth.PRIOR, species)
        changes = simulator._change_hours(generator, int(generator.choice([72, 96, 120])), HOURS)
        carry = simulator._logit_normal(generator, "carry_over_share")
        temperature_c = np.full(HOURS, USUAL_C)
        if failed:
            begin = 24 * int(generator.integers(10, 30))
            temperature_c[begin : begin + 24 * 6] = COLD_C
        haze, clear_hour = _haze(generator, bone, changes, temperature_c, carry)
        if SOONEST_CLEAR_DAYS * 24 < clear_hour < LATEST_CLEAR_DAYS * 24:
            break
    left = _grease_left(bone, haze, changes, carry)
    pocket = number % 3 == 1
    share = _patches(generator, left, clear_hour / 24, pocket=pocket)
    yellowness = CLEAN_YI + GREASY_YI * (left + share)
    return SeasonTub(
        history=_logged(generator, haze, changes, species),
        bone=SkullBone(name="skull", looks=_looks(generator, yellowness, share)),
        species=species,
        clear_days=clear_hour / 24,
        patch_share=share,
        yi_e313=yellowness,
        heater_failed=failed,
    )


def _haze(
    generator: np.random.Generator,
    bone: Bone,
    changes: list[int],
    temperature_c: FloatArray,
    carry: float,
) -> tuple[FloatArray, float]:
    """Return the grease haze of each hour [1/m], and the hour it was degreased."""
    energy = simulator._log_normal(generator, "activation_kj_per_mol")
    paces = np.where(temperature_c == USUAL_C, pace_at(USUAL_C, energy), pace_at(COLD_C, energy))
    done = simulator.DONE_SHARE * bone.start_per_m.sum()
    haze, clear_hour = np.empty(HOURS), np.inf
    for hour, state in enumerate(hourly_states(bone, frozenset(changes), paces, carry)):
        haze[hour] = state[-1]
        if clear_hour == np.inf and state[:-1].sum() < done:
            clear_hour = float(hour)
    return haze, clear_hour


def _grease_left(bone: Bone, haze: FloatArray, changes: list[int], carry: float) -> FloatArray:
    """Return the share of the grease still in the bone, day by day."""
    dumped = np.zeros(HOURS)
    dumped[changes] = (1 - carry) * haze[changes]
    total = bone.start_per_m.sum()
    left: FloatArray = 1 - (haze + np.cumsum(dumped) - dumped) / total
    return left[::24]


def _patches(
    generator: np.random.Generator, left: FloatArray, clear_days: float, *, pocket: bool
) -> FloatArray:
    """Return the true share of area in yellow patches, day by day."""
    days = np.arange(len(left))
    if not pocket:
        return 0.3 * left**2
    last_day = clear_days * generator.uniform(1.1, 1.5)
    start = generator.uniform(0.15, 0.3)
    slowly: FloatArray = start * (PATCH_DONE_SHARE / start) ** (days / last_day)
    return slowly


def _looks(
    generator: np.random.Generator, yi_e313: FloatArray, share: FloatArray
) -> tuple[BoneLook, ...]:
    days = range(1, len(share), LOOK_EVERY_DAYS)
    return tuple(
        BoneLook(
            at=START + timedelta(days=day, hours=2),
            yi_e313=float(yi_e313[day] + YI_STD * generator.standard_normal()),
            yellow_patch_share=float(
                np.clip(share[day] + SHARE_STD * generator.standard_normal(), 0, 1)
            ),
            state=BoneState.BLOTTED,
        )
        for day in days
    )


def _logged(
    generator: np.random.Generator, haze: FloatArray, changes: list[int], species: str
) -> TubHistory:
    return TubHistory(
        skulls=(SoakingSkull(name="skull", species=species, since=START),),
        changes=tuple(
            WaterChange(at=START + timedelta(hours=hour), temperature_c=USUAL_C) for hour in changes
        ),
        readings=simulator._readings(generator, haze, changes, Habits()),
    )


def known_at(tub: SeasonTub, day: float) -> TubHistory:
    """Return what had been logged by a day; nobody has entered what lies ahead."""
    now = START + timedelta(days=day)
    return replace(
        tub.history,
        changes=tuple(change for change in tub.history.changes if change.at <= now),
        readings=tuple(reading for reading in tub.history.readings if reading.at <= now),
    )
