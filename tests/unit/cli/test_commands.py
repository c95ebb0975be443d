"""Each command is loaded by itself, from the module that the table names."""

import re
from pathlib import Path

import greasecheck.cli
from greasecheck.cli.commands import MODULES, registered_by
from tests.benchmarks.start_up import modules_of

ROOMS = Path(greasecheck.cli.__file__).parent


def test_the_table_names_each_command_of_each_module_that_registers_some() -> None:
    places = [
        f"{file.parent.name}.{file.stem}"
        for file in ROOMS.glob("*/*.py")
        if re.search(r"^def register\(app: typer.Typer\)", file.read_text("utf-8"), re.MULTILINE)
    ]
    registered = {name: place for place in places for name in registered_by(place)}
    assert registered == MODULES


def test_a_command_loads_no_other(tmp_path: Path) -> None:
    modules = modules_of("cautions", tmp_path / "none.logbook")
    loaded = {f"greasecheck.cli.{place}" for place in MODULES.values()} & modules
    assert loaded == {"greasecheck.cli.entries.cautions"}
