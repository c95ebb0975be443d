"""Gives a tub's story as plain sequences, for fits that know nothing of a logbook."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.logbook.changes import changes_among
from greasecheck.logbook.readings import list_readings
from greasecheck.logbook.skulls import list_skulls, skull_named, soaking, stays
from greasecheck.logbook.water import list_baths

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.logbook.book import Logbook
    from greasecheck.logbook.records import Bath, LoggedReading, ProbableChange
    from greasecheck.model import BoneState, Bound, Recipe, Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class HazePoint:
    """A haze reading [1/m] with its standard error, or a bound on the haze."""

    taken_at: datetime
    attenuation_per_m: float
    std_per_m: float
    bound: Bound | None
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class BonePoint:
    """A yellowness reading (ASTM E313) of the bone with its standard error."""

    taken_at: datetime
    yi_e313: float
    yi_std: float | None
    yellow_patch_share: float | None
    state: BoneState | None
    skull: str | None
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class BathChange:
    """A filling of the tub.

    Attributes
    ----------
    at : datetime.datetime
        When; for a probable change halfway between `earliest` and `latest`.
    earliest, latest : datetime.datetime
        The span in which it was; both equal `at` when it was entered.
    recipe : Recipe or None
        What went in; for a probable change that of the bath before.
    temperature_c : float or None
        Temperature the bath is held at [degrees C].
    carry_over_share : float or None
        Share of the old bath that stayed, 0 to 1.
    logged : bool
        Whether a person entered it; otherwise it was found by the fall of the haze.
    """

    at: datetime
    earliest: datetime
    latest: datetime
    recipe: Recipe | None
    temperature_c: float | None
    carry_over_share: float | None
    logged: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Soak:
    """A skull's soak, from its entry or resoaking to its end; `until` is None while it lasts.

    `tub` is the one it is in, or was in last; `degreased` tells that it ended because the skull
    was done.
    """

    skull: str
    species: str | None
    tub: int
    since: datetime
    until: datetime | None
    degreased: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TubSeries:
    """The story of one tub from `since` on, each sequence oldest first; `soaks` is of now."""

    tub: int
    since: datetime | None
    soaks: tuple[Soak, ...]
    hazes: tuple[HazePoint, ...]
    bones: tuple[BonePoint, ...]
    changes: tuple[BathChange, ...]


def tub_series(book: Logbook, tub: int, *, since: datetime | None = None) -> TubSeries:
    """Return the story of `tub`: readings not marked wrong, and water changes.

    Parameters
    ----------
    book : Logbook
        Where to look.
    tub : int
        Number of the tub.
    since : datetime.datetime or None
        Leave out what was before, except the filling of the bath it held then; None for all.
        `soak_start` gives the start of the present soak.
    """
    readings = list_readings(book, tub, since=since)
    baths = list_baths(book, tub, since=since)
    probable = changes_among(book, tub, readings)
    return TubSeries(
        tub=tub,
        since=since,
        soaks=present_soaks(book, tub),
        hazes=_hazes(readings),
        bones=_bones(readings),
        changes=_changes(baths, probable),
    )


def bone_series(
    book: Logbook, tub: int, *, since: datetime | None = None, until: datetime | None = None
) -> tuple[BonePoint, ...]:
    """Return the bone readings of `tub` from `since` on and before `until`, oldest first."""
    return _bones(list_readings(book, tub, since=since, until=until))


def list_soaks(book: Logbook) -> tuple[Soak, ...]:
    """Return every soak of every skull, oldest first for each; moves between tubs joined."""
    species = {skull.name: skull.species for skull in list_skulls(book)}
    last_stays = {(stay.skull, stay.soak_since): stay for stay in stays(book)}
    return tuple(
        Soak(
            skull=stay.skull,
            species=species[stay.skull],
            tub=stay.tub,
            since=stay.soak_since,
            until=stay.until,
            degreased=stay.degreased,
        )
        for stay in last_stays.values()
    )


def present_soaks(book: Logbook, tub: int) -> tuple[Soak, ...]:
    """Return the soaks that go on in `tub`, by skull."""
    return tuple(
        Soak(
            skull=stay.skull,
            species=skull_named(book, stay.skull).species,
            tub=tub,
            since=stay.soak_since,
            until=None,
            degreased=False,
        )
        for stay in soaking(book)
        if stay.tub == tub
    )


def soak_start(book: Logbook, tub: int) -> datetime | None:
    """Return when the longest-soaking skull now in `tub` began its soak; None without one."""
    return min((soak.since for soak in present_soaks(book, tub)), default=None)


def _hazes(readings: Sequence[LoggedReading]) -> tuple[HazePoint, ...]:
    return tuple(
        HazePoint(
            taken_at=reading.taken_at,
            attenuation_per_m=reading.attenuation_per_m,
            std_per_m=reading.attenuation_std_per_m or 0.0,
            bound=reading.bound,
            verdict=reading.verdict,
        )
        for reading in readings
        if reading.attenuation_per_m is not None
    )


def _bones(readings: Sequence[LoggedReading]) -> tuple[BonePoint, ...]:
    return tuple(
        BonePoint(
            taken_at=reading.taken_at,
            yi_e313=reading.bone_yi_e313,
            yi_std=reading.bone_yi_std,
            yellow_patch_share=reading.bone_yellow_patch_share,
            state=reading.bone_state,
            skull=reading.skull,
            verdict=reading.verdict,
        )
        for reading in readings
        if reading.bone_yi_e313 is not None
    )


def _changes(baths: Sequence[Bath], probable: Sequence[ProbableChange]) -> tuple[BathChange, ...]:
    logged = [_logged(bath) for bath in baths]
    found = [_found(change, baths) for change in probable]
    return tuple(sorted((*logged, *found), key=lambda change: change.at))


def _logged(bath: Bath) -> BathChange:
    return BathChange(
        at=bath.filled_at,
        earliest=bath.filled_at,
        latest=bath.filled_at,
        recipe=bath.recipe,
        temperature_c=bath.temperature_c,
        carry_over_share=bath.carry_over_share,
        logged=True,
    )


def _found(change: ProbableChange, baths: Sequence[Bath]) -> BathChange:
    filled = bisect_right(baths, change.earliest, key=lambda bath: bath.filled_at)
    before = baths[filled - 1] if filled else None
    return BathChange(
        at=change.earliest + (change.latest - change.earliest) / 2,
        earliest=change.earliest,
        latest=change.latest,
        recipe=before.recipe if before else None,
        temperature_c=before.temperature_c if before else None,
        carry_over_share=None,
        logged=False,
    )
