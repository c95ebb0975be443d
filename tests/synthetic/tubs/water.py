"""A tub stepped through time: grease from its bones, its soap, what grows and what dries away."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tests.synthetic.tubs.bones import Bone

    FloatArray = NDArray[np.float64]

STEP_DAYS = 0.125
STEPS_PER_DAY = 8
GAS_CONSTANT, REFERENCE_K = 8.314462618, 313.15
DOSE_POWER = 0.3  # twice the soap washes 1.2 times as fast
BLOOM_START_PER_M, BLOOM_TOP_PER_M = 0.05, 40.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Skull:
    """A bone in the tub.

    Attributes
    ----------
    bone : Bone
        Its law.
    grease_per_m : float
        All its grease as haze of the full tub [1/m].
    begin, end : int
        Steps in which it is in the tub.
    left_before : ndarray, shape (cells,)
        Share of each cell's grease left on entry.
    soaked_before : float
        Days of the reference bath behind it on entry.
    """

    bone: Bone
    grease_per_m: float
    begin: int
    end: int
    left_before: FloatArray
    soaked_before: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """What happens to the water, step by step.

    Attributes
    ----------
    kept : ndarray, shape (steps,)
        Share of the bath that stays at the start of a step; 1 where nothing is changed.
    dose : ndarray, shape (steps,)
        Soap in the bath over the usual.
    pace : ndarray, shape (steps,)
        Leaching over that at 40 degrees C.
    lost_per_day : float
        Share of the full tub that dries away a day.
    topped_up : ndarray of bool, shape (steps,)
        Where it is filled up with water.
    bloom_per_day : float
        Growth rate of what lives in the water; 0 for none.
    partition : float
        Haze of the bath over grease in the bone at equilibrium.
    """

    kept: FloatArray
    dose: FloatArray
    pace: FloatArray
    lost_per_day: float
    topped_up: NDArray[np.bool_]
    bloom_per_day: float
    partition: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """What happened.

    Attributes
    ----------
    grease_per_m, bloom_per_m : ndarray, shape (steps,)
        Haze at the end of each step, as if the tub were full [1/m].
    fill : ndarray, shape (steps,)
        Volume over that of the full tub.
    left : ndarray, shape (steps, skulls)
        Share of each skull's grease still in it.
    """

    grease_per_m: FloatArray
    bloom_per_m: FloatArray
    fill: FloatArray
    left: FloatArray


def pace_at(temperature_c: FloatArray | float, activation_kj_per_mol: float) -> FloatArray:
    """Return leaching over that at 40 degrees C (Arrhenius)."""
    slowness = 1 / REFERENCE_K - 1 / (np.asarray(temperature_c) + 273.15)
    pace: FloatArray = np.exp(1000 * activation_kj_per_mol / GAS_CONSTANT * slowness)
    return pace


class _Draining:
    """One skull's grease, changed in place step by step."""

    def __init__(self, skull: Skull, partition: float) -> None:
        self.skull = skull
        self.amount = skull.grease_per_m * skull.bone.shares * skull.left_before
        self.room = skull.grease_per_m * skull.bone.shares
        self.total_rooms = partition
        self.soaked = skull.soaked_before

    def give(self, pace: float, bath_share: float) -> float:
        """Drain for one step into a bath that holds so much over all grease; return the flow."""
        bone, step = self.skull.bone, pace * STEP_DAYS
        until = self.soaked + step
        power = bone.power
        rise = (
            np.maximum(until - bone.delays_days, 0.0) ** power
            - np.maximum(self.soaked - bone.delays_days, 0.0) ** power
        ) / power
        self.soaked = until
        held = self.room * bath_share
        if bone.order == 1.0:
            kept = np.exp(-bone.rates_per_day * rise)
            later = held + (self.amount - held) * kept
        else:
            drive = np.maximum(self.amount / self.room, 0.0) ** bone.order
            later = np.maximum(self.amount - bone.rates_per_day * rise * self.room * drive, 0.0)
            later = np.maximum(later, np.minimum(self.amount, held))
        flow = float((self.amount - later).sum())
        self.amount = later
        return flow

    def left(self) -> float:
        return float(self.amount.sum() / self.skull.grease_per_m)


def run_tub(skulls: list[Skull], water: Water, *, until_left: float) -> Course:
    """Step a tub until every skull is below a share of its grease, or the water's steps end."""
    drains = [_Draining(skull, water.partition) for skull in skulls]
    all_grease = sum(skull.grease_per_m for skull in skulls)
    steps = len(water.kept)
    grease, bloom, fill = np.zeros(steps), np.zeros(steps), np.ones(steps)
    left = np.ones((steps, len(skulls)))
    bath, grown, level, since = 0.0, BLOOM_START_PER_M, 1.0, 0
    for step in range(steps):
        if water.kept[step] < 1:
            bath, grown = bath * water.kept[step], max(grown * water.kept[step], BLOOM_START_PER_M)
            level = 1.0
        if water.topped_up[step]:
            level = 1.0
        share = bath / (water.partition * all_grease)
        pace = water.pace[step] * water.dose[step] ** DOSE_POWER
        for drain in drains:
            if drain.skull.begin <= step < drain.skull.end:
                bath += drain.give(pace, share)
        growth = water.bloom_per_day * STEP_DAYS * (1 - grown / BLOOM_TOP_PER_M)
        grown *= float(np.exp(growth)) if water.bloom_per_day else 1.0
        level -= water.lost_per_day * STEP_DAYS
        grease[step], fill[step] = bath, max(level, 0.4)
        bloom[step] = grown if water.bloom_per_day else 0.0
        left[step] = [drain.left() for drain in drains]
        since = since + 1 if left[step].max() < until_left else 0
        if since and step > 95 * STEPS_PER_DAY:
            break
    stop = step + 1
    return Course(
        grease_per_m=grease[:stop], bloom_per_m=bloom[:stop], fill=fill[:stop], left=left[:stop]
    )
