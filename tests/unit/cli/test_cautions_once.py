"""Cautions are shown when something goes in for the first time, and not again."""

from pathlib import Path

import pytest

from tests.unit.cli.photos.test_read import run


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    path = tmp_path / "season.logbook"
    assert run("tub", 12, "--new", "--logbook", path).exit_code == 0
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


def test_warm_acetone_warns_every_time(logbook: Path) -> None:
    for at in ("3d ago", "2d ago"):
        said = changed(logbook, "--recipe", "acetone", "--temperature", 30, "--at", at)
        assert said.count("never warm an acetone bath") == 1
    later = run("tub", 12, "--temperature", 35, "--logbook", logbook)
    assert later.stderr.count("never warm an acetone bath") == 1
    assert changed(logbook, "--recipe", "acetone", "--temperature", 18, "--at", "1d ago") == ""


@pytest.mark.parametrize("entry", ["change", "tub"])
def test_no_acetone_bath_is_as_hot_as_acetone_boils(logbook: Path, entry: str) -> None:
    changed(logbook, "--recipe", "acetone", "--temperature", 18, "--at", "2d ago")
    refused = run(entry, 12, "--temperature", 56, "--logbook", logbook)
    assert refused.exit_code == 1
    assert "boils" in refused.stderr
    assert "heater off" in refused.stderr


def test_acetone_takes_no_warmth_over_from_the_soap_before_it(logbook: Path) -> None:
    changed(logbook, "--recipe", "soap", "--temperature", 45, "--at", "2d ago")
    filled = run("change", 12, "--recipe", "acetone", "--logbook", logbook)
    assert "°C" not in filled.stdout


def test_strong_or_long_whitening_warns_every_time(logbook: Path) -> None:
    for name in ("fox 3", "fox 4"):
        assert run("skull", name, "--species", "fox", "--logbook", logbook).exit_code == 0
    whiten = ("--strength", 3, "--hours", 24, "--logbook", logbook)
    assert "goggles" in run("skull", "fox 3", "whitened", *whiten).stderr
    for strength, hours in ((35, 72), (3, 72)):
        options = ("--strength", strength, "--hours", hours, "--logbook", logbook)
        said = run("skull", "fox 4", "whitened", *options)
        assert said.stderr.count("Peroxide eats bone") == 1
        assert ("goggles" in said.stderr) is (strength == 35)
        assert run("undo", "--logbook", logbook).exit_code == 0


def test_a_correction_makes_no_bath_boil(logbook: Path) -> None:
    changed(logbook, "--recipe", "soap", "--temperature", 60, "--at", "2d ago")
    wrong = ("--instead-of", "2d ago", "--at", "2d ago", "--recipe", "acetone")
    refused = run("change", 12, *wrong, "--logbook", logbook)
    assert refused.exit_code == 1
    assert "boils" in refused.stderr
