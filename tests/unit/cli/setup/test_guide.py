"""The setup at the terminal: each choice is kept under its own name, each step has its command."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

from greasecheck.cli.app import app
from greasecheck.cli.setup.guide import COMMANDS, PLATES
from greasecheck.live.setup.steps import MEASURED_BY

if TYPE_CHECKING:
    from pathlib import Path


def run(folder: Path, *arguments: str) -> str:
    book = str(folder / "season.greasecheck")
    result = CliRunner().invoke(app, ["setup", *arguments, "--logbook", book])
    assert result.exit_code == 0, result.output
    return result.stdout


@pytest.mark.parametrize(
    ("option", "value", "setting"),
    [
        ("--change-price", "3.5", "change_price"),
        ("--day-price", "0.25", "day_price"),
        ("--measured-by", "card", "measured_by"),
    ],
)
def test_a_choice_is_kept_under_its_own_name(
    tmp_path: Path, option: str, value: str, setting: str
) -> None:
    told = json.loads(run(tmp_path, option, value, "--json"))
    assert told["settings"] == {setting: value}


def test_what_was_looked_at_is_done_and_the_step_after_it_next(tmp_path: Path) -> None:
    run(tmp_path, "--measured-by", "stand")
    told = json.loads(run(tmp_path, "--done", "print_checked", "--json"))
    assert (told["done"]["print"], told["done"]["stand"]) == (True, False)
    assert told["next"] == "stand"


@pytest.mark.parametrize("measured_by", MEASURED_BY)
def test_what_is_printed_goes_with_how_one_measures(tmp_path: Path, measured_by: str) -> None:
    shown = run(tmp_path, "--measured-by", measured_by)
    printing = [command for command in (COMMANDS["print"], *PLATES.values()) if command in shown]
    usual = [] if measured_by == "eye" else [COMMANDS["print"]]
    assert printing == ([PLATES[measured_by]] if measured_by in PLATES else usual)
