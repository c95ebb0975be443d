"""Soaks: from a skull's entry or resoaking to its end, moves between tubs joined."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.logbook.skulls.skulls import (
    every_event,
    present_events,
    rinses_among,
    skull_named,
    stays_among,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from greasecheck.logbook.records import SkullEvent
    from greasecheck.logbook.store.book import Logbook


@dataclass(frozen=True, slots=True, kw_only=True)
class Soak:
    """A skull's soak, from its entry or resoaking to its end; `until` is None while it lasts.

    `tub` is the one it is in, or was in last; `degreased` tells that it ended because the skull
    was done; `rinses` that it follows a whitening, and has no grease left to draw.
    """

    skull: str
    species: str | None
    tub: int
    since: datetime
    until: datetime | None
    degreased: bool
    rinses: bool


def list_soaks(book: Logbook) -> tuple[Soak, ...]:
    """Return every soak of every skull, oldest first for each; moves between tubs joined."""
    species = dict(book.rows("SELECT name, species FROM skulls"))
    return _soaks(every_event(book), species)


def present_soaks(book: Logbook, tub: int) -> tuple[Soak, ...]:
    """Return the soaks that go on in `tub`, by skull."""
    events = present_events(book, tub)
    species = {name: skull_named(book, name).species for name in {one.skull for one in events}}
    soaks = _soaks(events, species)
    return tuple(soak for soak in soaks if soak.tub == tub and soak.until is None)


def _soaks(events: Sequence[SkullEvent], species: Mapping[str, str | None]) -> tuple[Soak, ...]:
    rinsing = rinses_among(events)
    last_stays = {(stay.skull, stay.soak_since): stay for stay in stays_among(events)}
    return tuple(
        Soak(
            skull=stay.skull,
            species=species[stay.skull],
            tub=stay.tub,
            since=stay.soak_since,
            until=stay.until,
            degreased=stay.degreased,
            rinses=(stay.skull, stay.soak_since) in rinsing,
        )
        for stay in last_stays.values()
    )
