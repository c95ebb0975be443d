import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner, Result

from greasecheck.cli.photos import readings
from greasecheck.errors import LogbookError
from greasecheck.reference.ladder.eye import eye_law


def run(tmp_path: Path, *arguments: object) -> Result:
    app = typer.Typer()
    readings.register(app)
    book = ("--logbook", str(tmp_path / "season.logbook"))
    return CliRunner().invoke(app, ["reading", *map(str, arguments), *book])


def test_the_last_bar_is_entered_as_a_haze_by_eye(tmp_path: Path) -> None:
    entered = run(tmp_path, "add", 12, "--last-bar", 50, "--at", "2026-03-04T18:05Z")
    assert entered.exit_code == 0, entered.output
    assert "haze" in entered.output
    (one,) = json.loads(run(tmp_path, "list", 12, "--json").stdout)["readings"]
    assert one["kind"] == "eye"
    assert one["attenuation_per_m"] == pytest.approx(eye_law().haze_per_m(58.0))
    assert "50 mm" in one["note"]


def test_a_haze_and_a_bar_at_once_are_wrong_usage(tmp_path: Path) -> None:
    assert run(tmp_path, "add", 12, "--last-bar", 50, "--haze", 3, "--std", 1).exit_code == 2


def test_a_bar_that_is_not_there_enters_nothing(tmp_path: Path) -> None:
    result = run(tmp_path, "add", 12, "--last-bar", 300)
    assert isinstance(result.exception, LogbookError)
    assert not (tmp_path / "season.logbook").exists()
