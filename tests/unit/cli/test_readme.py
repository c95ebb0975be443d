"""README and help name only commands that there are, and each command's help has an example."""

import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer

from greasecheck.cli.app import app

README = Path(__file__).parents[3] / "README.md"
COMMAND = re.compile(r"(?:python -m )?greasecheck (.+)")
USAGE_ERROR: Any = typer.BadParameter.__base__
ROOT: Any = typer.main.get_command(app)


def leaves(command: Any = ROOT, name: str = "") -> Iterator[tuple[str, Any]]:  # noqa: ANN401 - typer's own click
    """Yield the full name of each command that does something."""
    if not hasattr(command, "commands"):
        yield name, command
        return
    if name and command.invoke_without_command:
        yield name, command
    for word, child in command.commands.items():
        yield from leaves(child, f"{name} {word}".strip())


COMMANDS = dict(leaves())


def readme_lines() -> Iterator[str]:
    """Yield what follows `greasecheck` in code blocks and in code within sentences."""
    text = README.read_text(encoding="utf-8")
    blocks = re.findall(r"```sh\n(.*?)```", text, re.DOTALL)
    spans = re.findall(r"`([^`\n]+)`", re.sub(r"```.*?```", "", text, flags=re.DOTALL))
    pieces = [part for line in "\n".join(blocks).splitlines() for part in line.split("&&")]
    for piece in (*pieces, *spans):
        if found := COMMAND.fullmatch(piece.partition("#")[0].strip()):
            yield found[1]


def parses(line: str) -> bool:
    """Return whether a command line is right usage; it is not run."""
    words = shlex.split(line)
    name = next((n for n in (" ".join(words[:2]), words[0]) if n in COMMANDS), None)
    if name is None:
        return False
    try:
        COMMANDS[name].make_context(name, words[len(name.split()) :]).close()
    except USAGE_ERROR:
        return False
    return True


@pytest.mark.parametrize("line", sorted(set(readme_lines())))
def test_command_lines_of_the_readme_parse(line: str) -> None:
    assert parses(line) or line in COMMANDS


def test_readme_shows_the_main_commands() -> None:
    shown = {line.split()[0] for line in readme_lines()}
    assert {"demo", "sheet", "camera", "clear", "read", "today", "change", "forecast"} <= shown


def test_the_readmes_python_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    (block,) = re.findall(r"```python\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    monkeypatch.chdir(README.parent)
    names: dict[str, Any] = {}
    exec(block, names)
    ends = [names["dates"].quantile(share) for share in (0.1, 0.5, 0.9)]
    assert names["start"] < ends[0] < ends[1] < ends[2]


def test_the_terminal_shows_about_twenty_commands() -> None:
    shown = [name for name, command in ROOT.commands.items() if not command.hidden]
    assert len(shown) <= 21, shown
    gathered = {"sheet", "clear", "calibrate", "camera", "camera-check"}
    assert gathered == set(ROOT.commands["setup"].commands)
    assert gathered == set(ROOT.commands) - set(shown)


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_help_has_an_example_that_parses(name: str) -> None:
    examples = re.findall(r"Example: greasecheck (.+)", COMMANDS[name].help or "")
    assert examples, f"'{name}' has no example"
    for example in examples:
        assert example.startswith(name.removeprefix("setup ").strip() or name)
        assert parses(example)


@pytest.mark.parametrize("line", ["nonsense 12", "read x --nonsense", "tub twelve", "looks"])
def test_wrong_line_is_noticed(line: str) -> None:
    assert not parses(line)
