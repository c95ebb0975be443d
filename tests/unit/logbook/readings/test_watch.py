from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import PhotoError
from greasecheck.logbook.readings import watch
from greasecheck.logbook.readings.watch import watch_folder

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


def polls(folder: Path) -> Iterator[list[str]]:
    for paths in watch_folder(folder, sleep=lambda _: None):
        yield [path.name for path in paths]


def write(path: Path, size: int, changed_s: int) -> None:
    path.write_bytes(b"x" * size)
    os.utime(path, (changed_s, changed_s))


def test_a_photo_is_given_once_when_its_size_is_stable(tmp_path: Path) -> None:
    poll = polls(tmp_path)
    write(tmp_path / "a.jpg", 10, 100)
    assert next(poll) == []
    write(tmp_path / "a.jpg", 20, 101)
    assert next(poll) == []
    assert next(poll) == ["a.jpg"]
    assert next(poll) == []


def test_a_photo_that_changes_later_is_given_again(tmp_path: Path) -> None:
    poll = polls(tmp_path)
    write(tmp_path / "a.jpg", 10, 100)
    assert [next(poll), next(poll)] == [[], ["a.jpg"]]
    write(tmp_path / "a.jpg", 30, 200)
    assert [next(poll), next(poll), next(poll)] == [[], ["a.jpg"], []]


def test_empty_files_and_other_files_are_left_alone(tmp_path: Path) -> None:
    poll = polls(tmp_path)
    write(tmp_path / "a.jpg", 0, 100)
    write(tmp_path / "notes.txt", 10, 100)
    write(tmp_path / ".hidden.jpg", 10, 100)
    assert [next(poll), next(poll), next(poll)] == [[], [], []]


def test_a_photo_that_goes_between_listing_and_looking_is_no_matter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(watch, "find_photos", lambda _: (tmp_path / "gone.jpg",))
    assert next(polls(tmp_path)) == []


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(PhotoError, match="no folder"):
        next(polls(tmp_path / "nowhere"))
