"""The demo, run as a new user runs it."""

import json
from pathlib import Path

from tests.unit.cli.test_read import run


def test_demo_reads_the_season_and_draws_what_it_found(tmp_path: Path) -> None:
    result = run("demo", "--out", tmp_path / "demo")
    assert result.exit_code == 0, result.output
    assert len(list((tmp_path / "demo").glob("*.overlay.jpg"))) == 12
    assert "> 1" in result.stdout
    assert "too murky" in result.stdout
    assert max(map(len, result.stdout.splitlines()[:-1])) <= 80


def test_demo_as_json(tmp_path: Path) -> None:
    result = run("demo", "--out", tmp_path / "demo", "--json")
    readings = json.loads(result.stdout)["readings"]
    assert [reading["verdict"] for reading in readings].count("refused") == 3
    assert all(reading["colour"]["absolute"] for reading in readings if reading["colour"])
