"""Which events of a skull reach a stage, and when."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from greasecheck.garage.milestones import _milestones
from greasecheck.logbook.records import FollowUp, SkullEvent
from greasecheck.predict.advice.stage import Milestone
from greasecheck.stages import EventKind, Stage

START = datetime(2026, 3, 1, 18, tzinfo=UTC)


def events(*kinds: EventKind) -> list[SkullEvent]:
    """Return events ten days apart."""
    return [
        SkullEvent(skull="fox", happened_at=START + timedelta(days=10 * n), kind=kind)
        for n, kind in enumerate(kinds)
    ]


def reached(*kinds: EventKind) -> list[tuple[int, Stage]]:
    return [((one.at - START).days // 10, one.stage) for one in _milestones(events(*kinds), ())]


def test_a_move_reaches_no_stage_and_each_whitening_begins_anew() -> None:
    """Bone yellows from its last whitening on; in another tub a soak goes on."""
    assert reached(
        EventKind.ENTERED,
        EventKind.MOVED,
        EventKind.DEGREASED,
        EventKind.WHITENED,
        EventKind.WHITENED,
        EventKind.RESOAKED,
        EventKind.MOVED,
        EventKind.DRIED,
    ) == [
        (0, Stage.SOAKING),
        (2, Stage.DEGREASED),
        (3, Stage.WHITENED),
        (4, Stage.WHITENED),
        (5, Stage.RINSING),
        (7, Stage.DRIED),
    ]


def test_a_soak_after_degreasing_is_no_rinse() -> None:
    again = reached(EventKind.ENTERED, EventKind.DEGREASED, EventKind.RESOAKED)
    assert again == [(0, Stage.SOAKING), (1, Stage.DEGREASED), (2, Stage.SOAKING)]


def test_a_later_look_is_a_milestone_of_its_own() -> None:
    look = FollowUp(skull="fox", seen_at=START + timedelta(days=60), yellowed=False)
    found = _milestones(events(EventKind.ENTERED, EventKind.RETURNED), [look])
    assert found[-1] == Milestone(stage=Stage.FOLLOWED_UP, at=look.seen_at)
