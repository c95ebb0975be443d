"""Titles and notes of a calendar's entries."""

from __future__ import annotations

from datetime import datetime

from greasecheck.answers import Finding
from greasecheck.stages import Stage
from greasecheck.words.answers import SENTENCES
from greasecheck.words.figures import capital, tub_words
from greasecheck.words.stages import short_step
from greasecheck.words.times import day_words, every_words

PROMISE_NOTE = "ready by then 9 times in 10: degreased, whitened, rinsed and dried"


def change_title(number: int, name: str | None) -> str:
    """Return the title of a water change.

    Examples
    --------
    >>> change_title(12, "shed")
    'Change the water of tub 12 (shed)'
    """
    sentence = SENTENCES[Finding.CHANGE_WATER].format(tub=tub_words(number, name))
    return capital(sentence.removesuffix(" today"))


def change_note(every_days: float, made_at: datetime) -> str:
    """Return the note of a water change: how often, and as known when.

    Examples
    --------
    >>> from datetime import UTC
    >>> change_note(10.0, datetime(2026, 3, 4, 12, tzinfo=UTC))
    'every 10 days, by what was known on 4 Mar 2026; a calendar written later moves it'
    """
    known = f"by what was known on {day_words(made_at)}; a calendar written later moves it"
    return f"{every_words(every_days)}, {known}"


def step_title(skull: str, stage: str, *, done: bool) -> str:
    """Return the title of a skull's next step, or of the day by which its soak is over.

    Examples
    --------
    >>> step_title("mink 2", "degreased", done=False)
    'mink 2: whiten it'
    >>> step_title("deer 2", "soaking", done=False)
    'deer 2: degreased by now 9 times in 10'
    """
    if stage == Stage.SOAKING and not done:
        return f"{skull}: degreased by now 9 times in 10"
    return f"{skull}: {short_step(stage, done=done)}"


def ready_title(skull: str, owner: str | None) -> str:
    """Return the title of the day from which a skull can be handed over."""
    return f"{skull} ready" + (f" for {owner}" if owner else "")
