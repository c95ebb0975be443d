"""The life of a skull from its entry to its follow-up: where it stands and what is next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from greasecheck.reference.advice import advice_value
from greasecheck.stages import Stage

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Milestone:
    """A stage and when the skull reached it."""

    stage: Stage
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class SkullStage:
    """Where a skull stands.

    Attributes
    ----------
    stage : Stage
        Its stage.
    since : datetime.datetime or None
        Since when; None for a skull that only has a name.
    done : bool
        Whether a soaking skull can come out by water and bone.
    next_at : datetime.datetime or None
        When the next step is due; None while that is unknown.
    promise_at : datetime.datetime or None
        When its owner can have it, with 9 in 10; None when unknown or when it is out of hands.
    """

    stage: Stage
    since: datetime | None
    done: bool
    next_at: datetime | None
    promise_at: datetime | None

    @property
    def is_finished(self) -> bool:
        """Return whether nothing is left to do."""
        return self.stage is Stage.FOLLOWED_UP


LEFT_TO_DO = {
    Stage.SOAKING: ("whitening_high_hours", "resoak_days", "drying_days"),
    Stage.DEGREASED: ("whitening_high_hours", "resoak_days", "drying_days"),
    Stage.WHITENED: ("resoak_days", "drying_days"),
    Stage.RINSING: ("resoak_days", "drying_days"),
    Stage.DRIED: (),
}


def skull_stage(
    milestones: Sequence[Milestone],
    now: datetime,
    *,
    surely_degreased_at: datetime | None = None,
    done: bool = False,
) -> SkullStage:
    """Return where a skull stands, what is next, and when its owner can have it.

    Parameters
    ----------
    milestones : sequence of Milestone
        Stages it reached, in any order.
    now : datetime.datetime
        Zone-aware; a step that waits to be begun counts from now.
    surely_degreased_at : datetime.datetime, optional
        For a soaking skull: by when it is degreased with 9 in 10.
    done : bool
        For a soaking skull: whether by water and bone it can come out.

    Notes
    -----
    The promise is the 9-in-10 date of being degreased, then whitening, resoaking and drying as long
    as calibration/advice.csv says. It cannot foresee yellow patches that outlast the haze.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> out = Milestone(stage=Stage.DEGREASED, at=datetime(2026, 5, 1, tzinfo=UTC))
    >>> skull_stage([out], out.at).promise_at.isoformat()
    '2026-05-23T00:00:00+00:00'
    """
    reached = sorted((mark for mark in milestones if mark.at <= now), key=lambda mark: mark.at)
    if not reached:
        return SkullStage(
            stage=Stage.ENTERED,
            since=None,
            done=False,
            next_at=None,
            promise_at=None,
        )
    last = reached[-1]
    return SkullStage(
        stage=last.stage,
        since=last.at,
        done=done and last.stage is Stage.SOAKING,
        next_at=_next_at(reached, now, surely_degreased_at),
        promise_at=_promise(last, now, surely_degreased_at),
    )


def left_to_do(stage: Stage) -> timedelta:
    """Return how long the steps take that are left after a stage; zero when none is."""
    return sum((_span(name) for name in LEFT_TO_DO.get(stage, ())), timedelta(0))


def _next_at(
    reached: Sequence[Milestone], now: datetime, surely_degreased_at: datetime | None
) -> datetime | None:
    last = reached[-1]
    if last.stage is Stage.SOAKING:
        return None if surely_degreased_at is None else max(surely_degreased_at, now)
    if last.stage is Stage.RETURNED:
        return _follow_up_at(reached)
    wait = {
        Stage.DEGREASED: timedelta(0),
        Stage.WHITENED: timedelta(0),
        Stage.RINSING: _span("resoak_days"),
        Stage.DRIED: timedelta(0),
    }.get(last.stage)
    return None if wait is None else last.at + wait


def _follow_up_at(reached: Sequence[Milestone]) -> datetime:
    """Return when a skull that went home is to be looked at again.

    Bone yellows from its whitening on, and so counts the risk; without one, from the return.
    """
    last = reached[-1]
    begun = next(
        (mark for mark in reversed(reached) if mark.stage in {Stage.SOAKING, Stage.WHITENED}), last
    )
    since = begun.at if begun.stage is Stage.WHITENED else last.at
    return max(since + _span("follow_up_first_days"), last.at)


def _promise(
    last: Milestone, now: datetime, surely_degreased_at: datetime | None
) -> datetime | None:
    if last.stage not in LEFT_TO_DO:
        return None
    begin = surely_degreased_at if last.stage is Stage.SOAKING else now
    if begin is None:
        return None
    begin = last.at if last.stage is Stage.RINSING else max(begin, now)
    return max(begin + left_to_do(last.stage), now)


def _span(name: str) -> timedelta:
    value = advice_value(name)
    return timedelta(hours=value) if name.endswith("_hours") else timedelta(days=value)
