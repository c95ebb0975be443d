"""A file is there whole or not at all."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest

from greasecheck.logbook.store.drafts import PREFIX, whole_file

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(name="file")
def fixture_file(tmp_path: Path) -> Path:
    """Return a file that is there already, beside half of one that a killed process left."""
    file = tmp_path / "season.html"
    file.write_text("old")
    abandoned = tmp_path / f"{PREFIX}killed"
    abandoned.mkdir()
    (abandoned / "season.html").write_text("half of")
    os.utime(abandoned, times=(0, 0))
    return file


def test_a_whole_file_takes_the_place_of_the_old_one(file: Path) -> None:
    with whole_file(file) as draft:
        assert not draft.exists()
        draft.write_text("new")
        assert file.read_text() == "old"
    assert file.read_text() == "new"
    assert list(file.parent.iterdir()) == [file]


def test_what_fails_leaves_the_old_file_alone(file: Path) -> None:
    def fail(draft: Path) -> None:
        draft.write_text("half")
        raise OSError("no room")

    with pytest.raises(OSError, match="no room"), whole_file(file) as draft:
        fail(draft)
    assert file.read_text() == "old"
    assert list(file.parent.iterdir()) == [file]


def test_of_two_who_write_at_once_the_last_wins_whole(file: Path) -> None:
    with whole_file(file) as slow, whole_file(file) as quick:
        slow.write_text("half of the slow one")
        quick.write_text("quick")
    assert file.read_text() == "half of the slow one"
    assert list(file.parent.iterdir()) == [file]
