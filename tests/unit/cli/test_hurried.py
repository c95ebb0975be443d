"""What a hurried user gets wrong, and what he is told of it."""

import json
from pathlib import Path

from tests.unit.cli.test_read import run

SAMPLES = Path(__file__).parents[3] / "sample_images"


def test_murky_water_for_clear_water_is_told(tmp_path: Path) -> None:
    logbook = ("--logbook", tmp_path / "season.logbook")
    first = run("clear", SAMPLES / "01_tap_water.jpg", *logbook)
    assert first.stderr == ""
    again = run("clear", SAMPLES / "01_tap_water.jpg", *logbook)
    assert again.stderr == ""
    murky = run("clear", SAMPLES / "09_tub21_march.jpg", *logbook)
    assert "murkier by 2." in murky.stderr  # truth.csv: 2.61 per m, forward scatter aside
    assert "greasecheck undo" in murky.stderr


def test_clean_water_after_murky_tells_of_the_readings_between(tmp_path: Path) -> None:
    logbook = ("--logbook", tmp_path / "season.logbook")
    run("clear", SAMPLES / "09_tub21_march.jpg", *logbook)
    clean = run("clear", SAMPLES / "12_tub12_may.jpg", *logbook, "--json")
    assert -2.3 < json.loads(clean.stdout)["murkier_than_before_per_m"] < -1.0
    assert "readings by it are too low" in clean.stderr


def test_reference_of_another_jar_is_not_compared(tmp_path: Path) -> None:
    logbook = ("--logbook", tmp_path / "season.logbook")
    run("clear", SAMPLES / "01_tap_water.jpg", *logbook)
    thin = run("clear", SAMPLES / "09_tub21_march.jpg", *logbook, "--path-mm", 30, "--json")
    assert json.loads(thin.stdout)["murkier_than_before_per_m"] is None
    assert thin.stderr == ""
