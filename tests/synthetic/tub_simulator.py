"""Invented tubs with known truth, by code that shares nothing with the fitted model.

The leaching is stepped hour by hour with matrix exponentials (Pade) of the plain, unsymmetrised
rate matrix; diffusion is stepped on shells of a real sphere or sheet (finite volumes), not by its
series. Only the calibration tables, which are data, are shared with the package.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from scipy.linalg import expm
from scipy.optimize import brentq

from greasecheck.model import Bound, Recipe, Verdict
from greasecheck.predict.clear_prior import skull_time
from greasecheck.predict.records import (
    HazeReading,
    SoakingSkull,
    TemperatureRecord,
    TubHistory,
    WaterChange,
)
from greasecheck.predict.tables import recipe_prior, spread

if TYPE_CHECKING:
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]

START = datetime(2026, 1, 5, 8, tzinfo=UTC)
SPECIES = ("deer", "fox", "elk", "bear", "raccoon", "sheep", "unknown")
GAS_CONSTANT = 8.314462618
TOP_PER_M, BOTTOM_PER_M = 70.0, 0.3
SOAK_HOURS = 72
THRESHOLD_PER_M = 3.0
SERIES_TERMS = 400
CELLS = 60
SLOWEST_DIFFUSION_PER_DAY = 1e-3
LEAST_HOURS = 24 * 90


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
        Days from `START` until a fresh soak really gains less than 3 per metre; infinite if never.
    species : str
        Of its one skull.
    unlogged_days : tuple of float
        Changes nobody logged.
    """

    history: TubHistory
    clear_days: float
    species: str
    unlogged_days: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bone:
    """A linear leaching system: grease leaves cells, the last state is the bath.

    Attributes
    ----------
    matrix_per_day : ndarray, shape (n + 1, n + 1)
        Rate matrix at reference pace [1/day].
    start_per_m : ndarray, shape (n + 1,)
        Amounts at the start [1/m].
    """

    matrix_per_day: FloatArray
    start_per_m: FloatArray


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
    """Draw a bone whose clear time and first gain follow the prior."""
    clear = skull_time(species)
    while True:
        days = float(np.exp(generator.normal(clear.log_mean, clear.log_std)))
        days *= {Truth.SLOWER_TABLE: 1.5, Truth.QUICKER_TABLE: 1 / 1.5}.get(truth, 1.0)
        gain = THRESHOLD_PER_M + _log_normal(generator, "first_gain_per_m")
        partition = _log_normal(generator, "partition")
        kind = _kind(generator, truth)
        if kind in (Truth.SHEET, Truth.SPHERE):
            rate = _diffusion_rate(kind, days, gain)
            if rate is not None:
                return _diffusing_bone(kind, rate, gain, partition)
        else:
            return _pool_bone(generator, kind, (days, gain), partition)


def _kind(generator: np.random.Generator, truth: Truth) -> Truth:
    if truth in (Truth.PRIOR, Truth.SLOWER_TABLE, Truth.QUICKER_TABLE):
        kinds = [Truth.ONE_POOL, Truth.TWO_POOLS, Truth.SHEET, Truth.SPHERE]
        return kinds[generator.choice(4, p=[0.1, 0.5, 0.2, 0.2])]
    return truth


def _log_normal(generator: np.random.Generator, name: str) -> float:
    prior = spread(name)
    return float(prior.median * np.exp(prior.log_std * generator.standard_normal()))


def _logit_normal(generator: np.random.Generator, name: str) -> float:
    prior = spread(name)
    odds = prior.median / (1 - prior.median) * np.exp(prior.log_std * generator.standard_normal())
    return float(odds / (1 + odds))


def _pool_bone(
    generator: np.random.Generator, kind: Truth, clear: tuple[float, float], partition: float
) -> Bone:
    days, gain = clear
    slow = 1.0 if kind is Truth.ONE_POOL else _logit_normal(generator, "slow_gain_share")
    fast_ratio = 1 + _log_normal(generator, "fast_over_slow_less_one")
    if kind is Truth.THREE_POOLS:
        middle = (1 - slow) * _logit_normal(generator, "middle_gain_share")
        middle_ratio = 1 + _log_normal(generator, "middle_over_slow_less_one")
        parts = np.array([slow, middle, 1 - slow - middle])
        ratios = np.array([1.0, middle_ratio, middle_ratio * fast_ratio])
    else:
        parts, ratios = np.array([slow, 1 - slow]), np.array([1.0, fast_ratio])

    def excess(rate: float) -> float:
        return float(gain * parts @ np.exp(-ratios * rate * days) - THRESHOLD_PER_M)

    rates = ratios * brentq(excess, 1e-9, 10.0, xtol=1e-14)
    grease = gain * parts / (1 - np.exp(-rates * 3.0))
    return pool_system(rates, grease, partition)


def pool_system(rates: FloatArray, grease: FloatArray, partition: float) -> Bone:
    """Return pools in parallel, each exchanging with the bath."""
    size = len(rates)
    capacity = grease / grease.sum()
    matrix = np.zeros((size + 1, size + 1))
    matrix[:size, :size] = -np.diag(rates)
    matrix[:size, size] = rates * capacity / partition
    matrix[size] = -matrix[:size].sum(axis=0)
    return Bone(matrix_per_day=matrix, start_per_m=np.append(grease, 0.0))


def _left(kind: Truth, rate: float, days: float) -> float:
    """Return the share left in a fresh bath, by many terms of Crank's series (4.18, 6.20)."""
    n = np.arange(SERIES_TERMS)
    if kind is Truth.SHEET:
        odd = 2 * n + 1.0
        return float((8 / (np.pi * odd) ** 2 * np.exp(-(odd**2) * rate * days)).sum())
    order = n + 1.0
    return float((6 / (np.pi * order) ** 2 * np.exp(-(order**2) * rate * days)).sum())


def _diffusion_rate(kind: Truth, days: float, gain: float) -> float | None:
    """Return the slowest rate, or None where no diffusing bone falls so far so soon."""

    def excess(rate: float) -> float:
        late = _left(kind, rate, days) - _left(kind, rate, days + 3)
        return late / (1 - _left(kind, rate, 3)) - THRESHOLD_PER_M / gain

    low, high = SLOWEST_DIFFUSION_PER_DAY, 1.0
    return float(brentq(excess, low, high, xtol=1e-12)) if excess(low) > 0 > excess(high) else None


def _diffusing_bone(kind: Truth, rate: float, gain: float, partition: float) -> Bone:
    grease = gain / (1 - _left(kind, rate, 3))
    diffusivity = rate / np.pi**2 if kind is Truth.SPHERE else 4 * rate / np.pi**2
    return diffusion_system(kind, diffusivity, grease, partition)


def diffusion_system(kind: Truth, diffusivity: float, grease: float, partition: float) -> Bone:
    """Return shells of a sphere (or slices of half a sheet) of unit size, finest at the surface.

    `diffusivity` is in squared radii (or half thicknesses) per day.
    """
    edges = 1 - (1 - np.linspace(0, 1, CELLS + 1)) ** 3
    power = 3 if kind is Truth.SPHERE else 1
    volume = np.diff(edges**power)
    centre = (edges[1:] + edges[:-1]) / 2
    area = power * edges[1:] ** (power - 1)
    distance = np.append(np.diff(centre), 1 - centre[-1])
    conductance = diffusivity * area / distance
    matrix = np.zeros((CELLS + 1, CELLS + 1))
    room = np.append(volume, partition)
    for inner in range(CELLS):
        outer = inner + 1
        flow = conductance[inner]
        matrix[inner, inner] -= flow / room[inner]
        matrix[outer, inner] += flow / room[inner]
        matrix[inner, outer] += flow / room[outer]
        matrix[outer, outer] -= flow / room[outer]
    return Bone(matrix_per_day=matrix, start_per_m=np.append(grease * volume, 0.0))


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
    activation = 1000 * _log_normal(generator, "activation_kj_per_mol")
    paces = {
        float(t): float(np.exp(activation / GAS_CONSTANT * (1 / 313.15 - 1 / (t + 273.15))))
        for t in np.unique(temperature_c)
    }
    usual = paces[float(np.median(temperature_c))]
    steps = {t: expm(bone.matrix_per_day * pace / 24) for t, pace in paces.items()}
    gain_row = expm(bone.matrix_per_day * usual * SOAK_HOURS / 24)[-1, :-1]
    haze, clear_hour = _march(bone, changes, temperature_c, steps, (gain_row, carry))
    seen = haze[: min(len(haze), 24 * 400)]
    return _log(generator, seen, clear_hour / 24, species, changes, temperature_c, habits)


def _march(
    bone: Bone,
    changes: list[int],
    temperature_c: FloatArray,
    steps: dict[float, FloatArray],
    clearing: tuple[FloatArray, float],
) -> tuple[FloatArray, float]:
    """Step hour by hour; return the grease haze before each hour and when it ran clear."""
    gain_row, carry = clearing
    state, pending = bone.start_per_m.copy(), set(changes)
    haze, clear_hour = [], np.inf
    for hour, celsius in enumerate(temperature_c):
        haze.append(state[-1])
        if hour in pending:
            state[-1] *= carry
        if clear_hour == np.inf and gain_row @ state[:-1] < THRESHOLD_PER_M:
            clear_hour = float(hour)
        if hour > max(clear_hour, LEAST_HOURS):
            break
        state = steps[float(celsius)] @ state
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
