"""The commands by name: the module of one is loaded when it is called or its help is shown."""

from collections import UserDict
from collections.abc import Mapping
from functools import cache
from importlib import import_module
from typing import Any, Final

import typer

MARKUP: Final = "markdown"  # of the help
MODULES = {
    "clear": "setup.guide",
    "calibrate": "setup.guide",
    "camera": "setup.guide",
    "camera-check": "setup.guide",
    "demo": "setup.demo",
    "read": "photos.read",
    "watch": "setup.watch",
    "today": "answers.today",
    "forecast": "answers.forecast",
    "season": "answers.season",
    "serve": "setup.serve",
    "calendar": "answers.calendar",
    "tub": "entries.tubs",
    "change": "entries.tubs",
    "answer": "entries.tubs",
    "skull": "entries.skulls",
    "promise": "entries.promises",
    "looks": "answers.looks",
    "recipes": "answers.recipes",
    "risk": "answers.risk",
    "cautions": "entries.cautions",
    "undo": "entries.book",
    "setup": "setup.guide",
    "sheet": "setup.guide",
    "reading": "photos.readings",
    "book": "entries.book",
}


class Commands(UserDict[str, Any]):
    """All commands, in the order of the help."""

    def __init__(self) -> None:
        super().__init__(dict.fromkeys(MODULES))

    def __getitem__(self, name: str) -> Any:  # noqa: ANN401 - click's command, or of typer's copy
        """Load a command."""
        return registered_by(MODULES[name])[name]


@cache
def registered_by(module: str) -> Mapping[str, Any]:
    """Return the commands that a module of this package registers, by name."""
    part = typer.Typer(rich_markup_mode=MARKUP)
    import_module(f"greasecheck.cli.{module}").register(part)
    return typer.main.get_group(part).commands
