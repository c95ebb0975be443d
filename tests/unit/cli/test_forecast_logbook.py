"""The forecast from the logbook itself."""

import json
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.unit.cli.photos.test_read import run

HAZES = ((9, 22.0), (8, 30.0), (7, 36.0), (4, 24.0), (3, 31.0), (1, 18.0))


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    path = tmp_path / "season.logbook"
    commands: list[tuple[object, ...]] = [
        ("tub", 12, "--started", "10d ago"),
        ("tub", 14, "--started", "10d ago"),
        ("change", 12, "--recipe", "soap", "--temperature", 45, "--at", "10d ago"),
        ("skull", "fox 3", "--species", "fox", "--tub", 12, "--at", "10d ago"),
        ("change", 12, "--at", "6d ago"),
        ("change", 12, "--at", "2d ago"),
    ]
    commands += [
        ("reading", "add", 12, "--haze", haze, "--std", 1.0, "--at", f"{days}d ago")
        for days, haze in HAZES
    ]
    for command in commands:
        result = run(*command, "--logbook", path)
        assert result.exit_code == 0, result.output
    return path


def test_every_tub_in_which_a_skull_soaks(logbook: Path) -> None:
    result = run("forecast", "--logbook", logbook, "--json")
    assert result.exit_code == 0, result.output
    tubs = json.loads(result.stdout)["tubs"]
    assert [tub["tub"] for tub in tubs] == [12]


def test_one_tub_in_words(logbook: Path) -> None:
    result = run("forecast", 12, "--logbook", logbook)
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("tub 12: degreased ")
    assert "8 in 10" in result.stdout


def test_a_promise_that_is_too_early_says_which_day_is_safe(logbook: Path) -> None:
    safe = re.search(
        r"can be promised for (.+) \(9 in 10\)", run("skull", "fox 3", "--logbook", logbook).stdout
    )
    assert safe
    tub = run("tub", 12, "--logbook", logbook).stdout
    day = safe[1].rpartition(" ")[0]
    assert re.search(rf"^  in it: fox 3, ready by {day}( \d{{4}})?, 9 times in 10$", tub, re.M)
    early = run(
        "promise",
        "fox 3",
        f"{datetime.now(UTC) + timedelta(days=30):%Y-%m-%d}",
        "--logbook",
        logbook,
    )
    assert early.stdout.endswith(f"; 9 in 10 by {safe[1]}\n")
    late = run(
        "promise",
        "fox 3",
        f"{datetime.now(UTC) + timedelta(days=3000):%Y-%m-%d}",
        "--logbook",
        logbook,
    )
    assert late.stdout.endswith("ready by then with more than 9 in 10\n")
