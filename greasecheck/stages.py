"""The stages of a skull: the one place that says what may follow what."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


class EventKind(StrEnum):
    """What can happen to a skull."""

    ENTERED = "entered"
    MOVED = "moved"
    DEGREASED = "degreased"
    WHITENED = "whitened"
    RESOAKED = "resoaked"
    DRIED = "dried"
    RETURNED = "returned"


class Stage(StrEnum):
    """Where a skull stands, in the order of its life."""

    ENTERED = "entered"
    SOAKING = "soaking"
    DEGREASED = "degreased"
    WHITENED = "whitened"
    RINSING = "soaking after whitening"
    DRIED = "dried"
    RETURNED = "returned"
    FOLLOWED_UP = "followed up"


# A skull may come from another preparer, who degreased or whitened it, and may go home unfinished.
FOLLOWING: dict[Stage, dict[EventKind, Stage]] = {
    Stage.ENTERED: {
        EventKind.ENTERED: Stage.SOAKING,
        EventKind.RESOAKED: Stage.SOAKING,
        EventKind.DEGREASED: Stage.DEGREASED,
        EventKind.WHITENED: Stage.WHITENED,
        EventKind.RETURNED: Stage.RETURNED,
    },
    Stage.SOAKING: {
        EventKind.DEGREASED: Stage.DEGREASED,
        EventKind.MOVED: Stage.SOAKING,
        EventKind.RETURNED: Stage.RETURNED,
    },
    Stage.DEGREASED: {
        EventKind.WHITENED: Stage.WHITENED,
        EventKind.RESOAKED: Stage.SOAKING,
        EventKind.DRIED: Stage.DRIED,
        EventKind.RETURNED: Stage.RETURNED,
    },
    Stage.WHITENED: {
        EventKind.RESOAKED: Stage.RINSING,
        EventKind.WHITENED: Stage.WHITENED,
        EventKind.DRIED: Stage.DRIED,
        EventKind.RETURNED: Stage.RETURNED,
    },
    Stage.RINSING: {
        EventKind.DRIED: Stage.DRIED,
        EventKind.MOVED: Stage.RINSING,
        EventKind.WHITENED: Stage.WHITENED,
        EventKind.RETURNED: Stage.RETURNED,
    },
    Stage.DRIED: {
        EventKind.RETURNED: Stage.RETURNED,
        EventKind.WHITENED: Stage.WHITENED,
        EventKind.RESOAKED: Stage.SOAKING,
    },
    Stage.RETURNED: {
        EventKind.RESOAKED: Stage.SOAKING,
        EventKind.WHITENED: Stage.WHITENED,
    },
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Misstep:
    """An event that cannot follow: where the skull stood, what it was, what is missing between."""

    stage: Stage
    event: EventKind
    missing: tuple[EventKind, ...]


def stages_of(events: Iterable[EventKind]) -> tuple[Stage, ...]:
    """Return the stage after each event, oldest first; what cannot follow changes nothing.

    Examples
    --------
    >>> [str(stage) for stage in stages_of([EventKind.ENTERED, EventKind.DEGREASED])]
    ['soaking', 'degreased']
    """
    stage, found = Stage.ENTERED, []
    for event in events:
        stage = FOLLOWING[stage].get(event, stage)
        found.append(stage)
    return tuple(found)


def allowed_after(stage: Stage) -> tuple[EventKind, ...]:
    """Return what may happen to a skull at a stage, the usual next step first."""
    return tuple(FOLLOWING.get(stage, {}))


def first_misstep(events: Sequence[EventKind]) -> Misstep | None:
    """Return the first event that cannot follow those before it; None when all can.

    Parameters
    ----------
    events : sequence of EventKind
        All that happened to one skull, oldest first.

    Examples
    --------
    >>> wrong = first_misstep([EventKind.ENTERED, EventKind.DRIED])
    >>> wrong.stage, [str(event) for event in wrong.missing]
    (<Stage.SOAKING: 'soaking'>, ['degreased'])
    """
    stages = (Stage.ENTERED, *stages_of(events))
    for (before, _), event in zip(pairwise(stages), events, strict=True):
        if event not in FOLLOWING[before]:
            return Misstep(stage=before, event=event, missing=_between(before, event))
    return None


def _between(stage: Stage, event: EventKind) -> tuple[EventKind, ...]:
    """Return the fewest events after which `event` may follow; none when nothing leads there."""
    ways: list[tuple[Stage, tuple[EventKind, ...]]] = [(stage, ())]
    seen = {stage}
    for at, way in ways:
        if event in FOLLOWING[at]:
            return way
        for step, then in FOLLOWING[at].items():
            if then not in seen:
                seen.add(then)
                ways.append((then, (*way, step)))
    return ()
