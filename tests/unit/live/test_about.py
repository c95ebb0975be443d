"""What a person said of a photo that waits comes back after a crash."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from greasecheck.live.photos.about import About, about_text, read_about
from greasecheck.live.photos.measuring import PhotoFacts
from greasecheck.model import BoneState, Drawn, Stroke

if TYPE_CHECKING:
    from pathlib import Path

CAME = datetime(2026, 3, 4, 18, 5, tzinfo=UTC)
LOOP = Drawn(stroke=Stroke.LEAVE_OUT, points=((1.0, 2.0), (3.0, 9.0), (4.0, 2.0)), in_px=True)
PLAIN = About(name="IMG_1.jpg", arrived_at=CAME, facts=PhotoFacts())
TOLD = About(
    name="IMG 2 ü.jpg",
    arrived_at=CAME,
    facts=PhotoFacts(
        tub=14,
        state=BoneState.DRY,
        dilution=4.0,
        taken_at=datetime(2026, 3, 1, tzinfo=UTC),
        drawn=(LOOP,),
    ),
)


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    path = tmp_path / "photo.jpg"
    path.write_bytes(b"photo")
    os.utime(path, (CAME.timestamp(), CAME.timestamp()))
    return path


@pytest.mark.parametrize("about", [PLAIN, TOLD], ids=["plain", "told"])
def test_all_that_was_said_comes_back(photo: Path, about: About) -> None:
    note = photo.with_suffix(".json")
    note.write_text(about_text(about), encoding="utf-8")
    assert read_about(note, photo) == about


@pytest.mark.parametrize("text", [None, "", "[]", "{}", '{"name": "a", "taken_at": "soon"}'])
def test_of_a_photo_without_a_sound_note_the_file_s_time_is_known(
    photo: Path, text: str | None
) -> None:
    note = photo.with_suffix(".json")
    if text is not None:
        note.write_text(text, encoding="utf-8")
    assert read_about(note, photo) == About(name="photo", arrived_at=CAME, facts=PhotoFacts())
