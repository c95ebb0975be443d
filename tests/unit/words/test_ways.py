"""No command is named below the command line; the terminal adds it to the hint."""

from __future__ import annotations

import ast
import re
from pathlib import Path

from typer.main import get_command

import greasecheck
from greasecheck.cli.app import app
from greasecheck.words.ways import WAYS, way_of

PACKAGE = Path(greasecheck.__file__).parent
COMMANDS = {str(name) for name in get_command(app).commands}  # type: ignore[attr-defined]
NAMED = re.compile(
    rf"greasecheck ({'|'.join(COMMANDS)})(?![a-z])(?! ladder)|(?<![\w-])--[a-z]{{2,}}"
)
# The printed sheet by its maker, and custom properties of style sheets.
TITLES = re.compile(r"use the greasecheck sheet|var\(--")


def strings(file: Path) -> list[str]:
    tree = ast.parse(file.read_text(encoding="utf-8"))
    documented = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.FunctionDef | ast.ClassDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and id(node) not in documented
    ]


def below() -> list[Path]:
    own = (PACKAGE / "cli", PACKAGE / "words" / "ways.py")
    return [
        file
        for file in PACKAGE.rglob("*.py")
        if own[0] not in file.parents and file != own[1] and file.parent != PACKAGE
    ]


def test_no_command_and_no_option_is_named_below_the_command_line() -> None:
    named = {
        f"{file.relative_to(PACKAGE)}: {text}"
        for file in below()
        for text in strings(file)
        if NAMED.search(text) and not TITLES.search(text)
    }
    assert named == set()


def test_no_page_names_a_command() -> None:
    for template in PACKAGE.rglob("*.html.j2"):
        assert not re.search(r"greasecheck [a-z]+ \d|<code>", template.read_text(encoding="utf-8"))


def test_every_way_stands_in_a_hint() -> None:
    said = "\n".join(text for file in below() for text in strings(file))
    assert [words for words in WAYS if words not in said] == []


def test_a_hint_without_a_way_has_none() -> None:
    assert way_of("wait a little") == ""
