"""Measuring processes end when the one that began them does."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

LONGEST_S = 180.0


def lives(number: int) -> bool:
    try:
        state = (
            Path(f"/proc/{number}/stat").read_text(encoding="utf-8").rsplit(")", 1)[1].split()[0]
        )
    except FileNotFoundError:
        return False
    return state != "Z"


def at_work(folder: Path) -> set[int]:
    return {int(path.name.removeprefix("process-")) for path in folder.iterdir()}


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks processes up in /proc")
@pytest.mark.parametrize("ending", [signal.SIGKILL, signal.SIGINT])
def test_measuring_processes_end_with_their_parent(tmp_path: Path, ending: int) -> None:
    parent = subprocess.Popen(
        [sys.executable, "-m", "tests.faults.many_worker", str(tmp_path)],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    assert parent.stdout is not None
    deadline = time.monotonic() + LONGEST_S
    while len(children := at_work(tmp_path) - {parent.pid}) < 2:  # until then the parent works
        assert time.monotonic() < deadline, "they do not begin"
        parent.stdout.readline()
    parent.send_signal(ending)
    parent.stdout.close()
    assert parent.wait(LONGEST_S) != 0
    deadline = time.monotonic() + LONGEST_S
    while any(map(lives, children)):
        assert time.monotonic() < deadline, "they live on"
        time.sleep(0.05)


def test_processes_begin_where_temporary_files_have_long_paths(tmp_path: Path) -> None:
    folder = tmp_path / ("long" * 30)
    folder.mkdir()
    words = (
        "from greasecheck.measure.workers import process_pool\n"
        "print(process_pool(1, 'math').submit(abs, -7).result())"
    )
    run = subprocess.run(
        [sys.executable, "-c", words],
        env={**os.environ, "TMPDIR": str(folder)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.stdout.strip() == "7", run.stderr
