"""Which tests run a line of code, the quick ones first."""

from __future__ import annotations

import ast
import re
import xml.etree.ElementTree as ET
from collections import defaultdict
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from coverage import CoverageData

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from tests.mutation.points import Mutant

PHASE = "|"  # pytest-cov writes a context as node|phase
UNKNOWN_SECONDS = 5.0
ROUND_SECONDS = (10.0, 90.0)  # of tests, for all mutants and for those that survive
TABLE_READERS = {  # which code reads a table of calibration/, for tests to be found by
    "advice.csv": "greasecheck/predict/advice",
    "bone.csv": "greasecheck/measure/bone",
    "cie_1931_2deg.csv": "greasecheck/reference/cie.py",
    "cie_d65.csv": "greasecheck/reference/cie.py",
    "ladder_eye.csv": "greasecheck/reference/ladder/eye.py",
    "ladder_slopes.csv": "greasecheck/reference/ladder/slopes.py",
    "recipe_priors.csv": "greasecheck/predict/recipes",
    "tag_ids.csv": "greasecheck/reference/tags.py",
}
DEFAULT_READER = "greasecheck/predict"


@dataclass(frozen=True, slots=True, kw_only=True)
class NearTests:
    """The files of tests that name a module or table, then those of its mirrored folder.

    Found without running anything: who asks only these finds at least as many survivors.
    """

    root: Path

    def rounds(self, mutant: Mutant) -> Iterator[list[str]]:
        """Yield the files of tests that a mutant may fail, the nearest first."""
        subject = subject_of(mutant)
        near = self._mirror_of(mutant.path.parent)
        naming, mirrored = [], []
        for path in sorted((self.root / "tests").rglob("test_*.py")):
            name = str(path.relative_to(self.root))
            if subject in "\n".join(_lines_of(path)):
                naming.append(name)
            elif mutant.path.suffix == ".py" and path.parent == near:
                mirrored.append(name)
        yield sorted(naming, key=lambda name: not name.startswith("tests/unit/"))  # quick ones
        yield mirrored

    def _mirror_of(self, room: Path) -> Path:
        """Return the folder of unit tests that mirrors a room, or the nearest room above it."""
        mirror = self.root / "tests" / "unit" / Path(*room.parts[1:])
        while not mirror.is_dir() and mirror != self.root:
            mirror = mirror.parent
        return mirror


def subject_of(mutant: Mutant) -> str:
    """Return what tests call the mutated file: a module's dotted name, a table's file name."""
    if mutant.path.suffix == ".py":
        return str(mutant.path).removesuffix(".py").replace("/", ".")
    return mutant.path.name


@dataclass(frozen=True, slots=True, kw_only=True)
class TestMap:
    """The tests that ran each line of the package, and how long each took.

    Attributes
    ----------
    by_line : dict
        From file (relative) and line to node ids.
    seconds : dict
        From node id to seconds.
    root : pathlib.Path
        Of the repository.
    """

    __test__ = False

    by_line: Mapping[tuple[str, int], frozenset[str]]
    seconds: Mapping[str, float]
    root: Path

    def rounds(self, mutant: Mutant) -> Iterator[list[str]]:
        """Yield the tests that a mutant may fail, of little time and of more."""
        for seconds in ROUND_SECONDS:
            yield self.of(mutant, seconds)

    def of(self, mutant: Mutant, most_seconds: float) -> list[str]:
        """Return the tests that a mutant may fail, within a time.

        Those of files that name the mutated module or table come first, then the quick ones.
        """
        subject = subject_of(mutant)
        if mutant.path.suffix == ".py":
            found = self._of_line(str(mutant.path), mutant.line)
        else:
            found = self._of_folder(TABLE_READERS.get(subject, DEFAULT_READER))
            found |= {test for test in self._of_folder("") if self._names(test, subject)}
        return self._within(found, subject, most_seconds)

    def _of_line(self, name: str, line: int) -> set[str]:
        here = self.by_line.get((name, line), frozenset())
        return set(here) or self._of_constant(name, line) or self._of_folder(name)

    def _of_constant(self, name: str, line: int) -> set[str]:
        """Return the tests of lines that use a module's constant, which itself runs at import."""
        constants = _constants_at(self.root / name, line)
        if not constants:
            return set()
        used = re.compile(rf"\b({'|'.join(map(re.escape, constants))})\b")
        return set().union(
            *(
                tests
                for (path, number), tests in self.by_line.items()
                if used.search(_lines_of(self.root / path)[number - 1])
            )
        )

    def _of_folder(self, start: str) -> set[str]:
        tests = (tests for (path, _), tests in self.by_line.items() if path.startswith(start))
        return set().union(*tests)

    def _names(self, test: str, subject: str) -> bool:
        path = self.root / test.partition("::")[0]
        return path.is_file() and subject in "\n".join(_lines_of(path))

    def _within(self, tests: Iterable[str], subject: str, most_seconds: float) -> list[str]:
        chosen: list[str] = []
        spent = 0.0
        by_use = {test: (not self._names(test, subject), self._seconds(test)) for test in tests}
        for test in sorted(by_use, key=lambda test: (by_use[test], test)):
            spent += self._seconds(test)
            if spent > most_seconds and chosen:
                break
            chosen.append(test)
        return chosen

    def _seconds(self, test: str) -> float:
        return self.seconds.get(_junit_key(test), UNKNOWN_SECONDS)


def read_map(coverage_file: Path, junit_file: Path, root: Path) -> TestMap:
    """Read the map from a run with `--cov-context=test --junitxml=FILE`."""
    data = CoverageData(basename=str(coverage_file))
    data.read()
    by_line: dict[tuple[str, int], set[str]] = defaultdict(set)
    for path in data.measured_files():
        name = str(Path(path).relative_to(root))
        for line, contexts in data.contexts_by_lineno(path).items():
            by_line[name, line] |= {text.split(PHASE)[0] for text in contexts if text}
    return TestMap(
        by_line={key: frozenset(tests) for key, tests in by_line.items()},
        seconds=_durations(junit_file),
        root=root,
    )


@cache
def _lines_of(path: Path) -> tuple[str, ...]:
    return tuple(path.read_text(encoding="utf-8").split("\n"))


def _constants_at(path: Path, line: int) -> list[str]:
    """Return the names that a module's assignment at a line gives."""
    module = ast.parse("\n".join(_lines_of(path)))
    return [
        node.id
        for statement in module.body
        if isinstance(statement, ast.Assign)
        and statement.lineno <= line <= (statement.end_lineno or line)
        for target in statement.targets
        for node in ast.walk(target)
        if isinstance(node, ast.Name)
    ]


def _durations(junit_file: Path) -> dict[str, float]:
    cases = ET.parse(junit_file).iter("testcase")
    return {
        f"{case.get('classname')}::{case.get('name')}": float(case.get("time", 0)) for case in cases
    }


def _junit_key(node: str) -> str:
    path, _, name = node.partition("::")
    return f"{path.removesuffix('.py').replace('/', '.')}::{name}"
