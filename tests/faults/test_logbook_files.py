"""Files that are no sound logbook are refused in clear words and left as they are."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.records import Tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import enter_tub, list_tubs

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "season.logbook"
    with Logbook(path, create=True) as book:
        for number in range(20):
            enter_tub(book, Tub(number=number, note="x" * 2000))
    return path


def refusal(path: Path) -> LogbookError:
    before = path.read_bytes() if path.is_file() else b""
    with pytest.raises(LogbookError) as caught, Logbook(path, create=True) as book:
        list_tubs(book)
    assert (path.read_bytes() if path.is_file() else b"") == before
    return caught.value


def test_text_is_no_logbook(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("dear owner, " * 100, encoding="utf-8")
    error = refusal(tmp_path / "letter.txt")
    assert "is no logbook" in error.problem
    assert "logbook" in error.hint


def test_a_folder_is_no_logbook(tmp_path: Path) -> None:
    assert "cannot read the logbook" in refusal(tmp_path).problem


def test_another_programs_database_is_no_logbook(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "other.db")) as other:
        other.execute("CREATE TABLE songs (name TEXT)")
        other.commit()
    assert "is a database, but no logbook" in refusal(tmp_path / "other.db").problem


@pytest.mark.parametrize("kept_bytes", [0, 10, 99, 100, 4096, 20_000])
def test_a_cut_logbook_is_refused(path: Path, kept_bytes: int) -> None:
    path.write_bytes(path.read_bytes()[:kept_bytes])
    error = refusal(path)
    assert ("cut short" if kept_bytes else "is empty") in error.problem
    assert "restore the latest backup" in error.hint


def test_a_damaged_logbook_is_refused(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[4096:] = b"\x55" * (len(content) - 4096)
    path.write_bytes(bytes(content))
    error = refusal(path)
    assert "damaged" in error.problem
    assert "restore the latest backup" in error.hint


def test_a_logbook_of_a_newer_schema_is_refused(path: Path) -> None:
    with closing(sqlite3.connect(path)) as newer:
        newer.execute("PRAGMA user_version = 99")
    error = refusal(path)
    assert "newer greasecheck (schema 99)" in error.problem
    assert "install the newest" in error.hint
