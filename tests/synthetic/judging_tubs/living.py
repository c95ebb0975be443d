"""A judging tub that lives step by step: its bones, its water, and who keeps it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tests.synthetic.judging_tubs.stores import Store, draw_store
from tests.synthetic.tubs.log import QUARTILE, usual_days

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tests.synthetic.judging_tubs.kinds import Odds

    FloatArray = NDArray[np.float64]

SPECIES = ("wolf", "roe deer", "goat", "moose", "badger", "wild boar", "bobcat", "cattle", "seal")
KEEPERS_LOG_STD, SPECIES_LOG_STD = 0.3, 0.2
STEP_DAYS = 0.25
TISSUE_DAYS = 6.0
SOAP_DAYS = 2.5
ROOM_C = 18.0


@dataclass(slots=True, kw_only=True)
class Bone:
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
class Keeper:
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


def draw_keeper(generator: np.random.Generator, odds: Odds) -> Keeper:
    """Draw who keeps and reads a tub."""
    off = float(generator.uniform(5, 50)) if odds.heater_off else np.inf
    return Keeper(
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


def draw_bone(generator: np.random.Generator, odds: Odds, species: str, habit: float) -> Bone:
    """Draw a skull of a species, for a keeper of some habit."""
    low, high = usual_days(species)
    spread = np.hypot(max(float(np.log(high / low)) / 2 / QUARTILE, 0.2), SPECIES_LOG_STD)
    days = np.sqrt(low * high) * np.exp(spread * generator.standard_normal())
    law = odds.laws[int(generator.integers(len(odds.laws)))]
    store = draw_store(generator, law, float(days) * habit * odds.pace)
    return Bone(
        store=store,
        grease_per_m=float(300 * np.exp(0.7 * generator.standard_normal())),
        amplitudes=store.amplitudes,
    )


class LivingTub:
    """A tub, changed in place step by step."""

    def __init__(
        self, generator: np.random.Generator, odds: Odds, keeper: Keeper, bones: list[Bone]
    ) -> None:
        self._generator, self._odds, self._keeper, self._bones = generator, odds, keeper, bones
        self._all_grease = sum(bone.grease_per_m for bone in bones)
        self._fresh, self._grease, self._tissue = keeper.fresh_per_m, 0.0, 0.0
        self.day = self.age_days = 0.0

    @property
    def haze_per_m(self) -> float:
        """Return the haze of its bath [1/m]."""
        return self._fresh + self._grease + self._tissue

    @property
    def left(self) -> list[float]:
        """Return the share of its grease that each skull still holds."""
        return [bone.left for bone in self._bones]

    def fill(self) -> None:
        """Change the water."""
        carry = self._keeper.carry
        self._grease, self._tissue, self.age_days = carry * self._grease, carry * self._tissue, 0.0
        dose = float(np.exp(0.15 * self._generator.standard_normal()))
        self._fresh = self._keeper.fresh_per_m * dose

    def exchange(self, bone: Bone) -> None:
        """Take all skulls out and put another one in."""
        self._bones, self._all_grease = [bone], bone.grease_per_m

    def step(self) -> None:
        """Let `STEP_DAYS` pass."""
        odds = self._odds
        soap = 1 - odds.spent_share * (1 - np.exp(-self.age_days / SOAP_DAYS))
        days = self._pace() * float(soap) * STEP_DAYS
        share = self._grease / (self._keeper.partition * self._all_grease)
        self._grease += sum(bone.give(days, share) for bone in self._bones)
        early = float(np.exp(-self.day / TISSUE_DAYS))
        self._tissue += odds.tissue_per_m / TISSUE_DAYS * early * STEP_DAYS
        self.age_days += STEP_DAYS
        self.day += STEP_DAYS

    def _pace(self) -> float:
        keeper = self._keeper
        is_off = keeper.off_from <= self.day < keeper.off_from + keeper.off_days
        night = -1.5 if self.day % 1 < 0.5 else 1.5
        warm_c = (ROOM_C if is_off else keeper.usual_c + night) + self._generator.standard_normal()
        return float(keeper.q10 ** ((warm_c - 40) / 10))
