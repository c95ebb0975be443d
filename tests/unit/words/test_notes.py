"""Every note has words, with its values in their places."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from greasecheck.model.notes import Note, NoteCode
from greasecheck.words.notes import PLAIN, WITH_VALUES, note_words
from greasecheck.words.times import day_words

AT = datetime(2026, 3, 1, 8, tzinfo=UTC)
LATER = datetime(2026, 3, 1, 20, tzinfo=UTC)


def test_every_code_has_words_once() -> None:
    assert {*PLAIN, *WITH_VALUES} == set(NoteCode)
    assert not set(PLAIN) & set(WITH_VALUES)


@pytest.mark.parametrize(
    ("note", "words"),
    [
        (
            Note(code=NoteCode.UNDESCRIBED, values=(0.25, 0.4)),
            "(they scatter by 25%, their pace drifts by 40%)",
        ),
        (Note(code=NoteCode.BLOOM, values=(0.31,)), "About 31% of the haze"),
        (
            Note(code=NoteCode.SOLID_FAT, names=("hog",), values=(28.0, 40.0, 20.0)),
            "The fat of hog melts at 28 to 40 degrees C; the bath is at 20.",
        ),
        (Note(code=NoteCode.STOPPED, values=(0.42,)), "42% probability"),
        (Note(code=NoteCode.NEVER, values=(0.5,)), "it is never degreased"),
        (Note(code=NoteCode.ALIKE, names=("buck", "doe")), "tell these apart: buck, doe."),
    ],
)
def test_values_stand_in_their_places(note: Note, words: str) -> None:
    assert words in note_words(note)


def test_an_unlogged_change_is_asked_about_half_way() -> None:
    asked = note_words(Note(code=NoteCode.UNLOGGED_CHANGE, times=(AT, LATER)))
    middle = datetime(2026, 3, 1, 14, tzinfo=UTC).astimezone()
    assert asked.endswith(f"about {day_words(middle)}, {middle:%H:%M}.")
