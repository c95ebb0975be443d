"""Which tests a mutant must fail: its own file's, those of its room, those that name it."""

from __future__ import annotations

import ast
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.mutation.points import Mutant

UNIT = "tests/unit/"
# Tests that start the program, serve pages or make photos: long ones, and so asked last.
LONG = ("tests/unit/cli/", "tests/unit/live/", "tests/synthetic/", "tests/faults/")
DIGESTS = "tests/unit/reference/test_unsourced_tables.py"  # fails at any change of a guess
# The module that reads each table; tests of a reader are tests of its table.
TABLE_READERS = {
    "advice.csv": "greasecheck.reference.advice",
    "bone.csv": "greasecheck.measure.bone.target",
    "cautions.csv": "greasecheck.reference.cautions",
    "cie_1931_2deg.csv": "greasecheck.reference.cie",
    "cie_d65.csv": "greasecheck.reference.cie",
    "fat_melting.csv": "greasecheck.predict.tables",
    "ladder_colour.csv": "greasecheck.reference.ladder.colour",
    "ladder_eye.csv": "greasecheck.reference.ladder.eye",
    "ladder_slopes.csv": "greasecheck.reference.ladder.slopes",
    "leaching_priors.csv": "greasecheck.predict.tables",
    "recipe_priors.csv": "greasecheck.predict.recipes.prior",
    "recipes.csv": "greasecheck.predict.tables",
    "species.csv": "greasecheck.predict.tables",
    "tag_ids.csv": "greasecheck.reference.tags",
    "yellowing.csv": "greasecheck.predict.yellowing.prior",
    "yellowing_rule.csv": "greasecheck.predict.yellowing.prior",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class NearTests:
    """The files of tests that name a module or table, and those of its mirrored folder.

    Other tests may fail, too: who asks only these finds at least as many survivors.
    """

    root: Path

    def of(self, mutant: Mutant) -> list[str]:
        """Return the files of tests that a mutant must fail, the likeliest and quickest first.

        The module's own file and its folder come first, then others that name it, long ones last.
        """
        reader = reader_of(mutant)
        mirror = self._mirror_of(reader.parent)
        files = sorted((self.root / "tests").rglob("test_*.py"))
        naming = [path for path in files if _names(path, reader, mutant.path)]
        found = [*naming, *(path for path in files if path.parent == mirror and path not in naming)]
        own, room = f"test_{reader.stem}.py", str(mirror.relative_to(self.root))
        names = [str(path.relative_to(self.root)) for path in found]
        return sorted(names, key=lambda name: _group(name, own, room))

    def _mirror_of(self, room: Path) -> Path:
        """Return the folder of unit tests that mirrors a room, or the nearest room above it."""
        mirror = self.root / UNIT / Path(*room.parts[1:])
        while not mirror.is_dir() and mirror != self.root:
            mirror = mirror.parent
        return mirror


def reader_of(mutant: Mutant) -> Path:
    """Return the module that is mutated, or that reads the mutated table."""
    if mutant.path.suffix == ".py":
        return mutant.path
    return Path(*TABLE_READERS[mutant.path.name].split(".")).with_suffix(".py")


def _dotted(path: Path) -> str:
    return str(path.with_suffix("")).replace("/", ".")


def _names(path: Path, reader: Path, changed: Path) -> bool:
    """Return whether a file of tests names a module, or the table that was changed."""
    return _dotted(reader) in _imported(path) or changed.name in _text(path)


def _group(name: str, own: str, room: str) -> int:
    """Return the group of a file of tests in the order, 0 first."""
    path = Path(name)
    if name == DIGESTS:
        return 4
    if path.name == own:
        return 0
    if str(path.parent) == room:
        return 1
    return 3 if name.startswith(LONG) else 2


@cache
def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8")


@cache
def _imported(path: Path) -> frozenset[str]:
    """Return the dotted names that a file imports, anywhere in it."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(_text(path))):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
            found.update(f"{node.module}.{alias.name}" for alias in node.names)
    return frozenset(found)
