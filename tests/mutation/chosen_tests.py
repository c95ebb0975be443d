"""Which tests run a line of code, the quick ones first."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from coverage import CoverageData

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from tests.mutation.points import Mutant

PHASE = "|"  # pytest-cov writes a context as node|phase
UNKNOWN_SECONDS = 5.0
TABLE_READERS = {  # which code reads a table of calibration/, for tests to be found by
    "advice.csv": "greasecheck/predict/advice",
    "bone.csv": "greasecheck/measure/bone",
    "cie_1931_2deg.csv": "greasecheck/reference/cie.py",
    "cie_d65.csv": "greasecheck/reference/cie.py",
    "recipe_priors.csv": "greasecheck/predict/recipes",
}
DEFAULT_READER = "greasecheck/predict"


@dataclass(frozen=True, slots=True, kw_only=True)
class TestMap:
    """The tests that ran each line of the package, and how long each took.

    Attributes
    ----------
    by_line : dict
        From file (relative) and line to node ids.
    seconds : dict
        From node id to seconds.
    """

    __test__ = False

    by_line: Mapping[tuple[str, int], frozenset[str]]
    seconds: Mapping[str, float]

    def of(self, mutant: Mutant, most_seconds: float) -> list[str]:
        """Return the tests that a mutant may fail, the quick ones first, within a time."""
        name = str(mutant.path)
        if mutant.path.suffix == ".py":
            found = self._of_line(name, mutant.line)
        else:
            found = self._of_folder(TABLE_READERS.get(mutant.path.name, DEFAULT_READER))
        return self._within(found, most_seconds)

    def _of_line(self, name: str, line: int) -> set[str]:
        here = self.by_line.get((name, line), frozenset())
        return set(here) or self._of_folder(name)  # a module's constants run at import

    def _of_folder(self, start: str) -> set[str]:
        tests = (tests for (path, _), tests in self.by_line.items() if path.startswith(start))
        return set().union(*tests)

    def _within(self, tests: Iterable[str], most_seconds: float) -> list[str]:
        chosen: list[str] = []
        spent = 0.0
        for test in sorted(tests, key=lambda test: (self._seconds(test), test)):
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
    )


def _durations(junit_file: Path) -> dict[str, float]:
    cases = ET.parse(junit_file).iter("testcase")
    return {
        f"{case.get('classname')}::{case.get('name')}": float(case.get("time", 0)) for case in cases
    }


def _junit_key(node: str) -> str:
    path, _, name = node.partition("::")
    return f"{path.removesuffix('.py').replace('/', '.')}::{name}"
