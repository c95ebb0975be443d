"""What is answered about a tub or a skull: codes with values, and no words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from greasecheck.model.reasons import ReasonCode


class Finding(StrEnum):
    """What can be found about a tub or a skull; the first of a kind presses most.

    The order within an urgency is the order of the list.
    """

    LOOK_AT_TUB = "look_at_tub"
    LOOK_BEFORE_TAKING_OUT = "look_before_taking_out"
    PROMISE_AT_RISK = "promise_at_risk"
    LOOK_AT_RISE = "look_at_rise"
    ENTER_BATH = "enter_bath"
    MEASURE_WARMTH = "measure_warmth"
    TAKE_OUT = "take_out"
    CHANGE_WATER = "change_water"
    CONFIRM_CHANGE = "confirm_change"
    NEXT_STEP = "next_step"
    RETAKE_PHOTO = "retake_photo"
    DILUTE = "dilute"
    PHOTOGRAPH_BONE = "photograph_bone"
    PHOTOGRAPH_WATER = "photograph_water"
    SOAK_ON_YELLOW = "soak_on_yellow"
    SOAK_ON_PALING = "soak_on_paling"
    LEAVE_WATER = "leave_water"
    PROVE_APART = "prove_apart"
    NAME_TUB = "name_tub"
    CLEAR_ABOUT = "clear_about"
    CLEAR_LATE = "clear_late"
    NO_DATE = "no_date"
    RINSES = "rinses"
    RINSED = "rinsed"
    RESTS = "rests"
    EMPTY = "empty"
    CANNOT_TELL = "cannot_tell"
    NOT_KNOWN_YET = "not_known_yet"


class Urgency(StrEnum):
    """How soon a thing is to be done, most pressing first."""

    TROUBLE = "trouble"
    TODAY = "today"
    PHOTO = "photo"
    KNOW = "know"
    NONE = "none"


URGENCIES = {
    Finding.LOOK_AT_TUB: Urgency.TROUBLE,
    Finding.LOOK_BEFORE_TAKING_OUT: Urgency.TROUBLE,
    Finding.PROMISE_AT_RISK: Urgency.TROUBLE,
    Finding.LOOK_AT_RISE: Urgency.TODAY,
    Finding.ENTER_BATH: Urgency.TODAY,
    Finding.MEASURE_WARMTH: Urgency.TODAY,
    Finding.TAKE_OUT: Urgency.TODAY,
    Finding.CHANGE_WATER: Urgency.TODAY,
    Finding.CONFIRM_CHANGE: Urgency.TODAY,
    Finding.NEXT_STEP: Urgency.TODAY,
    Finding.RETAKE_PHOTO: Urgency.PHOTO,
    Finding.DILUTE: Urgency.PHOTO,
    Finding.PHOTOGRAPH_BONE: Urgency.PHOTO,
    Finding.PHOTOGRAPH_WATER: Urgency.PHOTO,
    Finding.SOAK_ON_YELLOW: Urgency.KNOW,
    Finding.SOAK_ON_PALING: Urgency.KNOW,
    Finding.LEAVE_WATER: Urgency.KNOW,
    Finding.PROVE_APART: Urgency.KNOW,
    Finding.NAME_TUB: Urgency.KNOW,
}
# What is found beside a date, and does not stand in its place.
BESIDE = frozenset({Finding.NAME_TUB})
# With these found, the date is left out: it is past.
PAST = frozenset({Finding.TAKE_OUT, Finding.PHOTOGRAPH_BONE})


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Something found about a tub or a skull, with the values that its words need.

    Attributes
    ----------
    finding : Finding
        What was found.
    tub : int or None
        The tub, when it is about one.
    tub_name : str or None
        What the tub is called.
    skull : str or None
        The skull, when it is about one.
    since : datetime.datetime or None
        Since when it holds, or of when what it rests on is.
    share : float or None
        The pace of leaching, of the usual or of that in fresh water; the odds of a promise, 0 to 1.
    days : float or None
        An age or an interval [days].
    stage : str
        The skull's stage, for its next step.
    values : tuple of float
        Other numbers that the words name, in the order of the finding's words.
    causes : tuple of ReasonCode
        What to look at, or why there is no date.
    span : tuple of datetime.datetime
        When it holds with 1 in 10 and 9 in 10; None lies beyond ten years.
    guessed : bool
        Whether a date rests on what is usual for the species alone, without any reading.
    note : str
        What another part found, in its own words, such as why a photo was refused.
    """

    finding: Finding
    tub: int | None = None
    tub_name: str | None = None
    skull: str | None = None
    since: datetime | None = None
    share: float | None = None
    days: float | None = None
    stage: str = ""
    values: tuple[float, ...] = ()
    causes: tuple[ReasonCode, ...] = ()
    span: tuple[datetime | None, ...] = ()
    guessed: bool = False
    note: str = ""

    @property
    def urgency(self) -> Urgency:
        """Return how soon it is to be done."""
        return URGENCIES.get(self.finding, Urgency.NONE)


@dataclass(frozen=True, slots=True, kw_only=True)
class TubAnswer:
    """How a tub stands, for every face of the tool.

    Attributes
    ----------
    tub : int
        Its number.
    name : str or None
        What it is called.
    tasks : tuple of Task
        All that was found, most pressing first.
    rest : Task
        What to answer when nothing presses: a date, or why there is none.
    made_at : datetime.datetime or None
        When it was worked out; None while it is not.
    newest_at : datetime.datetime or None
        The tub's newest reading.
    is_current : bool
        False when an entry has been made since it was worked out.
    skulls : tuple of str
        What soaks in it.
    """

    tub: int
    name: str | None
    tasks: tuple[Task, ...]
    rest: Task
    made_at: datetime | None = None
    newest_at: datetime | None = None
    is_current: bool = True
    skulls: tuple[str, ...] = ()

    @property
    def main(self) -> Task:
        """Return the one answer: what presses most, else the date."""
        pressing = [task for task in self.tasks if task.finding not in BESIDE]
        return pressing[0] if pressing else self.rest

    @property
    def date(self) -> Task | None:
        """Return when it is degreased, to stand beside the answer; None when that misleads."""
        found = {task.finding for task in self.tasks}
        if self.rest.finding is not Finding.CLEAR_ABOUT or found & PAST or self.main is self.rest:
            return None
        return self.rest

    @property
    def urgency(self) -> Urgency:
        """Return how soon something is to be done about the tub."""
        return self.main.urgency


def most_pressing_first(tasks: list[Task]) -> tuple[Task, ...]:
    """Return tasks by urgency, then in the order of findings, then by tub."""
    urgencies, findings = list(Urgency), list(Finding)
    return tuple(
        sorted(
            tasks,
            key=lambda task: (
                urgencies.index(task.urgency),
                findings.index(task.finding),
                -1 if task.tub is None else task.tub,
            ),
        )
    )


def due_first(answers: tuple[TubAnswer, ...]) -> tuple[TubAnswer, ...]:
    """Return answers by urgency, then by number."""
    order = list(Urgency)
    return tuple(sorted(answers, key=lambda one: (order.index(one.urgency), one.tub)))
