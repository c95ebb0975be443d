"""What the terminal enters between water changes, and what it refuses."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from typer.testing import CliRunner

from greasecheck.cli.app import app

if TYPE_CHECKING:
    from pathlib import Path


def said(logbook: Path, *words: str, code: int = 0) -> str:
    result = CliRunner().invoke(app, [*words, "--logbook", str(logbook)])
    assert result.exit_code == code, result.output
    return result.output


def test_temperature_and_topping_up_are_entered_and_taken_back(tmp_path: Path) -> None:
    logbook = tmp_path / "season.logbook"
    said(logbook, "tub", "12", "--volume", "60")
    said(logbook, "change", "12", "--recipe", "soap", "--at", "5d ago")
    assert "tub 12: at 42 °C" in said(logbook, "tub", "12", "--temperature", "42", "--at", "2d ago")
    body = json.loads(said(logbook, "tub", "12", "--topped-up", "3", "--json"))
    assert body["top_up"]["litres"] == 3.0
    assert "topped up tub 12" in said(logbook, "undo", "--yes")
    said(logbook, "skull", "fox 3", "--condition", "fat", "--tub", "12")
    assert json.loads(said(logbook, "skull", "--json"))["skulls"][0]["condition"] == "fat"


def test_several_things_at_once_are_refused_whole(tmp_path: Path) -> None:
    logbook = tmp_path / "season.logbook"
    said(logbook, "tub", "12", "--volume", "60")
    said(logbook, "change", "12", "--recipe", "soap", "--at", "5d ago")
    words = said(logbook, "tub", "12", "--temperature", "42", "--topped-up", "3", code=1)
    assert "one after the other" in words
    said(logbook, "tub", "12", "--temperature", "42", "--name", "door", code=1)
    assert "no topping up" in said(logbook, "tub", "12", "--topped-up", "60", code=1)
    assert "temperature" not in said(logbook, "undo", "--yes")
