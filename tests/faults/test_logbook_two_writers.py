"""Processes that write to one logbook at once lose and double nothing."""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING

from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.safety import faults
from tests.faults.logbook_kills import PHOTOS, begin, look, names, prepare
from tests.faults.logbook_worker import CHANGES

if TYPE_CHECKING:
    from pathlib import Path


def start(action: str, logbook: Path, source: Path) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "tests.faults.logbook_worker", action, str(logbook), str(source)],
        stdout=subprocess.PIPE,
        text=True,
    )


def told(workers: list[subprocess.Popen[str]]) -> list[list[str]]:
    answers = [worker.communicate()[0].splitlines()[1:] for worker in workers]
    assert [worker.returncode for worker in workers] == [0] * len(workers)
    return answers


def test_two_processes_that_read_the_same_folder_log_each_photo_once(tmp_path: Path) -> None:
    source, logbook = prepare("read", tmp_path / "source"), tmp_path / "season.logbook"
    answers = told([start("read", logbook, source) for _ in range(2)])
    logged = [line for answer in answers for line in answer if line.startswith("logged ")]
    assert len(logged) == len(set(logged)) == PHOTOS * 9 // 10
    assert look("read", logbook, logged) == []
    with Logbook(logbook) as book:
        assert len(names(book, "readings")) == PHOTOS * 9 // 10
        assert len(names(book, "attempts")) == PHOTOS // 10


def test_reading_and_changing_water_at_once(tmp_path: Path) -> None:
    source, logbook = prepare("read", tmp_path / "source"), tmp_path / "season.logbook"
    begin("change", logbook)
    answers = told([start("read", logbook, source), start("change", logbook, source)])
    assert look("read", logbook, [line for a in answers for line in a if line != "done"]) == []
    with Logbook(logbook) as book:
        assert faults(book) == ()
        ((baths,),) = book.rows("SELECT count(*) FROM baths")
        assert baths == 3 * CHANGES


def test_two_processes_that_make_the_logbook_at_once_share_it(tmp_path: Path) -> None:
    source = tmp_path / "source"
    source.mkdir()
    workers = [start("read", tmp_path / "season.logbook", source) for _ in range(4)]
    assert told(workers) == [["done"]] * 4
    assert [path.name for path in tmp_path.iterdir() if path != source] == ["season.logbook"]
