"""The one task list: what the log asks for, what is advised, what is next for each skull."""

from __future__ import annotations

from datetime import timedelta
from functools import partial
from typing import TYPE_CHECKING

from greasecheck.answers import Finding, Task, TubAnswer, most_pressing_first
from greasecheck.logbook.today import Ask
from greasecheck.model.verdicts import ChangeVerdict, DoneVerdict, StallVerdict
from greasecheck.reference.advice import advice_value
from greasecheck.stages import Stage

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from datetime import datetime

    from greasecheck.garage.milestones import SkullLife
    from greasecheck.garage.soaks.answers import Brief, SkullAnswer
    from greasecheck.logbook.records import ProbableChange
    from greasecheck.logbook.today import TubToday

ASKED = {
    Ask.ENTER_BATH: Finding.ENTER_BATH,
    Ask.CONFIRM_CHANGE: Finding.CONFIRM_CHANGE,
    Ask.RETAKE_PHOTO: Finding.RETAKE_PHOTO,
    Ask.DILUTE: Finding.DILUTE,
    Ask.TAKE_PHOTO: Finding.PHOTOGRAPH_WATER,
    Ask.NAME_TUB: Finding.NAME_TUB,
}
# What is wrong with a tub, and so with all that soaks in it.
ALARMS = frozenset(
    {Finding.LOOK_AT_TUB, Finding.LOOK_AT_RISE, Finding.ENTER_BATH, Finding.CONFIRM_CHANGE}
)
SKULLS = {
    DoneVerdict.DONE: Finding.TAKE_OUT,
    DoneVerdict.LOOK_AT_BONE: Finding.PHOTOGRAPH_BONE,
    DoneVerdict.LOOK_AT_TUB: Finding.LOOK_BEFORE_TAKING_OUT,
    DoneVerdict.YELLOW_PATCHES: Finding.SOAK_ON_YELLOW,
    DoneVerdict.BONE_PALING: Finding.SOAK_ON_PALING,
    DoneVerdict.MEASURE_WARMTH: Finding.MEASURE_WARMTH,
    DoneVerdict.PROVE: Finding.LEAVE_WATER,
    DoneVerdict.PROVE_APART: Finding.PROVE_APART,
}


def tub_answer(
    today: TubToday, brief: Brief | None, *, fault: str = "", made_at: datetime | None = None
) -> TubAnswer:
    """Return the answer about a tub.

    Parameters
    ----------
    today : TubToday
        How it stands by the log.
    brief : Brief or None
        What is advised; None for one in which nothing degreases, or that is not worked out.
    fault : str
        Why nothing can be advised, though something degreases.
    made_at : datetime.datetime, optional
        When it was worked out; None while it is still to come.
    """
    tasks = [*_asked(today), *(_advised(today, brief) if brief else ())]
    return TubAnswer(
        tub=today.tub.number,
        name=today.tub.name,
        tasks=most_pressing_first(tasks),
        rest=_rest(today, brief, fault, made_at),
        made_at=made_at,
        newest_at=today.haze.taken_at if today.haze else None,
        skulls=today.skulls,
    )


def stage_tasks(lives: Iterable[SkullLife], now: datetime) -> Iterator[Task]:
    """Yield the step that each skull outside a degreasing bath waits for, once it is due."""
    for life in lives:
        stage = life.stage
        if stage.stage in {Stage.SOAKING, Stage.ENTERED} or stage.next_at is None:
            continue
        if stage.next_at <= now:
            yield Task(
                finding=Finding.NEXT_STEP, skull=life.name, stage=stage.stage, since=stage.since
            )


def _asked(today: TubToday) -> Iterator[Task]:
    """Yield what the log itself asks for; a photo due by its age is asked of tubs in use alone."""
    again = {Ask.RETAKE_PHOTO, Ask.DILUTE} & set(today.asks)
    for ask in today.asks:
        if ask is Ask.TAKE_PHOTO and (again or not today.skulls):
            continue
        if ask is Ask.CONFIRM_CHANGE:
            yield from map(partial(_confirm, today), today.unentered)
        else:
            yield _task(today, ASKED[ask], **_details(today, ask))


def _confirm(today: TubToday, found: ProbableChange) -> Task:
    fell = (found.before_per_m, found.after_per_m)
    return _task(today, Finding.CONFIRM_CHANGE, since=found.latest, values=fell)


def _details(today: TubToday, ask: Ask) -> dict[str, object]:
    if ask is Ask.RETAKE_PHOTO and today.refused is not None:
        return {"note": f"{today.refused.problem}; {today.refused.hint}"}
    if ask in {Ask.TAKE_PHOTO, Ask.RETAKE_PHOTO} and today.haze is not None:
        return {"since": today.haze.taken_at}
    return {}


def _task(today: TubToday, finding: Finding, **more: object) -> Task:
    return Task(finding=finding, tub=today.tub.number, tub_name=today.tub.name, **more)  # type: ignore[arg-type]


def _advised(today: TubToday, brief: Brief) -> Iterator[Task]:
    if brief.stall is StallVerdict.STALLED:
        yield _task(
            today,
            Finding.LOOK_AT_TUB,
            since=brief.stall_began_at,
            share=brief.stall_rate_share,
            causes=brief.stall_causes,
        )
    if brief.stall is StallVerdict.QUICKENED:
        since, share = brief.stall_began_at, brief.stall_rate_share
        yield _task(today, Finding.LOOK_AT_RISE, since=since, share=share)
    if brief.change is ChangeVerdict.CHANGE:
        yield _task(today, Finding.CHANGE_WATER, share=brief.leach_share, days=brief.bath_age_days)
    for skull in brief.skulls:
        if skull.verdict in SKULLS:
            yield _skull_task(today, skull)


def skull_tasks(tubs: Iterable[TubToday], briefs: Mapping[int, Brief | None]) -> dict[str, Task]:
    """Return what is most pressing about each skull that soaks, by its name.

    What its own bone or proof asks for, or what is wrong with its tub; nothing for a skull whose
    tub asks for a photo or fresh water alone.

    Parameters
    ----------
    tubs : iterable of TubToday
        How the tubs stand by the log.
    briefs : mapping of int to (Brief or None)
        What is kept about them, by number.
    """
    answers = [tub_answer(today, briefs.get(today.tub.number)) for today in tubs]
    found = (
        (name, task)
        for answer in answers
        for task in reversed(answer.tasks)  # the first of them stands
        for name in ({task.skull} if task.skull else answer.skulls)
        if task.skull or task.finding in ALARMS
    )
    return dict(found)


def _skull_task(today: TubToday, skull: SkullAnswer) -> Task:
    return _task(today, SKULLS[skull.verdict], skull=skull.name, share=skull.yellow_patch_share)


def _rest(today: TubToday, brief: Brief | None, fault: str, made_at: datetime | None) -> Task:
    """Return what to answer when nothing presses: a date, or why there is none."""
    if brief is not None:
        return _end(today, brief)
    if today.rinses:
        return _rinse(today)
    if today.bath is None:
        return _task(today, Finding.EMPTY)
    if not today.skulls:
        return _task(today, Finding.RESTS)
    if fault or made_at is not None:
        return _task(today, Finding.CANNOT_TELL, note=fault)
    return _task(today, Finding.NOT_KNOWN_YET)


def _rinse(today: TubToday) -> Task:
    """Return until when the skull that rinses longest does so, or that it has been long enough."""
    until = today.soak_since and today.soak_since + timedelta(days=advice_value("resoak_days"))
    is_over = until is not None and until <= today.at
    return _task(today, Finding.RINSED if is_over else Finding.RINSES, since=until)


def _end(today: TubToday, brief: Brief) -> Task:
    """Return when the tub is done, or why that is withheld."""
    if brief.withheld is not None:
        return _task(today, Finding.NO_DATE, causes=(brief.withheld,))
    is_known = brief.probability_degreased_now is not None
    early, middle, late = brief.degreased_at if is_known else brief.clear_at
    finding = Finding.CLEAR_LATE if middle is None else Finding.CLEAR_ABOUT
    return _task(today, finding, since=middle, span=(early, late), guessed=today.haze is None)
