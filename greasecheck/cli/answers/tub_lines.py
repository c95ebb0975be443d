"""A tub in words at the terminal: the answer, why, its dates, its figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.model.notes import NoteCode
from greasecheck.stages import Stage
from greasecheck.words.answers import sentence, why
from greasecheck.words.figures import CLEARS_LAST, haze_words, odds_words
from greasecheck.words.notes import note_words
from greasecheck.words.reasons import figures_of, left_range_words, no_date_words, reasons_words
from greasecheck.words.stages import ready_words, stage_words, step_words
from greasecheck.words.times import age, day_words, exact

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import datetime

    from greasecheck.answers import TubAnswer
    from greasecheck.garage.milestones import SkullLife
    from greasecheck.garage.tub_advice import PatchPhoto
    from greasecheck.logbook.today import TubToday
    from greasecheck.model.notes import Note
    from greasecheck.predict.advice.decisions import TubAdvice


def tub_lines(
    today: TubToday,
    answer: TubAnswer,
    advice: TubAdvice | None,
    lives: Sequence[SkullLife],
    at: datetime,
) -> Iterator[str]:
    """Yield how a tub stands: the answer first, then why, then what lies in it, then figures."""
    yield sentence(answer.main, at)
    yield from _more(why(answer.main, at))
    if answer.date is not None:
        yield f"  {sentence(answer.date, at)} {why(answer.date, at)}".rstrip()
    for task in answer.tasks:
        if task is not answer.main:
            yield f"  {sentence(task, at)} {why(task, at)}".rstrip()
    for life in lives:
        ready = ready_words(life.stage.promise_at, life.withheld, at)
        odds = ", 9 times in 10" if life.stage.promise_at else ""
        yield f"  in it: {life.name}" + (f", {ready}{odds}" if ready else "")
    if today.bath is not None:
        warm = "" if today.bath.temperature_c is None else f" at {today.bath.temperature_c:g} °C"
        old = f"{age(at - today.bath.filled_at)} old"
        if today.unentered:
            old += f" as entered, {age(at - today.unentered[-1].latest)} or more if it was changed"
        yield f"  water: {today.bath.recipe}{warm}, {old}"
    if today.haze is not None:
        yield f"  haze: {haze_words(today.haze)}, read {day_words(today.haze.taken_at)}"
    if advice is not None:
        yield from _figures(today.tub.number, advice)


def _more(words: str) -> list[str]:
    return [f"  {words}"] if words else []


def _figures(number: int, advice: TubAdvice) -> Iterator[str]:
    found = advice.forecast
    for what, dates in (("degreased", advice.degreased), ("runs clear", advice.runs_clear)):
        if dates is None:
            continue
        if what == "runs clear" and found.clears_last:
            yield f"  {what} only after that: {CLEARS_LAST}"
            continue
        early, middle, late = (day_words(dates.quantile(share)) for share in (0.1, 0.5, 0.9))
        yield f"  {what} {middle} (1 in 2); {early} to {late} (8 in 10)"
    if advice.withheld:
        yield f"  degreased, runs clear: {no_date_words(advice.withheld)}"
    if len(advice.skulls) > 1:  # of one skull, its own line says so
        left = left_range_words(*found.grease_left_share)
        yield f"  grease left now in the greasiest skull: {left}"
        yield f"  all degreased now: {odds_words(advice.probability_degreased_now)}"
    yield from (f"  water: {reason}" for reason in reasons_words(advice.change.reasons))
    yield from (f"  pace: {reason}" for reason in reasons_words(figures_of(advice.stall.reasons)))
    for skull in advice.skulls:
        yield from (f"  {skull.name}: {reason}" for reason in reasons_words(skull.reasons))
    yield from note_lines(number, advice.forecast.notes)


def note_lines(tub: int, notes: Iterable[Note]) -> Iterator[str]:
    """Yield what to know before believing a tub's dates, and how to deny a change."""
    for note in notes:
        yield f"  note: {note_words(note)}"
        if note.code is NoteCode.UNLOGGED_CHANGE:
            after, before = note.times
            middle = exact(after + (before - after) / 2)
            yield f"    if not: greasecheck change {tub} --not-changed --at '{middle}'"


def photo_lines(photos: tuple[PatchPhoto, ...]) -> Iterator[str]:
    """Yield where to see which part of a skull is yellow."""
    for photo in photos:
        yield (
            f"  see where {photo.skull} is yellow: greasecheck read --no-log --overlay found/"
            f" {photo.path}"
        )


def skull_stage_lines(life: SkullLife) -> Iterator[str]:
    """Yield where a skull stands, what is next, and what its owner can be promised."""
    stage = life.stage
    yield f"{life.name}: {stage_words(stage.stage, stage.since)}"
    words = step_words(stage.stage, done=stage.done)
    if words:
        day = day_words(stage.next_at) if stage.next_at else None
        if stage.stage is Stage.SOAKING and not stage.done:
            yield f"  next: {words}" + (f", 9 times in 10 by {day}" if day else "")
        else:
            yield f"  next{f' on {day}' if day else ''}: {words}"
    if stage.promise_at:
        owner = f" to {life.owner}" if life.owner else ""
        yield f"  can be promised{owner} for {day_words(stage.promise_at)} (9 in 10)"
    if life.withheld:
        yield f"  {no_date_words(life.withheld)}"
