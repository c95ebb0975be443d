"""A skull that moved alone from tub to tub: one history, in which the move is a water change."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from greasecheck.predict.records import (
        EarlierSoak,
        HazeReading,
        TemperatureRecord,
        TopUp,
        TubHistory,
        WaterChange,
    )

    EntryT = TypeVar("EntryT", WaterChange, TemperatureRecord, TopUp)


def joined(history: TubHistory) -> TubHistory:
    """Return the history with the tubs that its only skull soaked in before, alone, put in front.

    Haze is counted as if the earlier tubs had held as much water as this one, where both volumes
    are known. Nothing of an earlier tub's haze goes along, unless the water that the skull moved to
    kept some of its own: how much that is of the earlier haze is unknown. A skull that shared a tub
    keeps that tub's result for it instead.
    """
    if len(history.skulls) != 1:
        return history
    (skull,) = history.skulls
    if not skull.earlier or not all(_alone(soak) for soak in skull.earlier):
        return history
    story = replace(history, skulls=())
    for soak in reversed(skull.earlier):
        story = _with_earlier(story, soak)
    since = min(one.since for soak in skull.earlier for one in soak.tub.skulls)
    return replace(story, skulls=(replace(skull, since=since, earlier=()),))


def _with_earlier(story: TubHistory, soak: EarlierSoak) -> TubHistory:
    """Return a story with that of the tub which the skull came from put in front."""
    before, until = soak.tub, soak.until
    moved = tuple(_moved(change) if change.at == until else change for change in story.changes)
    return replace(
        story,
        changes=(*_until(before.changes, until), *moved),
        readings=(*_scaled(soak, story), *story.readings),
        temperatures=(*_until(before.temperatures, until), *story.temperatures),
        same_water=(*before.same_water, *story.same_water),
        top_ups=(*_until(before.top_ups, until), *story.top_ups),
    )


def _moved(filling: WaterChange) -> WaterChange:
    """Return the filling that a skull moved into: none of the earlier tub's haze is in it.

    Unless the water had kept some of its own: then its share of haze is unknown.
    """
    return replace(filling, carry_over=None if filling.carry_over else 0.0)


def _until(entries: Iterable[EntryT], until: datetime) -> tuple[EntryT, ...]:
    return tuple(one for one in entries if one.at < until)


def _alone(soak: EarlierSoak) -> bool:
    return len(soak.tub.skulls) == 1 and not soak.tub.skulls[0].earlier


def _scaled(soak: EarlierSoak, story: TubHistory) -> list[HazeReading]:
    """Return the readings of an earlier tub as haze of the volume of the story's."""
    ratio = 1.0
    if soak.tub.volume_l and story.volume_l:
        ratio = soak.tub.volume_l / story.volume_l
    return [
        replace(
            reading,
            attenuation_per_m=reading.attenuation_per_m * ratio,
            std_per_m=reading.std_per_m * ratio,
        )
        for reading in soak.tub.readings
        if reading.at <= soak.until
    ]
