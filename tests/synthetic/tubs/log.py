"""Invented tubs: what really happens in them, and what their keeper writes down."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import Bound, Verdict
from greasecheck.predict.records import (
    EarlierSoak,
    HazeReading,
    SoakingSkull,
    TopUp,
    TubHistory,
    WaterChange,
)
from tests.synthetic.tubs.bones import DONE_SHARE, draw_bone
from tests.synthetic.tubs.kinds import ODDITIES, Kind, Oddity
from tests.synthetic.tubs.water import (
    STEP_DAYS,
    STEPS_PER_DAY,
    Course,
    Skull,
    Water,
    pace_at,
    run_tub,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]

START = datetime(2026, 1, 5, 8, tzinfo=UTC)
SPECIES = ("deer", "fox", "elk", "bear", "raccoon", "sheep", "coyote", "hog")
TABLE = Path(__file__).parents[3] / "calibration" / "species.csv"
QUARTILE = 0.6745
KEEPERS_LOG_STD = 0.25  # of one preparer's times about the table's
TOP_PER_M, BOTTOM_PER_M = 70.0, 0.3
MOST_DAYS = 900


@cache
def usual_days(species: str) -> tuple[float, float]:
    """Return the species table's middle half."""
    lines = [line for line in TABLE.read_text().splitlines() if not line.startswith("#")]
    row = next(row for row in csv.DictReader(lines) if row["species"] == species)
    return float(row["low_days"]), float(row["high_days"])


@dataclass(frozen=True, slots=True, kw_only=True)
class InventedTub:
    """An invented tub.

    Attributes
    ----------
    history : TubHistory
        All that was ever logged; a forecast sees only what lies before its 'now'.
    degreased_days : tuple of float
        When each skull really is below 10 % of its grease, in days from `START`; infinite for
        never in this tub.
    left : ndarray, shape (days, skulls)
        Share of each skull's grease really left at the end of each day.
    unlogged_days : tuple of float
        Water changes that nobody logged, in days from `START`.
    """

    history: TubHistory
    degreased_days: tuple[float, ...]
    left: FloatArray
    unlogged_days: tuple[float, ...] = ()


def invent_tub(seed: int, kind: Kind, *, recipe_pace: float = 1.0) -> InventedTub:
    """Invent a tub of a kind, whose recipe leaches so much quicker than plain soap."""
    generator = np.random.default_rng([seed, list(Kind).index(kind)])
    oddity = ODDITIES[kind]
    count = int(generator.integers(oddity.skulls[0], oddity.skulls[1] + 1))
    names = [str(generator.choice(SPECIES)) for _ in range(count)]
    keeper = float(np.exp(KEEPERS_LOG_STD * generator.standard_normal()))
    skulls = [_skull(generator, oddity, name, keeper / recipe_pace) for name in names]
    steps = MOST_DAYS * STEPS_PER_DAY
    ends = [steps] * count
    if kind is Kind.MOVED_OUT:
        ends[1] = int(generator.integers(18, 40)) * STEPS_PER_DAY
    owner = _Owner(generator, oddity, steps)
    if kind is Kind.MOVED_IN:
        return _second_tub(owner, skulls[0], names[0])
    drained = [_between(skull, 0, end) for skull, end in zip(skulls, ends, strict=True)]
    course = run_tub(drained, owner.water, until_left=0.03)
    entries = tuple(
        SoakingSkull(
            name=f"skull {n}",
            species=name,
            since=START,
            until=_at(end * STEP_DAYS) if end < steps else None,
        )
        for n, (name, end) in enumerate(zip(names, ends, strict=True))
    )
    return _told(owner, course, entries)


def _skull(generator: np.random.Generator, oddity: Oddity, species: str, keeper: float) -> Skull:
    low, high = usual_days(species)
    spread = max(float(np.log(high / low)) / 2 / QUARTILE, 0.2)
    days = float(np.sqrt(low * high) * np.exp(spread * generator.standard_normal()))
    law = oddity.laws[int(generator.integers(len(oddity.laws)))]
    bone = draw_bone(generator, law, days * keeper * oddity.pace)
    return Skull(
        bone=bone,
        grease_per_m=float(450 * np.exp(0.6 * generator.standard_normal())),
        begin=0,
        end=0,
        left_before=np.ones_like(bone.shares),
        soaked_before=0.0,
    )


def _between(skull: Skull, begin: int, end: int) -> Skull:
    return Skull(
        bone=skull.bone,
        grease_per_m=skull.grease_per_m,
        begin=begin,
        end=end,
        left_before=skull.left_before,
        soaked_before=skull.soaked_before,
    )


class _Owner:
    """Who keeps a tub: when the water is changed, how, and what of it is written down."""

    def __init__(self, generator: np.random.Generator, oddity: Oddity, steps: int) -> None:
        self.generator, self.oddity = generator, oddity
        interval = int(generator.choice([2, 3, 3, 4, 5, 7]))
        if oddity.bloom:
            interval = int(generator.choice([4, 5, 6, 7, 8]))
        self.change_steps = _change_steps(generator, interval, steps)
        self.usual_c = float(generator.choice([35.0, 40.0, 45.0]))
        self.reading_probability = float(generator.choice([0.4, 0.75, 1.0]))
        self.scatter = float(0.05 * np.exp(0.4 * generator.standard_normal()))
        self.fresh_per_m = float(2.0 * np.exp(0.6 * generator.standard_normal()))
        self.water = self._water(steps)

    def _water(self, steps: int) -> Water:
        generator, oddity = self.generator, self.oddity
        changes = self.change_steps
        carry = float(1 / (1 + np.exp(3 - 0.7 * generator.standard_normal())))
        half = generator.random(len(changes)) < oddity.partial_probability
        half[0] = False
        self.half = half
        kept = np.ones(steps)
        kept[changes] = np.where(half, 0.5, carry)
        bath = np.searchsorted(changes, np.arange(steps), side="right") - 1
        scatter = oddity.dose_log_std
        self.bath_dose = np.exp(scatter * generator.standard_normal(len(changes)) - scatter**2 / 2)
        energy = float(45 * np.exp(0.2 * generator.standard_normal()))
        lost = float(generator.uniform(*oddity.evaporation_per_day))
        since = (np.arange(steps) - np.array(changes)[bath]) * STEP_DAYS
        topped = (lost > 0) & (since > 0) & (since % 3 == 0)
        return Water(
            kept=kept,
            dose=self.bath_dose[bath],
            pace=pace_at(self._temperature(steps), energy),
            lost_per_day=lost,
            topped_up=topped,
            bloom_per_day=float(generator.uniform(0.6, 1.3)) if oddity.bloom else 0.0,
            partition=float(np.exp(0.8 * generator.standard_normal())),
        )

    def _temperature(self, steps: int) -> FloatArray:
        days = np.arange(steps) * STEP_DAYS
        generator, swing = self.generator, self.oddity.swing_c
        if not swing:
            return np.full(steps, self.usual_c)
        period, phase = generator.uniform(4, 20), generator.uniform(0, 2 * np.pi)
        noise = np.repeat(generator.standard_normal(MOST_DAYS + 1), STEPS_PER_DAY)[:steps]
        temperature: FloatArray = (
            self.usual_c + swing * np.sin(2 * np.pi * days / period + phase) + 2 * noise
        )
        return temperature


def _change_steps(generator: np.random.Generator, interval: int, steps: int) -> list[int]:
    at, found = 0, []
    while at < steps:
        found.append(at)
        days = max(1, interval + int(generator.choice([0, 0, 0, 0, 1, -1])))
        at += days * STEPS_PER_DAY
    return found


def _at(days: float) -> datetime:
    return START + timedelta(days=days)


def _second_tub(owner: _Owner, skull: Skull, species: str) -> InventedTub:
    """Let the skull soak in one tub for some weeks and in this one after that."""
    generator = owner.generator
    weeks = int(generator.integers(15, 40)) * STEPS_PER_DAY
    first = _Owner(generator, owner.oddity, weeks)
    whole = _between(skull, 0, weeks)
    course = run_tub([whole], first.water, until_left=0.0)
    shift = timedelta(days=weeks * STEP_DAYS)
    entry = SoakingSkull(name="skull 0", species=species, since=START)
    before, _ = _log(first, course, (entry,))
    moved = _moved(skull, first, course, weeks)
    here = run_tub([moved], owner.water, until_left=0.03)
    now_entry = SoakingSkull(
        name="skull 0",
        species=species,
        since=START,
        earlier=(EarlierSoak(tub=_shifted(before, -shift), until=START),),
    )
    return _told(owner, here, (now_entry,))


def _moved(skull: Skull, owner: _Owner, course: Course, steps: int) -> Skull:
    """Return the skull as it leaves its first tub, each cell drained in proportion."""
    effective = float(
        (owner.water.pace[:steps] * owner.water.dose[:steps] ** 0.3).sum() * STEP_DAYS
    )
    bone = skull.bone
    soaked = np.maximum(effective - bone.delays_days, 0.0) ** bone.power / bone.power
    fresh = np.exp(-bone.rates_per_day * soaked)
    left = fresh * float(course.left[-1, 0]) / float(bone.shares @ fresh)
    return Skull(
        bone=bone,
        grease_per_m=skull.grease_per_m,
        begin=0,
        end=MOST_DAYS * STEPS_PER_DAY,
        left_before=np.minimum(left, 1.0),
        soaked_before=effective,
    )


def _shifted(history: TubHistory, by: timedelta) -> TubHistory:
    from dataclasses import replace  # noqa: PLC0415

    return replace(
        history,
        skulls=tuple(replace(one, since=one.since + by) for one in history.skulls),
        changes=tuple(replace(one, at=one.at + by) for one in history.changes),
        readings=tuple(replace(one, at=one.at + by) for one in history.readings),
    )


def _told(owner: _Owner, course: Course, entries: tuple[SoakingSkull, ...]) -> InventedTub:
    daily = course.left[STEPS_PER_DAY - 1 :: STEPS_PER_DAY]
    history, unlogged = _log(owner, course, entries)
    return InventedTub(
        history=history,
        degreased_days=tuple(_degreased(course.left[:, n]) for n in range(daily.shape[1])),
        left=daily,
        unlogged_days=unlogged,
    )


def _degreased(left: FloatArray) -> float:
    """Return when the share left is below 10 % for good [days]."""
    above = np.flatnonzero(left >= DONE_SHARE)
    if len(above) == len(left):
        return np.inf
    return float((above[-1] + 1) * STEP_DAYS) if len(above) else 0.0


def _log(
    owner: _Owner, course: Course, entries: tuple[SoakingSkull, ...]
) -> tuple[TubHistory, tuple[float, ...]]:
    """Return what was logged, and the days of changes that were not."""
    generator, oddity = owner.generator, owner.oddity
    changes = [step for step in owner.change_steps if step < len(course.left)]
    logged = generator.random(len(changes)) >= oddity.unlogged_probability
    logged[0] = True
    told_half = generator.random(len(changes)) < 0.5
    fillings = tuple(
        WaterChange(
            at=_at(step * STEP_DAYS),
            temperature_c=owner.usual_c,
            carry_over=0.5 if owner.half[n] and told_half[n] else None,
        )
        for n, step in enumerate(changes)
        if logged[n]
    )
    tops = np.flatnonzero(owner.water.topped_up[: len(course.left)])
    poured = owner.water.lost_per_day * 3
    told = generator.random(len(tops)) < 0.5
    missed = tuple(step * STEP_DAYS for step, kept in zip(changes, logged, strict=True) if not kept)
    history = TubHistory(
        skulls=entries,
        changes=fillings,
        readings=_readings(owner, course),
        top_ups=tuple(
            TopUp(at=_at(step * STEP_DAYS), share=min(poured, 0.9))
            for step, says in zip(tops, told, strict=True)
            if says
        ),
    )
    return history, missed


def _readings(owner: _Owner, course: Course) -> tuple[HazeReading, ...]:
    generator = owner.generator
    steps = len(course.left)
    bath = np.searchsorted(owner.change_steps, np.arange(steps), side="right") - 1
    half = owner.half[bath]
    fresh = owner.fresh_per_m * owner.bath_dose[bath] * np.where(half, 1.2, 1.0)
    haze = (course.grease_per_m + course.bloom_per_m + fresh) / course.fill
    chosen = [
        day * STEPS_PER_DAY + int(generator.integers(1, STEPS_PER_DAY - 1))
        for day in range(steps // STEPS_PER_DAY)
        if generator.random() < owner.reading_probability
    ]
    return tuple(_reading(owner, step, float(haze[step])) for step in chosen)


def _reading(owner: _Owner, step: int, true_per_m: float) -> HazeReading:
    generator = owner.generator
    std = 0.2 + 0.01 * true_per_m
    value = true_per_m * (1 + owner.scatter * generator.standard_normal())
    value += std * generator.standard_normal()
    foam = generator.random() < owner.oddity.foam_probability
    if foam:
        value = value * float(generator.uniform(1.2, 2.2)) + float(generator.uniform(1, 6))
    bound = Bound.ABOVE if value > TOP_PER_M else Bound.BELOW if value < BOTTOM_PER_M else None
    return HazeReading(
        at=_at((step + 1) * STEP_DAYS - 0.01),
        attenuation_per_m=float(np.clip(value, BOTTOM_PER_M, TOP_PER_M)),
        std_per_m=std,
        bound=bound,
        verdict=Verdict.DOUBTFUL if foam and generator.random() < 0.4 else Verdict.GOOD,
    )
