"""A skull's story: what happened to it, with the water and the readings of its tubs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING

from greasecheck.logbook.readings.readings import list_readings, readings_of_skull
from greasecheck.logbook.skulls.skulls import follow_ups
from greasecheck.logbook.skulls.stays import skull_events, stays_of
from greasecheck.logbook.store.times import now
from greasecheck.logbook.water.baths import list_baths
from greasecheck.logbook.water.between import list_temperatures, list_top_ups
from greasecheck.model import Bound

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

    from greasecheck.logbook.records import (
        Bath,
        FollowUp,
        HandReading,
        LoggedReading,
        SkullEvent,
    )
    from greasecheck.logbook.skulls.stays import Stay
    from greasecheck.logbook.store.book import Logbook


DAILY, MOST_DAILY = ("water", "reading"), 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """One line of a story: when, in which tub if in one, of what kind, and in words.

    `until` is the last time of what was done several times in a row, which the words then count.
    """

    at: datetime
    tub: int | None
    kind: str
    what: str
    until: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortStory:
    """A story without most of what recurs daily, and how many moments that leaves out."""

    moments: tuple[Moment, ...]
    left_out: int


def shortened(story: Sequence[Moment]) -> ShortStory:
    """Return a story with the newest few of its water changes and readings."""
    daily = [moment for moment in story if moment.kind in DAILY]
    gone = {id(moment) for moment in daily[:-MOST_DAILY]}
    kept = tuple(moment for moment in story if id(moment) not in gone)
    return ShortStory(moments=kept, left_out=len(gone))


def with_changes_counted(story: Sequence[Moment]) -> tuple[Moment, ...]:
    """Return a story in which water changes alike that follow each other are one moment."""
    told: list[Moment] = []
    for alike, row in groupby(story, key=lambda moment: (moment.kind, moment.tub, moment.what)):
        moments = list(row)
        if alike[0] != "water" or len(moments) == 1:
            told += moments
            continue
        words = f"{moments[0].what}, {len(moments)} times"
        told.append(replace(moments[0], what=words, until=moments[-1].at))
    return tuple(told)


def skull_story(book: Logbook, name: str) -> tuple[Moment, ...]:
    """Return the story of the skull called `name`, oldest first.

    Its own events and follow-ups, and while it soaked the water changes and readings of its tub,
    those of another skull's bone left out; and readings that name it.
    """
    own = stays_of(book, name)
    moments = [
        *(_event(event) for event in skull_events(book, name)),
        *(_follow_up(seen) for seen in follow_ups(book, name)),
        *(moment for stay in own for moment in _during(book, stay)),
        *(_reading(r) for r in readings_of_skull(book, name) if not _within(r, own)),
    ]
    return tuple(sorted(moments, key=lambda moment: (moment.at, moment.kind)))


def _during(book: Logbook, stay: Stay) -> Iterator[Moment]:
    for bath in list_baths(book, stay.tub, since=stay.since, until=stay.until):
        if _in(stay, bath.filled_at):
            yield _bath(bath)
    until = stay.until or now()
    for found in list_temperatures(book, stay.tub, stay.since, until):
        words = f"bath at {found.temperature_c:g} °C"
        yield Moment(at=found.at, tub=stay.tub, kind="temperature", what=words)
    for poured in list_top_ups(book, stay.tub, stay.since, until):
        words = f"topped up with {poured.litres:g} L"
        yield Moment(at=poured.at, tub=stay.tub, kind="topped up", what=words)
    for reading in list_readings(book, stay.tub, since=stay.since, until=stay.until):
        if _in(stay, reading.taken_at) and reading.skull in (None, stay.skull):
            yield _reading(reading)


def _in(stay: Stay, at: datetime) -> bool:
    return stay.since <= at and (stay.until is None or at < stay.until)


def _within(reading: LoggedReading, own: Sequence[Stay]) -> bool:
    return any(stay.tub == reading.tub and _in(stay, reading.taken_at) for stay in own)


def _event(event: SkullEvent) -> Moment:
    details = [
        f"into tub {event.tub}" if event.tub is not None else "",
        f"{event.strength_percent:g}%" if event.strength_percent is not None else "",
        f"for {event.duration_h:g} h" if event.duration_h is not None else "",
    ]
    happened = " ".join([event.kind, *(detail for detail in details if detail)])
    words = f"{happened}; {event.note}" if event.note else happened
    return Moment(at=event.happened_at, tub=event.tub, kind=event.kind, what=words)


def _follow_up(seen: FollowUp) -> Moment:
    words = "follow-up: " + ("yellowed" if seen.yellowed else "still white")
    if seen.yi_e313 is not None:
        words += f", bone YI {seen.yi_e313:.1f}"
    return Moment(at=seen.seen_at, tub=None, kind="follow-up", what=words)


def _bath(bath: Bath) -> Moment:
    warmth = "" if bath.temperature_c is None else f" at {bath.temperature_c:g} °C"
    words = f"water changed: {bath.recipe}{warmth}"
    return Moment(at=bath.filled_at, tub=bath.tub, kind="water", what=words)


def _reading(reading: LoggedReading) -> Moment:
    words = ", ".join(part for part in (haze_words(reading), bone_words(reading)) if part)
    return Moment(at=reading.taken_at, tub=reading.tub, kind="reading", what=words)


def haze_words(reading: LoggedReading | HandReading) -> str:
    """Return the haze of a reading in words; nothing when it has none."""
    if reading.attenuation_per_m is None:
        return ""
    if reading.bound is not None:
        sign = ">" if reading.bound is Bound.ABOVE else "<"
        return f"haze {sign}{reading.attenuation_per_m:.1f} /m"
    return f"haze {reading.attenuation_per_m:.1f} ± {reading.attenuation_std_per_m or 0:.1f} /m"


def bone_words(reading: LoggedReading) -> str:
    """Return the bone's yellowness of a reading in words; nothing when it has none."""
    if reading.bone_yi_e313 is None:
        return ""
    error = "" if reading.bone_yi_std is None else f" ± {reading.bone_yi_std:.1f}"
    return f"bone YI {reading.bone_yi_e313:.1f}{error}"
