"""The answer about a tub in a few words, in a sentence, and why: the same on every face."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.answers import Finding, Urgency
from greasecheck.model.reasons import ReasonCode
from greasecheck.words.figures import MOST, capital, share_words, tub_words
from greasecheck.words.reasons import LOOK_AT, NO_DATE
from greasecheck.words.stages import short_step, step_words
from greasecheck.words.times import counted, day_range, day_words, near_day

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from greasecheck.answers import Task, TubAnswer

# A mark of state that does not rest on colour alone.
MARKS = {
    Urgency.TROUBLE: "!",
    Urgency.TODAY: "●",
    Urgency.PHOTO: "◎",
    Urgency.KNOW: "i",
    Urgency.NONE: "○",
}
SHORT = {
    Finding.LOOK_AT_TUB: "look at the tub",
    Finding.LOOK_BEFORE_TAKING_OUT: "look before taking out",
    Finding.PROMISE_AT_RISK: "promise in danger",
    Finding.LOOK_AT_RISE: "another skull in it?",
    Finding.ENTER_BATH: "what bath is in it?",
    Finding.MEASURE_WARMTH: "how warm is it?",
    Finding.TAKE_OUT: "take out {skull}",
    Finding.CHANGE_WATER: "change today",
    Finding.CONFIRM_CHANGE: "changed? yes or no",
    Finding.RETAKE_PHOTO: "photo again please",
    Finding.DILUTE: "too murky: dilute",
    Finding.PHOTOGRAPH_BONE: "bone photo please",
    Finding.PHOTOGRAPH_WATER: "photo please",
    Finding.SOAK_ON_YELLOW: "soak on: yellow patches",
    Finding.SOAK_ON_PALING: "soak on: still paling",
    Finding.LEAVE_WATER: "leave its water a week or two",
    Finding.PROVE_APART: "prove {skull} in its own tub",
    Finding.NAME_TUB: "name this tub",
    Finding.CLEAR_LATE: "no end in sight yet",
    Finding.NO_DATE: "no date yet",
    Finding.RINSES: "rinses after whitening",
    Finding.RINSED: "rinsed long enough",
    Finding.RESTS: "nothing soaks in it",
    Finding.EMPTY: "empty",
    Finding.CANNOT_TELL: "cannot be told yet",
    Finding.NOT_KNOWN_YET: "being worked out",
}
SENTENCES = {
    Finding.LOOK_AT_TUB: "Look at {tub}: its grease comes out too slowly",
    Finding.LOOK_BEFORE_TAKING_OUT: "Look at {tub} before taking {skull} out",
    Finding.PROMISE_AT_RISK: "{skull} may not be ready by the day it was promised for",
    Finding.LOOK_AT_RISE: "Was another skull put into {tub}, or is it warmer?",
    Finding.ENTER_BATH: "Enter what bath {tub} holds",
    Finding.MEASURE_WARMTH: "Measure how warm the water of {tub} is, and enter it",
    Finding.TAKE_OUT: "Take {skull} out of {tub}: it is done",
    Finding.CHANGE_WATER: "Change the water of {tub} today",
    Finding.CONFIRM_CHANGE: "Was the water of {tub} changed?",
    Finding.RETAKE_PHOTO: "Take the photo of {tub} again",
    Finding.DILUTE: "Dilute the sample of {tub} and photograph it",
    Finding.PHOTOGRAPH_BONE: "Photograph the bone of {skull} in {tub}",
    Finding.PHOTOGRAPH_WATER: "Photograph the water of {tub}",
    Finding.SOAK_ON_YELLOW: "Soak {skull} on in {tub}: it has yellow patches",
    Finding.SOAK_ON_PALING: "Soak {skull} on in {tub}: its bone is still getting paler",
    Finding.LEAVE_WATER: "Leave the water of {tub} warm and unchanged, two weeks at most",
    Finding.PROVE_APART: "Prove {skull} of {tub} in a tub of its own, or let it soak on",
    Finding.NAME_TUB: "Give {tub} a name, or say what it is",
    Finding.CLEAR_LATE: "No end is in sight yet for {tub}",
    Finding.NO_DATE: "{tub} has no date yet",
    Finding.RINSES: "What lies in {tub} only rinses after whitening",
    Finding.RINSED: "What is in {tub} has rinsed long enough: take it out and dry it",
    Finding.RESTS: "Nothing soaks in {tub}",
    Finding.EMPTY: "{tub} is empty",
    Finding.CANNOT_TELL: "Nothing can be told of {tub} yet",
    Finding.NOT_KNOWN_YET: "{tub} is being worked out",
}


def short_answer(answer: TubAnswer, now: datetime) -> str:
    """Return the answer about a tub in a few words, as a row has room for.

    Parameters
    ----------
    answer : TubAnswer
        The answer.
    now : datetime.datetime
        Zone-aware; days near it stand without their year.
    """
    task = answer.main
    if task.finding is Finding.TAKE_OUT and len(answer.skulls) == 1:
        return "take out"
    return short_words(task, now)


def short_words(task: Task, now: datetime) -> str:
    """Return what was found in a few words."""
    if task.finding is Finding.LOOK_AT_TUB and task.causes[:1] == (ReasonCode.HEATER,):
        return "look at the heater"
    if task.finding is Finding.CLEAR_ABOUT:
        return _clear_about(task, now)
    if task.finding is Finding.NEXT_STEP:
        return short_step(task.stage)
    return SHORT[task.finding].format(skull=task.skull)


def sentence(task: Task, now: datetime, *, named: bool = True) -> str:
    """Return what was found as one sentence, with the tub or the skull in it.

    Parameters
    ----------
    task : Task
        What was found.
    now : datetime.datetime
        Zone-aware; days near it stand without their year.
    named : bool
        Whether the tub's name is included; not where it stands above the sentence.
    """
    tub = tub_words(task.tub, task.tub_name if named else None)
    if task.finding is Finding.CLEAR_ABOUT:
        return f"{capital(tub)}: {_clear_about(task, now)}."
    if task.finding is Finding.NEXT_STEP:
        words = step_words(task.stage)
        return f"{task.skull}: {words}" + ("" if words.endswith("?") else ".")
    words = capital(SENTENCES[task.finding].format(tub=tub, skull=task.skull))
    return words if words.endswith("?") else f"{words}."


def _clear_about(task: Task, now: datetime) -> str:
    if task.since is None or task.since <= now:
        return "degreased any day now"
    return f"degreased about {near_day(task.since, now)}"


def why(task: Task, now: datetime) -> str:
    """Return the reason of what was found in a sentence or two; empty when it is plain."""
    reason = REASONS.get(task.finding)
    return reason(task, now) if reason else ""


def _slow(task: Task, now: datetime) -> str:
    since = f"Since {near_day(task.since, now)} it" if task.since else "It"
    pace = "" if task.share is None else f" at {share_words(task.share)} of the usual pace"
    looks = " ".join(capital(LOOK_AT[cause]) for cause in task.causes)
    return f"{since} comes out{pace or ' more slowly than usual'}. {looks}".strip()


def _full(task: Task, now: datetime) -> str:
    if task.share is None:
        return ""
    draws = share_words(task.share)
    if task.days is None:
        return f"Its water draws {draws} of what fresh water would."
    soaked = f"Bone has soaked in its water for {counted(round(task.days), 'day')}"
    if draws == MOST:  # is no reason to change it; its age is
        return f"{soaked}."
    return f"{soaked}: it draws {draws} of what fresh water would."


def _promised(task: Task, now: datetime) -> str:
    *first, odds = map(in_ten, task.values)
    then = (
        f"was ready by then with {first[0]} when it was promised; now" if first else "is then ready"
    )
    return f"Promised for {near_day(task.since, now)}. It {then} with {odds}."


def _fell(task: Task, now: datetime) -> str:
    before, after = task.values
    return (
        f"Its haze fell from {before:.0f} to {after:.0f} /m by {near_day(task.since, now)},"
        " and no change was entered."
    )


def _last_photo(task: Task, now: datetime) -> str:
    return "" if task.since is None else f"The last one is of {near_day(task.since, now)}."


def _refused_or_doubtful(task: Task, now: datetime) -> str:
    if task.note or task.since is None:
        return task.note
    return f"The last one, of {near_day(task.since, now)}, is doubtful."


def _yellow(task: Task, now: datetime) -> str:
    if task.share is None:
        return "The water says that little grease is left, the bone not: it still sits in patches."
    return (
        f"The water says that little grease is left, the bone says not yet: {task.share:.0%} of"
        " what is seen of it is yellow. Is the water warm?"
    )


def _quicker(task: Task, now: datetime) -> str:
    since = f"Since {near_day(task.since, now)} it" if task.since else "It"
    grease = f"{task.share:.1f} times as much grease as" if task.share else "more grease than"
    return f"{since} gives off {grease} before. Enter the skull, or that all is well."


def _clear_range(task: Task, now: datetime) -> str:
    early, late = task.span if task.span else (None, None)
    if early is None:
        return ""
    guess = " Our guess for its species: no reading yet." if task.guessed else ""
    if early > now:
        last = f"9 times in 10 not before {near_day(early, now)}."
        told = last if late is None else f"8 times in 10 from {day_range(early, late, now)}."
    else:
        told = "" if late is None else f"By {near_day(late, now)} 9 times in 10."
    return f"{told}{guess}".strip()


def _rinsing(task: Task, now: datetime) -> str:
    return "" if task.since is None else f"Until about {near_day(task.since, now)}."


def _stage_since(task: Task, now: datetime) -> str:
    return "" if task.since is None else f"{capital(task.stage)} since {day_words(task.since)}."


REASONS: dict[Finding, Callable[[Task, datetime], str]] = {
    Finding.LOOK_AT_TUB: _slow,
    Finding.LOOK_BEFORE_TAKING_OUT: lambda *_: (
        "Its water says done, but that may be because leaching stopped, not because it is done."
    ),
    Finding.PROMISE_AT_RISK: _promised,
    Finding.CHANGE_WATER: _full,
    Finding.CONFIRM_CHANGE: _fell,
    Finding.NEXT_STEP: _stage_since,
    Finding.RETAKE_PHOTO: _refused_or_doubtful,
    Finding.DILUTE: lambda *_: "It is too murky.",
    Finding.PHOTOGRAPH_BONE: lambda *_: (
        "The water says that little grease is left; now the bone decides. Photograph it every few"
        " days until it is sure that it gets no paler."
    ),
    Finding.PHOTOGRAPH_WATER: _last_photo,
    Finding.SOAK_ON_YELLOW: _yellow,
    Finding.SOAK_ON_PALING: lambda *_: (
        "The water says that little grease is left, the bone says not yet."
    ),
    Finding.LOOK_AT_RISE: _quicker,
    Finding.MEASURE_WARMTH: lambda *_: (
        "Its water is quiet, and cold water is, too. Then photograph the water a day later."
    ),
    Finding.LEAVE_WATER: lambda *_: (
        "Its water alone says done: so early, after such a past or with such a bone that only this"
        " proves it. Measure its temperature and photograph it after a week and at the end."
    ),
    Finding.PROVE_APART: lambda *_: (
        "Its water alone says done, which only warm, unchanged water proves; another"
        " skull in this tub still needs fresh water."
    ),
    Finding.TAKE_OUT: lambda *_: "Little grease is left and its bone gets no paler.",
    Finding.CLEAR_ABOUT: _clear_range,
    Finding.NO_DATE: lambda task, _: " ".join(f"{capital(NO_DATE[one])}." for one in task.causes),
    Finding.RINSES: _rinsing,
    Finding.CANNOT_TELL: lambda task, _: task.note,
}


def in_ten(probability: float) -> str:
    """Return a probability as so many cases of ten.

    Examples
    --------
    >>> in_ten(0.9), in_ten(0.97), in_ten(0.02), in_ten(0.44)
    ('9 in 10', 'more than 9 in 10', 'less than 1 in 10', '4 in 10')
    """
    if probability < 0.05:
        return "less than 1 in 10"
    if probability > 0.95:
        return "more than 9 in 10"
    return f"{max(round(probability * 10), 1)} in 10"
