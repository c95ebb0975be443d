"""Soaks: from a skull's entry or resoaking to its end, moves between tubs joined."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.logbook.skulls.skulls import list_skulls, skull_named
from greasecheck.logbook.skulls.stays import every_event, present_events, rinses_among, stays_among

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from greasecheck.logbook.records import Skull, SkullEvent
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.model import BodyCondition


@dataclass(frozen=True, slots=True, kw_only=True)
class Soak:
    """A skull's soak, from its entry or resoaking to its end; `until` is None while it lasts.

    `tub` is the one it is in, or was in last; `degreased` is True when it ended because the skull
    was done; `rinses` that it follows a whitening, and has no grease left to draw. `condition` is
    how fat the animal was; None when that was not entered.
    """

    skull: str
    species: str | None
    tub: int
    since: datetime
    until: datetime | None
    degreased: bool
    rinses: bool
    condition: BodyCondition | None = None


def list_soaks(book: Logbook) -> tuple[Soak, ...]:
    """Return every soak of every skull, oldest first for each; moves between tubs joined."""
    skulls = {skull.name: skull for skull in list_skulls(book)}
    return _soaks(every_event(book), skulls)


def present_soaks(book: Logbook, tub: int) -> tuple[Soak, ...]:
    """Return the soaks that go on in `tub`, by skull."""
    events = present_events(book, tub)
    skulls = {name: skull_named(book, name) for name in {one.skull for one in events}}
    soaks = _soaks(events, skulls)
    return tuple(soak for soak in soaks if soak.tub == tub and soak.until is None)


def _soaks(events: Sequence[SkullEvent], skulls: Mapping[str, Skull]) -> tuple[Soak, ...]:
    rinsing = rinses_among(events)
    last_stays = {(stay.skull, stay.soak_since): stay for stay in stays_among(events)}
    return tuple(
        Soak(
            skull=stay.skull,
            species=skulls[stay.skull].species,
            tub=stay.tub,
            since=stay.soak_since,
            until=stay.until,
            degreased=stay.degreased,
            rinses=(stay.skull, stay.soak_since) in rinsing,
            condition=skulls[stay.skull].condition,
        )
        for stay in last_stays.values()
    )
