"""A writer killed at random moments loses and doubles nothing (short version).

The long one is ``python -m tests.benchmarks.logbook_kills``. A kill is no power cut; against
that the logbook syncs each entry to the disk before it tells it (PRAGMA synchronous = FULL).
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from greasecheck.logbook.store.book import Logbook
from tests.faults.logbook_kills import kill_at_random, look, prepare

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize(("action", "kills"), [("read", 5), ("import", 4), ("change", 4)])
def test_kills_lose_and_double_nothing(tmp_path: Path, action: str, kills: int) -> None:
    report = kill_at_random(action, tmp_path, kills, seed=kills)
    assert report.faults == ()
    assert report.kills == kills


def test_ctrl_c_keeps_what_was_told(tmp_path: Path) -> None:
    source, logbook = prepare("read", tmp_path / "source"), tmp_path / "season.logbook"
    worker = subprocess.Popen(
        [sys.executable, "-m", "tests.faults.logbook_worker", "read", str(logbook), str(source)],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    assert worker.stdout is not None
    lines = [worker.stdout.readline().strip() for _ in range(20)][1:]
    os.kill(worker.pid, signal.SIGINT)
    lines += worker.stdout.read().splitlines()
    worker.stdout.close()
    assert worker.wait() != 0
    assert len(lines) >= 19
    assert look("read", logbook, lines) == []


def test_the_look_finds_what_is_lost(tmp_path: Path) -> None:
    path = tmp_path / "season.logbook"
    assert look("read", path, ["logged a.jpg"]) == ["read: told safe, but there is no logbook"]
    with Logbook(path, create=True) as book, book.transaction() as connection:
        connection.execute("INSERT INTO entries VALUES (1, 'x', 'command', 'x', 'x', NULL, NULL)")
        connection.execute("INSERT INTO tubs (number, entry_id) VALUES (10, 1)")
        connection.execute(
            "INSERT INTO baths (tub, filled_at, recipe, entry_id) VALUES (10, 'x', 'soap', 1)"
        )
    told = ["logged a.jpg", "refused b.jpg", "changed 5", "imported 8000"]
    assert len(look("read", path, told)) == 8
