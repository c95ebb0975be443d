"""Which tests a mutant must fail: those that name what it changes, and those of its own room."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.mutation.points import Mutant

UNIT = "tests/unit/"
DIGESTS = "tests/unit/reference/test_unsourced_tables.py"  # fails at any change of a guess
# The module that reads each table; tests of a reader are tests of its table.
TABLE_READERS = {
    "advice.csv": "greasecheck.reference.advice",
    "bone.csv": "greasecheck.measure.bone.target",
    "cautions.csv": "greasecheck.reference.cautions",
    "cie_1931_2deg.csv": "greasecheck.reference.cie",
    "cie_d65.csv": "greasecheck.reference.cie",
    "fat_melting.csv": "greasecheck.predict.tables",
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
        """Return the files of tests that a mutant must fail, the likeliest and quickest first."""
        subjects, reader = subjects_of(mutant)
        near = self._mirror_of(reader.parent)
        own = f"test_{reader.stem}.py"
        found = [
            path.relative_to(self.root)
            for path in sorted((self.root / "tests").rglob("test_*.py"))
            if path.parent == near or any(subject in _text(path) for subject in subjects)
        ]
        return [str(path) for path in sorted(found, key=lambda path: _rank(path, near.name, own))]

    def _mirror_of(self, room: Path) -> Path:
        """Return the folder of unit tests that mirrors a room, or the nearest room above it."""
        mirror = self.root / UNIT / Path(*room.parts[1:])
        while not mirror.is_dir() and mirror != self.root:
            mirror = mirror.parent
        return mirror


def subjects_of(mutant: Mutant) -> tuple[list[str], Path]:
    """Return what tests call the mutated file, and the module that it is or that reads it."""
    if mutant.path.suffix == ".py":
        return [_dotted(mutant.path)], mutant.path
    module = TABLE_READERS[mutant.path.name]
    return [mutant.path.name, module], Path(*module.split(".")).with_suffix(".py")


def _dotted(path: Path) -> str:
    return str(path.with_suffix("")).replace("/", ".")


def _rank(path: Path, room: str, own: str) -> tuple[bool, bool, bool, bool]:
    """Return the key by which a module's own tests come first, and digests and slow tests last."""
    unit = str(path).startswith(UNIT)
    return str(path) == DIGESTS, path.name != own, not unit, path.parent.name != room


@cache
def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8")
