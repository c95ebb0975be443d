"""The stages that skulls reached, from what happened to them; nothing heavy is loaded."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import groupby
from operator import attrgetter
from typing import TYPE_CHECKING

from greasecheck.logbook.skulls.skulls import every_follow_up, follow_ups
from greasecheck.logbook.skulls.stays import every_event, skull_events
from greasecheck.predict.advice.stage import Milestone
from greasecheck.stages import EventKind, Stage, stages_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from greasecheck.logbook.records import FollowUp, SkullEvent
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.model.reasons import ReasonCode
    from greasecheck.predict.advice.stage import SkullStage


@dataclass(frozen=True, slots=True, kw_only=True)
class SkullLife:
    """A skull, its owner, where it stands, and why it has no date though the haze has one."""

    name: str
    owner: str | None
    stage: SkullStage
    withheld: ReasonCode | None = None


def milestones(book: Logbook, skull: str) -> tuple[Milestone, ...]:
    """Return the stages that a skull reached; a soak right after whitening only rinses."""
    return _milestones(skull_events(book, skull), follow_ups(book, skull))


def all_milestones(book: Logbook) -> Mapping[str, tuple[Milestone, ...]]:
    """Return the stages that each skull with any event reached, by its name."""
    looks = defaultdict(list)
    for look in every_follow_up(book):
        looks[look.skull].append(look)
    return {
        skull: _milestones(tuple(events), looks[skull])
        for skull, events in groupby(every_event(book), key=attrgetter("skull"))
    }


def _milestones(events: Sequence[SkullEvent], looks: Sequence[FollowUp]) -> tuple[Milestone, ...]:
    seen = [Milestone(stage=Stage.FOLLOWED_UP, at=one.seen_at) for one in looks]
    return (*_reached(events), *seen)


def _reached(events: Sequence[SkullEvent]) -> Iterator[Milestone]:
    """Yield each stage when it was reached; a move to another tub reaches none."""
    before = Stage.ENTERED
    for event, stage in zip(events, stages_of(one.kind for one in events), strict=True):
        if stage is not before or event.kind is EventKind.WHITENED:
            yield Milestone(stage=stage, at=event.happened_at)
        before = stage
