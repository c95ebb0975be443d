"""What to know before believing a forecast, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.model.notes import NoteCode
from greasecheck.words.figures import odds_words
from greasecheck.words.times import between_words, day_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from datetime import datetime

    from greasecheck.model.notes import Note

PLAIN = {
    NoteCode.NO_READINGS: "No readings yet: the dates are the species table's alone, which is our"
    " guess.",
    NoteCode.LITTLE_DATA: "The readings say little so far: the dates are mostly the species"
    " table's, which is our guess.",
    NoteCode.NOT_SETTLED: "The fit did not settle: do not rely on these dates.",
    NoteCode.ACETONE: "Grease dissolved in acetone makes no haze: while a bath is of acetone its"
    " readings may say nothing, so go by the bone.",
    NoteCode.CHANGES_CLOSE: "Two water changes are logged less than an hour apart: take one back"
    " if it was logged twice.",
}


def note_words(note: Note) -> str:
    """Return a note in words.

    Examples
    --------
    >>> from greasecheck.model.notes import Note
    >>> note_words(Note(code=NoteCode.SILENT, values=(30.2,)))
    'The last reading is 30 days old.'
    """
    plain = PLAIN.get(note.code)
    return plain or WITH_VALUES[note.code](*note.names, *note.values, *note.times)


def notes_words(notes: Iterable[Note]) -> tuple[str, ...]:
    """Return notes in words."""
    return tuple(note_words(note) for note in notes)


def _undescribed(scatter: float, drift: float) -> str:
    return (
        f"These readings follow no usual course (they scatter by {scatter:.0%}, their pace drifts"
        f" by {drift:.0%}), so the ranges are wide: look for changes, temperatures or skulls that"
        " were not entered."
    )


def _bloom(share: float) -> str:
    return (
        f"About {share:.0%} of the haze in old water is no grease: something grows in it. It is"
        " left out of the dates; change the water sooner."
    )


def _solid_fat(species: str, from_c: float, to_c: float, bath_c: float) -> str:
    return (
        f"The fat of {species} melts at {from_c:.0f} to {to_c:.0f} degrees C; the bath is at"
        f" {bath_c:.0f}. While solid, fat comes off much more slowly; by how much in bone nobody"
        " has measured, and the dates count with its warmth alone."
    )


def _unlogged(after: datetime, before: datetime) -> str:
    middle = (after + (before - after) / 2).astimezone()
    return (
        f"The water was changed {between_words(after, before)}, it seems, and nobody logged it:"
        f" if so, enter it as of about {day_words(middle)}, {middle:%H:%M}."
    )


def _stopped(probability: float) -> str:
    return (
        "The haze ended faster than grease thins out. By how long its kind soaks it stopped with"
        f" {odds_words(probability)} probability while grease is left: the water grew cold, the"
        " bone is out of it, the haze floats off, or the rest comes later. Measure the warmth and"
        " look at the bone."
    )


def _never(probability: float) -> str:
    return f"With {odds_words(probability)} probability it is never degreased under this plan."


def _alike(*skulls: str) -> str:
    return f"The haze is a sum over skulls and cannot tell these apart: {', '.join(skulls)}."


WITH_VALUES: dict[NoteCode, Callable[..., str]] = {
    NoteCode.UNDESCRIBED: _undescribed,
    NoteCode.BLOOM: _bloom,
    NoteCode.SOLID_FAT: _solid_fat,
    NoteCode.UNLOGGED_CHANGE: _unlogged,
    NoteCode.SILENT: "The last reading is {:.0f} days old.".format,
    NoteCode.STOPPED: _stopped,
    NoteCode.NEVER: _never,
    NoteCode.ALIKE: _alike,
}
