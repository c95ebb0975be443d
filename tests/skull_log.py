"""What happens to skulls, entered into a logbook."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.logbook.records import Skull, SkullEvent
from greasecheck.logbook.skulls.skulls import enter_event, enter_skull
from greasecheck.stages import EventKind
from tests.logbook_samples import day

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.logbook.store.book import Logbook


def put_in(
    book: Logbook,
    name: str,
    at: datetime,
    tub: int,
    *,
    species: str | None = None,
    tag: int | None = None,
) -> None:
    """Enter a new skull with the tub that it goes into."""
    event = SkullEvent(skull=name, happened_at=at, kind=EventKind.ENTERED, tub=tub)
    enter_skull(book, Skull(name=name, species=species, tag=tag), event)


def soak(book: Logbook, name: str, tub: int, at_days: float = 0, tag: int | None = None) -> None:
    """Enter a new fox that goes into a tub on a day."""
    put_in(book, name, day(at_days), tub, species="fox", tag=tag)


def happen(book: Logbook, name: str, kind: EventKind, at: datetime, tub: int | None = None) -> None:
    """Enter an event of a skull; a whitening is a mild one, 3 % for a day."""
    strength, hours = (3.0, 24.0) if kind is EventKind.WHITENED else (None, None)
    event = SkullEvent(
        skull=name,
        happened_at=at,
        kind=kind,
        tub=tub,
        strength_percent=strength,
        duration_h=hours,
    )
    enter_event(book, event)
