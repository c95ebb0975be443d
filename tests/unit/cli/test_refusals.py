"""What the system refuses is said in words: full outputs, pipes, long names, no rights."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from greasecheck.logbook.store.book import Logbook

LONG = "x" * 300
ENDS_S = 300
OLDEST = Path(__file__).parents[1] / "logbook" / "released" / "schema_1.sql"
NO_RIGHTS = "-dac_override,-dac_read_search"


def greasecheck(
    *arguments: object, stdout: int | None = subprocess.PIPE, before: tuple[str, ...] = ()
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*before, sys.executable, "-m", "greasecheck", *map(str, arguments)],
        stdout=stdout,
        stderr=subprocess.PIPE,
        text=True,
        timeout=ENDS_S,
        check=False,
    )


def without_rights() -> tuple[str, ...]:
    """Return the command that makes even root ask for rights; skip where there is none."""
    if os.geteuid() != 0:
        return ()
    if not shutil.which("setpriv"):
        pytest.skip("no tool to give up the rights of root")
    return ("setpriv", f"--bounding-set={NO_RIGHTS}", f"--inh-caps={NO_RIGHTS}")


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    path = tmp_path / "season.logbook"
    Logbook(path, create=True).close()
    return path


def in_words(result: subprocess.CompletedProcess[str], problem: str) -> None:
    assert result.returncode == 1, result.stderr
    assert "Traceback" not in result.stderr
    assert problem in result.stderr
    assert "hint: " in result.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device of Linux")
@pytest.mark.parametrize("arguments", [("--version",), ("--help",), ("today",), ("cautions",)])
def test_a_full_output_is_said(logbook: Path, arguments: tuple[str, ...]) -> None:
    named = ("--logbook", logbook) if arguments == ("today",) else ()
    with open("/dev/full", "w") as full:  # noqa: PTH123 - a device
        result = greasecheck(*arguments, *named, stdout=full.fileno())
    in_words(result, "No space left on device")


def test_a_full_output_is_said_as_json(logbook: Path) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("a device of Linux")
    with open("/dev/full", "w") as full:  # noqa: PTH123 - a device
        result = greasecheck("today", "--json", "--logbook", logbook, stdout=full.fileno())
    assert json.loads(result.stderr)["error"]["code"] == "system"


@pytest.mark.parametrize(
    "arguments",
    [
        ("today", "--logbook", "pipe"),
        ("book", "restore", "pipe"),
        ("sheet", "show", "--patches", "pipe"),
        ("calibrate", "pipe"),
        ("clear", "pipe", "--path-mm", "60"),
        ("book", "import", "pipe"),
    ],
)
def test_a_pipe_keeps_nobody_waiting(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("GREASECHECK_LOGBOOK", str(tmp_path / "season.logbook"))
    os.mkfifo(tmp_path / "pipe")
    result = greasecheck(*arguments)
    assert result.returncode == 1
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ("today", "--logbook", LONG),
        ("season", f"{LONG}.html"),
        ("book", "backup", LONG),
        ("book", "restore", LONG),
        ("book", "export", LONG),
        ("book", "import", f"{LONG}.csv"),
        ("sheet", "print", f"{LONG}.pdf"),
    ],
)
def test_a_name_too_long_is_said(
    tmp_path: Path, logbook: Path, monkeypatch: pytest.MonkeyPatch, arguments: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("GREASECHECK_LOGBOOK", str(logbook))
    in_words(greasecheck(*arguments), "File name too long")


@pytest.mark.parametrize(
    "arguments",
    [
        ("today", "--logbook", "closed/season.logbook"),
        ("read", "closed", "--no-log"),
        ("read", "closed/photo.jpg", "--no-log", "--json", "--strict"),
        ("book", "restore", "closed/backup", "--logbook", "new.logbook"),
        ("sheet", "print", "closed/sheet.pdf"),
    ],
)
def test_a_folder_without_rights_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: tuple[str, ...]
) -> None:
    closed = tmp_path / "closed"
    closed.mkdir()
    (closed / "photo.jpg").touch()
    closed.chmod(0)
    monkeypatch.chdir(tmp_path)
    try:
        result = greasecheck(*arguments, before=without_rights())
    finally:
        closed.chmod(0o700)
    assert result.returncode in {1, 2, 3}, result.stderr  # 2: the option itself is refused
    assert "Traceback" not in result.stderr
    told = result.stderr + result.stdout
    assert "ermission denied" in told or "not readable" in told


@pytest.mark.parametrize("name", ["fox\n3", "fox\t3", "fox\u202e3", "x" * 201, "a\u2028b"])
def test_a_name_is_short_and_of_one_line(logbook: Path, name: str) -> None:
    for command in (("skull", name, "--species", "fox"), ("tub", "12", "--name", name)):
        result = greasecheck(*command, "--logbook", logbook)
        assert result.returncode == 1
        assert "error[logbook]: name: it " in result.stderr
    with Logbook(logbook) as book:
        assert book.rows("SELECT count(*) FROM entries") == [(0,)]


def test_formulas_stay_text_in_a_spreadsheet(logbook: Path, tmp_path: Path) -> None:
    names = ["=cmd|' /C calc'!A0", "+1", "-1", "@SUM(A1)", "'quoted", "plain = text"]
    for number, name in enumerate(names, start=10):
        assert greasecheck("tub", number, "--name", name, "--logbook", logbook).returncode == 0
    assert greasecheck("book", "export", tmp_path / "out", "--logbook", logbook).returncode == 0
    lines = (tmp_path / "out" / "tubs.csv").read_text(encoding="utf-8").splitlines()[1:]
    cells = [line.split(",")[1].strip('"') for line in lines]
    assert all(cell[0] not in "=+-@" for cell in cells), cells
    other = tmp_path / "other.logbook"
    assert greasecheck("book", "import", tmp_path / "out", "--logbook", other).returncode == 0
    with Logbook(other) as book:
        assert [name for (name,) in book.rows("SELECT name FROM tubs ORDER BY number")] == names


def test_new_files_are_private(tmp_path: Path) -> None:
    path = tmp_path / "new" / "season.logbook"
    assert greasecheck("tub", "12", "--new", "--logbook", path).returncode == 0
    assert greasecheck("book", "backup", tmp_path / "b" / "x", "--logbook", path).returncode == 0
    assert greasecheck("book", "export", tmp_path / "csv", "--logbook", path).returncode == 0
    made = [path, path.with_name(f"{path.name}.last"), tmp_path / "b" / "x"]
    assert {place.stat().st_mode & 0o777 for place in made} == {0o600}
    folders = [path.parent, tmp_path / "b", tmp_path / "csv"]
    assert {place.stat().st_mode & 0o777 for place in folders} == {0o700}


@pytest.mark.parametrize("schema", ["newest", "oldest"])
def test_a_backup_that_may_not_be_written_to_opens(tmp_path: Path, schema: str) -> None:
    card = tmp_path / "card"
    card.mkdir()
    path = card / "season.logbook"
    if schema == "oldest":
        with closing(sqlite3.connect(path)) as old:
            old.executescript(OLDEST.read_text(encoding="utf-8"))
    else:
        assert greasecheck("tub", "12", "--new", "--logbook", path).returncode == 0
    path.chmod(0o444)
    card.chmod(0o555)
    try:
        shown = greasecheck("today", "--logbook", path, before=without_rights())
        checked = greasecheck("book", "check", "--logbook", path, before=without_rights())
        written = greasecheck("tub", "14", "--new", "--logbook", path, before=without_rights())
        left = sorted(place.name for place in card.iterdir() if place.name[-5:] != ".last")
    finally:
        card.chmod(0o755)
    assert (shown.returncode, checked.returncode) == (0, 0), shown.stderr + checked.stderr
    assert ("12" if schema == "newest" else "by the door") in shown.stdout
    in_words(written, "it may not be written to")
    assert left == ["season.logbook"]
