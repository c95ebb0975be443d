"""Cautions are shown when something goes in for the first time, and not again."""

from pathlib import Path

import pytest

from tests.unit.cli.photos.test_read import run


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    path = tmp_path / "season.logbook"
    assert run("tub", 12, "--logbook", path).exit_code == 0
    return path


def changed(logbook: Path, *options: object) -> str:
    result = run("change", 12, *options, "--logbook", logbook)
    assert result.exit_code == 0, result.output
    return result.stderr


def test_ammonia_warns_of_bleach_once(logbook: Path) -> None:
    first = changed(logbook, "--recipe", "ammonia", "--at", "2d ago")
    assert "bleach" in first
    assert changed(logbook, "--recipe", "ammonia", "--at", "1d ago") == ""


def test_a_heater_warns_of_water_once(logbook: Path) -> None:
    changed(logbook, "--recipe", "soap", "--temperature", 20, "--at", "3d ago")
    assert "residual-current" in changed(logbook, "--temperature", 45, "--at", "2d ago")
    assert changed(logbook, "--temperature", 45, "--at", "1d ago") == ""


def test_whitening_warns_of_peroxide(logbook: Path) -> None:
    assert run("skull", "fox 3", "--species", "fox", "--logbook", logbook).exit_code == 0
    options = ("--strength", 12, "--hours", 12, "--logbook", logbook)
    first = run("skull", "fox 3", "whitened", *options)
    assert first.exit_code == 0, first.output
    assert "eroxide" in first.stderr
