"""What happens in the tubs of the invented season, hour by hour, and what a preparer reads of it.

The water is that of `leaching`; each bath has its own haze when fresh; readings scatter with heavy
tails, now and then foam doubles one. The bone pales with its grease or as the story says.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.model import Bound, Recipe, Verdict
from sample_images import leaching
from sample_images.season_story import NOW, RECIPE_PACES, Form, Soak
from sample_images.story import ZONE, season

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sample_images.leaching import Bone, FloatArray
    from sample_images.season_story import Ladder

HOURS = 24 * 400
FILLED_AT, CHANGED_AT, FORGOTTEN_AT = time(13), time(19, 30), time(8)
ACTIVATION_KJ_PER_MOL = 45.0
CARRY_OVER = 0.05
DONE_SHARE = 0.1
ROOM_C = 18.0
FRESH_PER_M = {Recipe.SOAP: 0.7, Recipe.SOAP_AMMONIA: 0.6, Recipe.AMMONIA: 0.4}
TOP_PER_M, BOTTOM_PER_M = 65.0, 0.25
SCATTER, TAILS = 0.04, 4.0
FOAM_PROBABILITY, FOAM_FACTOR = 0.015, 1.9
CLEAN_YI, GREASY_YI, YI_STD = 13.5, 33.0, 0.7
SHARE_STD = 0.008
LADDER_AT, JAR_EVERY_DAYS = time(16), 6.0
LADDER_LOG_STD, LADDER_STD_PER_M = 0.05, 0.06  # scatter of one reading about its tub's gain
GAIN_LOG_STD = 0.17  # of a clear water's gain, by the ladder alone
EVAPORATION_MM_PER_DAY, LEVEL_STD_MM = 2.0, 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """What really happens in a soak.

    Attributes
    ----------
    soak : Soak
        Which.
    changes : tuple of datetime
        Fillings, the first included, until it ends or until now.
    haze_per_m : ndarray, shape (hours,)
        Grease in the bath at each hour from its start [1/m].
    left : ndarray, shape (hours,)
        Share of all grease that is still in the bones.
    degreased_at : datetime or None
        From when less than a tenth of all grease is in the bones, if it went on.
    """

    soak: Soak
    changes: tuple[datetime, ...]
    haze_per_m: FloatArray
    left: FloatArray
    degreased_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A simulated reading: of a jar and a bone, or of a ladder where no skull is named."""

    at: datetime
    haze_per_m: float
    haze_std_per_m: float
    bound: Bound | None = None
    verdict: Verdict = Verdict.GOOD
    skull: str | None = None
    yi_e313: float | None = None
    yellow_patch_share: float | None = None
    decay_per_m: float | None = None
    decay_std_per_m: float | None = None
    level_mm: float | None = None


def local(day: date, clock: time) -> datetime:
    """Return a time of the garage in UTC, in which times may be subtracted."""
    return datetime.combine(day, clock, ZONE).astimezone(UTC)


def begin(soak: Soak) -> datetime:
    """Return when the first bath was filled and the skulls went in."""
    return local(soak.start, FILLED_AT)


def end(soak: Soak) -> datetime:
    """Return when it ended, before any change of that day; now for one that lasts."""
    return local(soak.end, CHANGED_AT) if soak.end else NOW.astimezone(UTC)


def run(soak: Soak, generator: np.random.Generator) -> Course:
    """Let a soak happen, and go on beyond its end until its skulls are degreased."""
    bone = _bone(soak, generator)
    changes = tuple(_changes(soak, generator))
    hours = {hour_of(soak, at) for at in (*changes, *_later_changes(soak))}
    paces = _paces(soak)
    states = np.array(list(leaching.hourly_states(bone, hours, paces, CARRY_OVER)))
    left = states[:, :-1].sum(axis=1) / bone.start_per_m.sum()
    done = np.flatnonzero(left < DONE_SHARE)
    return Course(
        soak=soak,
        changes=changes,
        haze_per_m=states[:, -1],
        left=left,
        degreased_at=begin(soak) + timedelta(hours=int(done[0])) if len(done) else None,
    )


def _bone(soak: Soak, generator: np.random.Generator) -> Bone:
    slow, fast_ratio = generator.uniform(0.35, 0.6), generator.uniform(4.0, 7.0)
    days, gain, partition = soak.soap_days, soak.first_gain_per_m, soak.partition
    if soak.form in {Form.ONE_POOL, Form.TWO_POOLS}:
        parts = np.array([1.0 if soak.form is Form.ONE_POOL else slow])
        parts = np.append(parts, 1.0 - parts)[: 1 if soak.form is Form.ONE_POOL else 2]
        ratios = np.array([1.0, fast_ratio])[: len(parts)]
        return leaching.clearing_pools(parts, ratios, days, gain, partition)
    dimensions = leaching.SHEET if soak.form is Form.SHEET else leaching.SPHERE
    bone = leaching.clearing_diffusion(dimensions, days, gain, partition)
    assert bone is not None, "the story asks for a bone that there cannot be"
    return bone


def _changes(soak: Soak, generator: np.random.Generator) -> Iterator[datetime]:
    """Yield the fillings; between the sure ones by habit, none after the last of these."""
    last_day = soak.end or NOW.date()
    stops = (soak.start, *soak.refills) if soak.refills else (soak.start, last_day)
    yield begin(soak)
    for first, following in pairwise(stops):
        day = first
        while True:
            day += timedelta(days=soak.interval_days + int(generator.choice([0, 0, 1, -1])))
            if day > following - timedelta(days=3):
                break
            yield local(day, CHANGED_AT)
        if soak.refills:
            yield local(following, CHANGED_AT)
    if soak.forgotten:
        yield local(soak.forgotten, FORGOTTEN_AT)


def _later_changes(soak: Soak) -> Iterator[datetime]:
    """Yield the changes by habit after its end, to tell when it would have been degreased."""
    at = end(soak)
    while hour_of(soak, at) < HOURS:
        yield at
        at += timedelta(days=soak.interval_days)


def hour_of(soak: Soak, at: datetime) -> int:
    """Return the hour of a soak that a time lies nearest to."""
    return round((at - begin(soak)) / timedelta(hours=1))


def _paces(soak: Soak) -> FloatArray:
    """Return for each hour how many times as fast as in soap at 40 degrees C it leaches."""
    temperature_c = np.full(HOURS, soak.temperature_c)
    if soak.heater_off:
        off = hour_of(soak, local(soak.heater_off, CHANGED_AT))
        temperature_c[off : hour_of(soak, end(soak))] = ROOM_C
    warmth = {c: leaching.pace_at(float(c), ACTIVATION_KJ_PER_MOL) for c in set(temperature_c)}
    return np.array([RECIPE_PACES[soak.recipe] * warmth[c] for c in temperature_c])


def look(course: Course, generator: np.random.Generator) -> Iterator[Seen]:
    """Yield what is read of a soak, in the evenings before any change of the water."""
    soak = course.soak
    fresh = FRESH_PER_M[soak.recipe] * np.exp(
        0.15 * generator.standard_normal(len(course.changes) + 1)
    )
    for number, at in enumerate(_times(soak, generator)):
        yi_e313, share = _bone_at(course, at)
        yield _reading(
            generator,
            at,
            soak.skulls[number % len(soak.skulls)],
            _haze_at(course, fresh, at),
            (yi_e313, share),
        )
    if soak.ladder:
        yield from _ladder_readings(course, soak.ladder, fresh, generator)


def _haze_at(course: Course, fresh_per_m: FloatArray, at: datetime) -> float:
    """Return the haze of a bath, that of its fresh water included [1/m]."""
    bath = sum(change < at for change in course.changes)
    return float(fresh_per_m[bath] + course.haze_per_m[hour_of(course.soak, at)])


def _ladder_readings(
    course: Course, ladder: Ladder, fresh_per_m: FloatArray, generator: np.random.Generator
) -> Iterator[Seen]:
    """Yield what a ladder tells, once a day except for the day of its sample photo."""
    days = (NOW.date() - ladder.since).days
    for at in (local(ladder.since + timedelta(days=n), LADDER_AT) for n in range(days - 1)):
        true_per_m = _haze_at(course, fresh_per_m, at)
        scatter = np.exp(LADDER_LOG_STD * generator.standard_normal())
        decay = true_per_m / ladder.gain * scatter + LADDER_STD_PER_M * generator.standard_normal()
        level = water_level_mm(course, ladder, at) + LEVEL_STD_MM * generator.standard_normal()
        yield Seen(
            at=at,
            haze_per_m=round(float(decay), 2),
            haze_std_per_m=round(float(GAIN_LOG_STD * decay), 2),
            decay_per_m=round(float(decay), 3),
            decay_std_per_m=round(float(np.hypot(LADDER_STD_PER_M, 0.02 * decay)), 3),
            level_mm=round(float(level), 1),
        )


def water_level_mm(course: Course, ladder: Ladder, at: datetime) -> float:
    """Return the height of the water above the ladder's lower end, less what dried away [mm]."""
    filled = max(change for change in course.changes if change < at)
    return ladder.full_mm - EVAPORATION_MM_PER_DAY * ((at - filled) / timedelta(days=1))


def _times(soak: Soak, generator: np.random.Generator) -> Iterator[datetime]:
    """Yield the times of the readings; on days with a sample photo, that is the reading."""
    photos = {scene.taken_at.date() for scene in season() if scene.tub == soak.tub}
    last = min(
        soak.last_reading or NOW.date(), (NOW - timedelta(days=1)).date(), soak.end or NOW.date()
    )
    day = soak.start + timedelta(days=1)
    while day <= last:
        clock = time(17 + int(generator.integers(0, 2)), int(generator.integers(0, 60)))
        with_ladder = soak.ladder is not None and day >= soak.ladder.since
        every_days = JAR_EVERY_DAYS if with_ladder else soak.read_every_days
        wanted = generator.random() < 1 / every_days or day == last
        if wanted and day not in photos:
            yield local(day, clock)
        day += timedelta(days=1)


def _bone_at(course: Course, at: datetime) -> tuple[float, float]:
    """Return the bone's true yellowness, and the share of it in yellow patches."""
    bone = course.soak.bone
    if bone:
        days = [(one.day - course.soak.start).days for one in bone]
        day = (at - begin(course.soak)) / timedelta(days=1)
        return (
            float(np.interp(day, days, [one.yi_e313 for one in bone])),
            float(np.interp(day, days, [one.yellow_patch_share for one in bone])),
        )
    left = float(course.left[hour_of(course.soak, at)])
    return CLEAN_YI + GREASY_YI * left**0.8, 0.9 * left**1.2


def _reading(
    generator: np.random.Generator,
    at: datetime,
    skull: str,
    true_per_m: float,
    bone: tuple[float, float],
) -> Seen:
    std = 0.12 + 0.02 * true_per_m
    foamy = generator.random() < FOAM_PROBABILITY
    scatter = 1 + SCATTER * generator.standard_t(TAILS)
    value = true_per_m * scatter * (FOAM_FACTOR if foamy else 1.0)
    value += std * generator.standard_normal()
    bound = Bound.ABOVE if value > TOP_PER_M else Bound.BELOW if value < BOTTOM_PER_M else None
    yi_e313, share = bone
    return Seen(
        at=at,
        skull=skull,
        haze_per_m=round(float(np.clip(value, BOTTOM_PER_M, TOP_PER_M)), 2),
        haze_std_per_m=round(std, 2),
        bound=bound,
        verdict=Verdict.DOUBTFUL if foamy else Verdict.GOOD,
        yi_e313=round(yi_e313 + YI_STD * float(generator.standard_normal()), 1),
        yellow_patch_share=round(
            float(np.clip(share + SHARE_STD * generator.standard_normal(), 0, 1)), 3
        ),
    )
