"""Titles and notes of a calendar's entries."""

from __future__ import annotations

from greasecheck.answers import Finding
from greasecheck.words.answers import SENTENCES
from greasecheck.words.figures import capital, tub_words
from greasecheck.words.stages import short_step

PROMISE_NOTE = "with 9 in 10: degreased, then whitened, rinsed and dried"


def change_title(number: int, name: str | None) -> str:
    """Return the title of a water change.

    Examples
    --------
    >>> change_title(12, "shed")
    'Change the water of tub 12 (shed)'
    """
    sentence = SENTENCES[Finding.CHANGE_WATER].format(tub=tub_words(number, name))
    return capital(sentence.removesuffix(" today"))


def step_title(skull: str, stage: str, *, done: bool) -> str:
    """Return the title of a skull's next step.

    Examples
    --------
    >>> step_title("mink 2", "degreased", done=False)
    'mink 2: whiten it'
    """
    return f"{skull}: {short_step(stage, done=done)}"


def ready_title(skull: str, owner: str | None) -> str:
    """Return the title of the day from which a skull can be handed over."""
    return f"{skull} ready" + (f" for {owner}" if owner else "")
