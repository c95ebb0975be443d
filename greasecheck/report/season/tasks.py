"""Today's list: what the log asks for, what the advice says, and what is next for each skull."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.logbook.today import Ask
from greasecheck.predict.advice.change_interval import ChangeVerdict
from greasecheck.predict.advice.done import DoneVerdict
from greasecheck.predict.advice.stage import Stage
from greasecheck.predict.advice.stalled import StallVerdict
from greasecheck.report.season.records import Task, Urgency
from greasecheck.report.words import day_words, tub_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

    from greasecheck.logbook.today import TubToday
    from greasecheck.predict.advice.decisions import TubAdvice
    from greasecheck.predict.advice.done import DoneAdvice
    from greasecheck.predict.advice.stage import SkullStage
    from greasecheck.predict.advice.stalled import StallReport

ASKS = {
    Ask.ENTER_BATH: (Urgency.TODAY, "Enter what bath {tub} holds"),
    Ask.CONFIRM_CHANGE: (Urgency.TODAY, "Was the water of {tub} changed? Confirm it"),
    Ask.RETAKE_PHOTO: (Urgency.PHOTO, "Take the photo of {tub} again"),
    Ask.DILUTE: (Urgency.PHOTO, "Dilute the sample of {tub} and photograph it"),
    Ask.TAKE_PHOTO: (Urgency.PHOTO, "Photograph the water of {tub}"),
}
SKULLS = {
    DoneVerdict.DONE: (Urgency.TODAY, "{skull} is done: take it out of {tub}"),
    DoneVerdict.LOOK_AT_BONE: (Urgency.PHOTO, "Photograph the bone of {skull} in {tub}"),
    DoneVerdict.LOOK_AT_TUB: (Urgency.TROUBLE, "Look at {tub} before taking {skull} out"),
    DoneVerdict.YELLOW_PATCHES: (
        Urgency.KNOW,
        "Soak {skull} on in {tub}: clear water but yellow patches",
    ),
    DoneVerdict.BONE_PALING: (Urgency.KNOW, "Soak {skull} on in {tub}: its bone still pales"),
}


def tub_tasks(today: TubToday, advice: TubAdvice | None) -> Iterator[Task]:
    """Yield what is to be done about one tub."""
    tub, link = tub_words(today.tub.number, today.tub.name), f"tub-{today.tub.number}"
    needs_photo = today.skulls and not {Ask.RETAKE_PHOTO, Ask.DILUTE} & set(today.asks)
    for ask in today.asks:
        if ask in ASKS and (needs_photo or ask is not Ask.TAKE_PHOTO):
            urgency, what = ASKS[ask]
            yield Task(urgency=urgency, what=what.format(tub=tub), why=_why(today, ask), link=link)
    if advice is not None:
        yield from _advised(advice, tub, link)


def _why(today: TubToday, ask: Ask) -> str:
    if ask is Ask.RETAKE_PHOTO and today.refused is not None:
        return f"{today.refused.problem}; {today.refused.hint}"
    if ask is Ask.TAKE_PHOTO and today.haze is not None:
        return f"the last one is of {day_words(today.haze.taken_at)}"
    if ask is Ask.CONFIRM_CHANGE and today.probable is not None:
        found = today.probable
        return (
            f"its haze fell from {found.before_per_m:.0f} to {found.after_per_m:.0f} per metre "
            f"by {day_words(found.latest)}"
        )
    return ""


def _advised(advice: TubAdvice, tub: str, link: str) -> Iterator[Task]:
    if advice.stall.verdict is StallVerdict.STALLED:
        yield Task(
            urgency=Urgency.TROUBLE,
            what=f"Check heater, soap and bone of {tub}: it leaches too slowly",
            why=_stall_words(advice.stall),
            link=link,
        )
    if advice.change.verdict is ChangeVerdict.CHANGE:
        yield Task(
            urgency=Urgency.TODAY,
            what=f"Change the water of {tub}",
            why=advice.change.reasons[0],
            link=link,
        )
    for skull in advice.skulls:
        if skull.verdict in SKULLS:
            yield _skull_task(skull, tub, link)


def _stall_words(stall: StallReport) -> str:
    """Return since when it stalls, and what to look at."""
    words = " ".join(_sentence(reason) for reason in stall.reasons)
    return words.replace("Since then", f"Since {day_words(stall.began_at)}", 1)


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}" + ("" if words.endswith("?") else ".")


def _skull_task(skull: DoneAdvice, tub: str, link: str) -> Task:
    urgency, what = SKULLS[skull.verdict]
    return Task(
        urgency=urgency,
        what=what.format(skull=skull.name, tub=tub),
        why="; ".join(skull.reasons),
        link=link,
    )


def stage_task(name: str, stage: SkullStage, now: datetime) -> Task | None:
    """Return the step that a skull outside a degreasing bath waits for; None when none is due."""
    if stage.stage in {Stage.SOAKING, Stage.ENTERED} or stage.next_at is None:
        return None
    if stage.next_at > now:
        return None
    return Task(
        urgency=Urgency.TODAY,
        what=f"{name}: {stage.next_step}",
        why=f"{stage.stage} since {day_words(stage.since)}",
        link="skulls",
    )


def most_pressing_first(tasks: Sequence[Task]) -> tuple[Task, ...]:
    """Return tasks by urgency, otherwise in their order."""
    order = list(Urgency)
    return tuple(sorted(tasks, key=lambda task: order.index(task.urgency)))
