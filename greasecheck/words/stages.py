"""What is next for a skull, and what happened to it, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.reference.advice import advice_value
from greasecheck.stages import EventKind, Stage
from greasecheck.words.reasons import no_date_words
from greasecheck.words.times import day_words, near_day

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.model.reasons import ReasonCode

SHORT_STEPS = {
    Stage.ENTERED: "put into a tub",
    Stage.SOAKING: "soaks",
    Stage.DEGREASED: "whiten it",
    Stage.WHITENED: "into clean water",
    Stage.RINSING: "take out and dry",
    Stage.DRIED: "give it back",
    Stage.RETURNED: "look at it again",
    Stage.FOLLOWED_UP: "finished",
}
EVENTS = {
    EventKind.ENTERED: "put in",
    EventKind.MOVED: "moved",
    EventKind.DEGREASED: "done, taken out",
    EventKind.WHITENED: "whitened",
    EventKind.RESOAKED: "soaked again",
    EventKind.DRIED: "dried",
    EventKind.RETURNED: "given back",
}
TAKE_OUT = "take it out"


def stage_words(stage: Stage, since: datetime | None) -> str:
    """Return where a skull stands, and since when.

    Examples
    --------
    >>> stage_words(Stage.DRIED, None)
    'dried'
    """
    seen = stage is Stage.FOLLOWED_UP
    name = "looked at again" if seen else str(stage)
    return f"{name} {'on' if seen else 'since'} {day_words(since)}" if since else name


def short_step(stage: str, *, done: bool = False) -> str:
    """Return the next step of a skull at a stage in a few words; names as for `step_words`."""
    return TAKE_OUT if done and stage == Stage.SOAKING else SHORT_STEPS[Stage(stage)]


def step_words(stage: str, *, done: bool = False) -> str:
    """Return the next step of a skull at a stage, with the usual strengths and times.

    Parameters
    ----------
    stage : str
        A `Stage`.
    done : bool
        For a soaking skull: whether by water and bone it can come out.
    """
    if done and stage == Stage.SOAKING:
        return f"{TAKE_OUT}: little grease is left and its bone gets no paler"
    low, high = advice_value("whitening_low_hours"), advice_value("whitening_high_hours")
    weak, strong = advice_value("peroxide_low_percent"), advice_value("peroxide_high_percent")
    mild = advice_value("mild_peroxide_percent")
    from_h, to_h = advice_value("mild_low_hours"), advice_value("mild_high_hours")
    first, last = advice_value("follow_up_first_days"), advice_value("follow_up_last_days")
    return {
        Stage.ENTERED: "put it into a tub",
        Stage.SOAKING: "soak until little grease is left and its bone gets no paler",
        Stage.DEGREASED: f"whiten it: peroxide of {mild:g}% for {from_h:g} to {to_h:g} h is the "
        f"milder way; usual are {weak:g} to {strong:g}%, {low:g} to {high:g} h; "
        "goggles and gloves on, no acetone left on the bone",
        Stage.WHITENED: f"soak it in clean water for {advice_value('resoak_days'):g} days",
        Stage.RINSING: f"take it out and dry it for {advice_value('drying_days'):g} days",
        Stage.DRIED: "give it to its owner",
        Stage.RETURNED: f"look at it again {first:g} to {last:g} days after whitening: did it "
        "yellow?",
        Stage.FOLLOWED_UP: "",
    }[Stage(stage)]


def ready_words(promise_at: datetime | None, withheld: ReasonCode | None, now: datetime) -> str:
    """Return by when a skull can be promised, as a row has room for; empty while that is unknown.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> now = datetime(2026, 3, 1, tzinfo=UTC)
    >>> ready_words(datetime(2026, 5, 8, 12, tzinfo=UTC), None, now)
    'ready by 8 May'
    """
    if withheld:
        return "no date yet"
    return f"ready by {near_day(promise_at, now)}" if promise_at else ""


def degreased_words(
    likely_at: datetime | None, surely_at: datetime | None, withheld: ReasonCode | None
) -> str:
    """Return when a skull is degreased, or why no date is told.

    Parameters
    ----------
    likely_at, surely_at : datetime.datetime or None
        By when with 1 in 2 and with 9 in 10; None beyond ten years, or withheld.
    withheld : ReasonCode or None
        Why no date is told.

    Examples
    --------
    >>> from greasecheck.model.reasons import ReasonCode
    >>> degreased_words(None, None, ReasonCode.BONE_CONTRADICTS)
    'no date: the bone says not yet'
    """
    if withheld:
        return no_date_words(withheld)
    return (
        f"degreased by {day_words(likely_at)} with 1 in 2, by {day_words(surely_at)} with 9 in 10"
    )
