"""Soaks: from a skull's entry or resoaking to its end, moves between tubs joined."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.logbook.skulls.skulls import (
    events_of_tub,
    every_event,
    list_skulls,
    rinse_soaks,
    rinses_among,
    skull_named,
    soaking,
    stays_among,
)

if TYPE_CHECKING:
    from datetime import datetime

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


def list_soaks(book: Logbook, tub: int | None = None) -> tuple[Soak, ...]:
    """Return every soak, or those that are in a tub or ended there, by skull, oldest first.

    Moves between tubs are joined.
    """
    species = {skull.name: skull.species for skull in list_skulls(book)}
    events = every_event(book) if tub is None else events_of_tub(book, tub)
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
        if tub in (None, stay.tub)
    )


def present_soaks(book: Logbook, tub: int) -> tuple[Soak, ...]:
    """Return the soaks that go on in `tub`, by skull."""
    rinsing = rinse_soaks(book)
    return tuple(
        Soak(
            skull=stay.skull,
            species=skull_named(book, stay.skull).species,
            tub=tub,
            since=stay.soak_since,
            until=None,
            degreased=False,
            rinses=(stay.skull, stay.soak_since) in rinsing,
        )
        for stay in soaking(book)
        if stay.tub == tub
    )
