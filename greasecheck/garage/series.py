"""Turns the logbook's rows into what forecasts and advice take; alone knows both."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.logbook.changes import denied_spans
from greasecheck.logbook.records import EventKind
from greasecheck.logbook.series import bone_series, list_soaks, present_soaks, tub_series
from greasecheck.logbook.skulls import follow_ups, skull_events
from greasecheck.logbook.water import bath_at
from greasecheck.model import Recipe
from greasecheck.predict.advice import SkullBone
from greasecheck.predict.bone_trend import BoneLook
from greasecheck.predict.records import (
    SECONDS_PER_DAY,
    FinishedTub,
    HazeReading,
    SameWater,
    SoakingSkull,
    TubHistory,
    WaterChange,
)
from greasecheck.predict.stage import Milestone, Stage
from greasecheck.predict.tables import UNKNOWN_SPECIES

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from greasecheck.logbook.book import Logbook
    from greasecheck.logbook.series import BathChange, BonePoint, HazePoint, Soak


STAGES = {
    EventKind.ENTERED: Stage.SOAKING,
    EventKind.RESOAKED: Stage.SOAKING,
    EventKind.DEGREASED: Stage.DEGREASED,
    EventKind.WHITENED: Stage.WHITENED,
    EventKind.DRIED: Stage.DRIED,
    EventKind.RETURNED: Stage.RETURNED,
}


def tub_history(book: Logbook, tub: int, now: datetime) -> TubHistory | None:
    """Return the story of a tub's present soak; None without water or a degreasing skull in it.

    Parameters
    ----------
    book : Logbook
        Where to look.
    tub : int
        Number of the tub.
    now : datetime.datetime
        Zone-aware.

    Notes
    -----
    Only changes that a person entered or confirmed go in: the forecast finds the others itself.
    A skull that soaks after whitening is left out; it has no grease left to speak of.
    """
    skulls = degreasing(book, tub, now)
    if not skulls or bath_at(book, tub, now) is None:
        return None
    series = tub_series(book, tub, since=min(soak.since for soak in skulls))
    return TubHistory(
        skulls=tuple(
            SoakingSkull(name=soak.skull, species=soak.species or UNKNOWN_SPECIES, since=soak.since)
            for soak in skulls
        ),
        changes=tuple(water_change(change) for change in series.changes if change.logged),
        readings=tuple(haze_reading(point) for point in series.hazes),
        same_water=same_water(book, tub),
    )


def same_water(book: Logbook, tub: int) -> tuple[SameWater, ...]:
    """Return the spans in which a change was denied, as the forecast takes them."""
    return tuple(
        SameWater(after=earliest, before=latest) for earliest, latest in denied_spans(book, tub)
    )


def degreasing(book: Logbook, tub: int, now: datetime) -> tuple[Soak, ...]:
    """Return the soaks in a tub that have not ended and are meant to draw grease."""
    return tuple(
        soak for soak in present_soaks(book, tub) if soak.since <= now and not is_rinse(book, soak)
    )


def is_rinse(book: Logbook, soak: Soak) -> bool:
    """Return whether a soak only rinses: it followed a whitening."""
    before = [
        event.kind for event in skull_events(book, soak.skull) if event.happened_at < soak.since
    ]
    return bool(before) and before[-1] is EventKind.WHITENED


def finished_tubs(book: Logbook) -> tuple[FinishedTub, ...]:
    """Return how long the user's own skulls took until they were called degreased."""
    return tuple(
        FinishedTub(
            species=soak.species or UNKNOWN_SPECIES,
            days=(soak.until - soak.since).total_seconds() / SECONDS_PER_DAY,
        )
        for soak in list_soaks(book)
        if soak.degreased and soak.until is not None and soak.until > soak.since
    )


def skull_bones(book: Logbook, tub: int, now: datetime) -> tuple[SkullBone, ...]:
    """Return the bone readings of each skull that degreases in a tub.

    A reading that names no skull is of the only one there; among several it is nobody's.
    """
    soaks = degreasing(book, tub, now)
    points = bone_series(book, tub, since=min((soak.since for soak in soaks), default=now))
    alone = len(soaks) == 1
    return tuple(
        SkullBone(
            name=soak.skull,
            looks=bone_looks(
                [
                    point
                    for point in points
                    if point.taken_at >= soak.since
                    and (point.skull == soak.skull or (alone and point.skull is None))
                ]
            ),
        )
        for soak in soaks
    )


def newest_bone_photo(book: Logbook, tub: int, skull: str) -> str | None:
    """Return the path of the newest photo in which this skull's bone was read; None without one."""
    newest = book.rows(
        """SELECT photo_path FROM readings WHERE tub = ? AND wrong = 0 AND photo_path != ''
        AND bone_yi_e313 IS NOT NULL AND (skull IS NULL OR skull = ?)
        ORDER BY taken_at DESC, key DESC LIMIT 1""",
        (tub, skull),
    )
    return newest[0][0] if newest else None


def bone_looks(points: Sequence[BonePoint]) -> tuple[BoneLook, ...]:
    """Return bone readings as the advice takes them."""
    return tuple(
        BoneLook(
            at=point.taken_at,
            yi_e313=point.yi_e313,
            yi_std=point.yi_std,
            yellow_patch_share=point.yellow_patch_share,
            state=point.state,
            verdict=point.verdict,
        )
        for point in points
    )


def water_change(change: BathChange) -> WaterChange:
    """Return a filling as the forecast takes it."""
    return WaterChange(
        at=change.at,
        recipe=change.recipe or Recipe.OWN,
        temperature_c=change.temperature_c,
        carry_over=change.carry_over_share,
    )


def haze_reading(point: HazePoint) -> HazeReading:
    """Return a haze reading as the forecast takes it."""
    return HazeReading(
        at=point.taken_at,
        attenuation_per_m=point.attenuation_per_m,
        std_per_m=point.std_per_m,
        bound=point.bound,
        verdict=point.verdict,
    )


def milestones(book: Logbook, skull: str) -> tuple[Milestone, ...]:
    """Return the stages that a skull reached; a soak right after whitening only rinses."""
    events = [event for event in skull_events(book, skull) if event.kind in STAGES]
    kinds = [None, *(event.kind for event in events)]
    reached = [
        Milestone(
            stage=Stage.RINSING
            if (before, event.kind) == (EventKind.WHITENED, EventKind.RESOAKED)
            else STAGES[event.kind],
            at=event.happened_at,
        )
        for before, event in zip(kinds, events, strict=False)
    ]
    seen = [Milestone(stage=Stage.FOLLOWED_UP, at=one.seen_at) for one in follow_ups(book, skull)]
    return (*reached, *seen)
