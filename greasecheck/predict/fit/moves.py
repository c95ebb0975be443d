"""A skull that moved alone from tub to tub: one history, in which the move is a water change."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greasecheck.predict.records import EarlierSoak, HazeReading, TubHistory


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
        before = soak.tub
        story = replace(
            story,
            changes=(
                *(change for change in before.changes if change.at < soak.until),
                *(
                    replace(change, carry_over=0.0 if change.carry_over is None else None)
                    if change.at == soak.until
                    else change
                    for change in story.changes
                ),
            ),
            readings=(*_scaled(soak, history), *story.readings),
            temperatures=(
                *(record for record in before.temperatures if record.at < soak.until),
                *story.temperatures,
            ),
            same_water=(*before.same_water, *story.same_water),
            top_ups=(*(top for top in before.top_ups if top.at < soak.until), *story.top_ups),
        )
    since = min(one.since for soak in skull.earlier for one in soak.tub.skulls)
    return replace(story, skulls=(replace(skull, since=since, earlier=()),))


def _alone(soak: EarlierSoak) -> bool:
    return len(soak.tub.skulls) == 1 and not soak.tub.skulls[0].earlier


def _scaled(soak: EarlierSoak, history: TubHistory) -> list[HazeReading]:
    """Return the readings of an earlier tub as haze of this tub's volume."""
    ratio = 1.0
    if soak.tub.volume_l and history.volume_l:
        ratio = soak.tub.volume_l / history.volume_l
    return [
        replace(
            reading,
            attenuation_per_m=reading.attenuation_per_m * ratio,
            std_per_m=reading.std_per_m * ratio,
        )
        for reading in soak.tub.readings
        if reading.at <= soak.until
    ]
