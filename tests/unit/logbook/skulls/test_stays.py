"""Which soaks only rinse is known from what came before in the same skull's history."""

from datetime import UTC, datetime, timedelta

from greasecheck.logbook.records import SkullEvent
from greasecheck.logbook.skulls.stays import rinses_among, stays_among
from greasecheck.stages import EventKind

START = datetime(2026, 5, 1, 9, tzinfo=UTC)


def event(skull: str, day: int, kind: EventKind, tub: int | None = None) -> SkullEvent:
    return SkullEvent(skull=skull, happened_at=START + timedelta(days=day), kind=kind, tub=tub)


def test_a_soak_right_after_the_whitening_of_the_same_skull_is_a_rinse() -> None:
    events = [
        event("fox", 0, EventKind.WHITENED),
        event("fox", 1, EventKind.RESOAKED),
        event("mink", 0, EventKind.DEGREASED),
        event("mink", 2, EventKind.RESOAKED),
    ]
    assert rinses_among(events) == {("fox", START + timedelta(days=1))}


def test_a_soak_after_another_skull_s_whitening_is_none() -> None:
    events = [event("fox", 0, EventKind.WHITENED), event("mink", 1, EventKind.RESOAKED)]
    assert rinses_among(events) == frozenset()


def test_a_soak_goes_on_in_another_tub_but_not_once_it_has_ended() -> None:
    """Imports may lack that the skull went in again before it was moved."""
    events = [
        event("fox", 0, EventKind.ENTERED, 12),
        event("fox", 3, EventKind.MOVED, 14),
        event("fox", 5, EventKind.DEGREASED),
        event("fox", 9, EventKind.MOVED, 15),
        event("mink", 9, EventKind.MOVED, 15),
    ]
    begun = [(stay.tub, (stay.soak_since - START).days) for stay in stays_among(events)]
    assert begun == [(12, 0), (14, 0), (15, 9), (15, 9)]
