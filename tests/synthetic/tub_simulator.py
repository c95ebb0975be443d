"""Invented tubs with known truth, by code that shares nothing with the fitted model.

The leaching is that of `sample_images.leaching`; only the calibration tables, which are data, are
shared with the package.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import Bound, Recipe, Verdict
from greasecheck.predict.records import (
    HazeReading,
    SoakingSkull,
    TemperatureRecord,
    TubHistory,
    WaterChange,
)
from greasecheck.predict.tables import recipe_prior, species_range
from sample_images.leaching import (
    SHEET,
    SPHERE,
    THRESHOLD_PER_M,
    Bone,
    clearing_diffusion,
    clearing_pools,
    hourly_states,
    pace_at,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]

START = datetime(2026, 1, 5, 8, tzinfo=UTC)
SPECIES = ("deer", "fox", "elk", "bear", "raccoon", "sheep", "unknown")
TOP_PER_M, BOTTOM_PER_M = 70.0, 0.3
LEAST_HOURS = 24 * 90
DONE_SHARE = 0.1
TABLE_LOG_STD = 0.43  # of a skull's time about the table's middle
# median and natural-log spread (of the odds for shares) that invented tubs are drawn with
DRAWN = {
    "first_gain_per_m": (35.0, 0.7),
    "partition": (1.0, 1.0),
    "carry_over_share": (0.05, 0.9),
    "activation_kj_per_mol": (45.0, 0.25),
    "scatter_share": (0.06, 0.5),
    "slow_gain_share": (0.5, 1.0),
    "fast_over_slow_less_one": (5.0, 0.7),
    "middle_gain_share": (0.5, 1.0),
    "middle_over_slow_less_one": (1.5, 0.7),
}


class Truth(StrEnum):
    """How the grease of an invented tub really leaches."""

    PRIOR = "drawn from the prior"
    ONE_POOL = "one pool"
    TWO_POOLS = "two pools"
    THREE_POOLS = "three pools"
    SHEET = "sheet"
    SPHERE = "sphere"
    SLOWER_TABLE = "table wrong: really 1.5 times slower"
    QUICKER_TABLE = "table wrong: really 1.5 times quicker"


@dataclass(frozen=True, slots=True, kw_only=True)
class Habits:
    """How the tub is kept and read."""

    reading_probability: float = 0.75
    outlier_probability: float = 0.03
    missed_log_probability: float = 0.02
    heater_failure_probability: float = 0.2
    fresh_log_std: float = 0.1
    most_days: int = 1200


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedTub:
    """An invented tub.

    Attributes
    ----------
    history : TubHistory
        All that was ever logged, to the end; a forecast sees only what lies before its 'now'.
    clear_days : float
        Days from `START` until less than a tenth of the grease is really left; infinite if never.
    species : str
        Of its one skull.
    unlogged_days : tuple of float
        Changes nobody logged.
    """

    history: TubHistory
    clear_days: float
    species: str
    unlogged_days: tuple[float, ...]


def simulate_tub(
    generator: np.random.Generator,
    truth: Truth = Truth.PRIOR,
    habits: Habits | None = None,
) -> SimulatedTub:
    """Invent a tub."""
    habits = habits or Habits()
    species = str(generator.choice(SPECIES))
    bone = draw_bone(generator, truth, species)
    interval_hours = int(generator.choice([48, 72, 72, 96, 120, 168]))
    hours = 24 * habits.most_days
    changes = _change_hours(generator, interval_hours, hours)
    temperature_c = _temperatures(generator, hours, habits)
    return _run(generator, bone, species, changes, temperature_c, habits)


def draw_bone(generator: np.random.Generator, truth: Truth, species: str) -> Bone:
    """Draw a bone whose time and first gain scatter about the table."""
    row = species_range(species)
    middle = np.log(row.low_days * row.high_days) / 2
    while True:
        days = float(np.exp(generator.normal(middle, TABLE_LOG_STD)))
        days *= {Truth.SLOWER_TABLE: 1.5, Truth.QUICKER_TABLE: 1 / 1.5}.get(truth, 1.0)
        gain = THRESHOLD_PER_M + _log_normal(generator, "first_gain_per_m")
        partition = _log_normal(generator, "partition")
        kind = _kind(generator, truth)
        if kind in (Truth.SHEET, Truth.SPHERE):
            dimensions = SHEET if kind is Truth.SHEET else SPHERE
            bone = clearing_diffusion(dimensions, days, gain, partition)
            if bone is not None:
                return bone
        else:
            return clearing_pools(*_pools(generator, kind), days, gain, partition)


def _kind(generator: np.random.Generator, truth: Truth) -> Truth:
    if truth in (Truth.PRIOR, Truth.SLOWER_TABLE, Truth.QUICKER_TABLE):
        kinds = [Truth.ONE_POOL, Truth.TWO_POOLS, Truth.SHEET, Truth.SPHERE]
        return kinds[generator.choice(4, p=[0.1, 0.5, 0.2, 0.2])]
    return truth


def _log_normal(generator: np.random.Generator, name: str) -> float:
    median, log_std = DRAWN[name]
    return float(median * np.exp(log_std * generator.standard_normal()))


def _logit_normal(generator: np.random.Generator, name: str) -> float:
    median, log_std = DRAWN[name]
    odds = median / (1 - median) * np.exp(log_std * generator.standard_normal())
    return float(odds / (1 + odds))


def _pools(generator: np.random.Generator, kind: Truth) -> tuple[FloatArray, FloatArray]:
    """Return the pools' shares of the first gain, and their rates over the slowest one's."""
    slow = 1.0 if kind is Truth.ONE_POOL else _logit_normal(generator, "slow_gain_share")
    fast_ratio = 1 + _log_normal(generator, "fast_over_slow_less_one")
    if kind is Truth.THREE_POOLS:
        middle = (1 - slow) * _logit_normal(generator, "middle_gain_share")
        middle_ratio = 1 + _log_normal(generator, "middle_over_slow_less_one")
        parts = np.array([slow, middle, 1 - slow - middle])
        return parts, np.array([1.0, middle_ratio, middle_ratio * fast_ratio])
    return np.array([slow, 1 - slow]), np.array([1.0, fast_ratio])


def _change_hours(generator: np.random.Generator, interval: int, hours: int) -> list[int]:
    at, found = 0, []
    while at < hours:
        found.append(at)
        at += max(24, interval + 24 * int(generator.choice([0, 0, 0, 0, 1, -1])))
    return found


def _temperatures(generator: np.random.Generator, hours: int, habits: Habits) -> FloatArray:
    """Return the bath's temperature for each hour: steady, with a heater that may fail once."""
    temperature = np.full(hours, float(generator.choice([35.0, 40.0, 45.0])))
    if generator.random() < habits.heater_failure_probability:
        start = int(generator.integers(24 * 5, 24 * 60))
        temperature[start : start + 24 * int(generator.integers(2, 6))] = 18.0
    return temperature


def _run(
    generator: np.random.Generator,
    bone: Bone,
    species: str,
    changes: list[int],
    temperature_c: FloatArray,
    habits: Habits,
) -> SimulatedTub:
    carry = _logit_normal(generator, "carry_over_share")
    energy = _log_normal(generator, "activation_kj_per_mol")
    pace_of = {float(t): pace_at(float(t), energy) for t in np.unique(temperature_c)}
    paces = np.array([pace_of[float(t)] for t in temperature_c])
    haze, clear_hour = _march(bone, changes, paces, carry)
    seen = haze[: min(len(haze), 24 * 400)]
    return _log(generator, seen, clear_hour / 24, species, changes, temperature_c, habits)


def _march(
    bone: Bone, changes: list[int], paces: FloatArray, carry: float
) -> tuple[FloatArray, float]:
    """Step hour by hour; return the grease haze before each hour and when it was degreased."""
    done = DONE_SHARE * bone.start_per_m.sum()
    haze, clear_hour = [], np.inf
    for hour, state in enumerate(hourly_states(bone, frozenset(changes), paces, carry)):
        haze.append(state[-1])
        if clear_hour == np.inf and state[:-1].sum() < done:
            clear_hour = float(hour)
        if hour > max(clear_hour, LEAST_HOURS):
            break
    return np.array(haze), clear_hour


def _log(  # noqa: PLR0913, PLR0917 - the tub's whole story
    generator: np.random.Generator,
    haze: FloatArray,
    clear_days: float,
    species: str,
    changes: list[int],
    temperature_c: FloatArray,
    habits: Habits,
) -> SimulatedTub:
    missed = [h for h in changes[1:] if generator.random() < habits.missed_log_probability]
    logged = [h for h in changes if h not in missed and h < len(haze)]
    return SimulatedTub(
        history=TubHistory(
            skulls=(SoakingSkull(name="skull", species=species, since=START),),
            changes=tuple(
                WaterChange(at=_at(h), temperature_c=float(temperature_c[h])) for h in logged
            ),
            readings=_readings(generator, haze, changes, habits),
            temperatures=_thermometer(temperature_c[: len(haze)]),
        ),
        clear_days=clear_days,
        species=species,
        unlogged_days=tuple(h / 24 for h in missed),
    )


def _at(hours: float) -> datetime:
    return START + timedelta(hours=hours)


def _thermometer(temperature_c: FloatArray) -> tuple[TemperatureRecord, ...]:
    """Log the temperature whenever it jumps."""
    jumps = np.flatnonzero(np.diff(temperature_c)) + 1
    return tuple(
        TemperatureRecord(at=_at(int(h)), temperature_c=float(temperature_c[h])) for h in jumps
    )


def _readings(
    generator: np.random.Generator, haze: FloatArray, changes: list[int], habits: Habits
) -> tuple[HazeReading, ...]:
    prior = recipe_prior(Recipe.SOAP)
    fresh = prior.fresh_per_m * np.exp(prior.fresh_log_std * generator.standard_normal())
    bath = np.searchsorted(changes, np.arange(len(haze)), side="left")
    each_fresh = fresh * np.exp(habits.fresh_log_std * generator.standard_normal(len(changes) + 1))
    scatter = _log_normal(generator, "scatter_share")
    hours = [24 * d + int(generator.integers(8, 14)) for d in range(len(haze) // 24)]
    return tuple(
        _reading(generator, h, each_fresh[bath[h]] + haze[h], scatter, habits)
        for h in hours
        if h < len(haze) and generator.random() < habits.reading_probability
    )


def _reading(
    generator: np.random.Generator, hour: int, true_per_m: float, scatter: float, habits: Habits
) -> HazeReading:
    std = 0.2 + 0.01 * true_per_m
    outlier = generator.random() < habits.outlier_probability
    value = true_per_m * (1 + scatter * generator.standard_normal())
    value = (value + std * generator.standard_normal()) * (
        float(generator.choice([0.4, 2.0])) if outlier else 1.0
    )
    bound = Bound.ABOVE if value > TOP_PER_M else Bound.BELOW if value < BOTTOM_PER_M else None
    return HazeReading(
        at=_at(hour),
        attenuation_per_m=float(np.clip(value, BOTTOM_PER_M, TOP_PER_M)),
        std_per_m=std,
        bound=bound,
        verdict=Verdict.DOUBTFUL if outlier and generator.random() < 0.5 else Verdict.GOOD,
    )
