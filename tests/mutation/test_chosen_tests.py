"""The tests that name what was changed come first, and a constant's are those of its users."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.mutation.chosen_tests import NearTests, TestMap
from tests.mutation.points import Mutant

MODULE = (
    "LIMIT, FEW = 4, 2\n\ndef judge(x):\n    return x < LIMIT\n\ndef count():\n    return FEW\n"
)
JUDGED, COUNTED = "tests/test_far.py::test_judge", "tests/test_near.py::test_count"
QUICK = "tests/test_far.py::test_quick"


@pytest.fixture
def tests(tmp_path: Path) -> TestMap:
    for name, text in {
        "package/room.py": MODULE,
        "tests/test_far.py": "",
        "tests/test_near.py": "from package.room import count\nTABLE = 'fat.csv'\n",
    }.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    return TestMap(
        by_line={
            ("package/room.py", 4): frozenset({JUDGED}),
            ("package/room.py", 6): frozenset({COUNTED, QUICK}),
        },
        seconds={"tests.test_far::test_judge": 1.0, "tests.test_near::test_count": 3.0},
        root=tmp_path,
    )


def mutant(path: str, line: int) -> Mutant:
    return Mutant(path=Path(path), line=line, before="4", after="6", start=0)


def test_a_line_has_its_tests_and_what_names_the_module_goes_first(tests: TestMap) -> None:
    assert tests.of(mutant("package/room.py", 4), 100) == [JUDGED]
    assert tests.of(mutant("package/room.py", 6), 100) == [COUNTED, QUICK]
    assert tests.of(mutant("package/room.py", 6), 4) == [COUNTED]


def test_a_constant_has_the_tests_of_the_lines_that_use_it(tests: TestMap) -> None:
    assert set(tests.of(mutant("package/room.py", 2), 100)) == {JUDGED, COUNTED, QUICK}


def test_a_table_has_the_tests_that_name_it(tests: TestMap) -> None:
    assert tests.of(mutant("calibration/fat.csv", 9), 100) == [COUNTED]


def test_near_tests_name_the_file_or_lie_in_the_folder_that_mirrors_it(tmp_path: Path) -> None:
    for name, text in {
        "tests/unit/room/test_mirror.py": "",
        "tests/unit/room/corner/test_deeper.py": "",
        "tests/far/test_names.py": "from package.room.wall import x",
        "tests/far/test_table.py": "fat.csv",
    }.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    near = NearTests(root=tmp_path)
    assert list(near.rounds(mutant("package/room/wall.py", 1))) == [
        ["tests/far/test_names.py"],
        ["tests/unit/room/test_mirror.py"],
    ]
    above = list(near.rounds(mutant("package/room/attic/roof.py", 1)))
    assert above == [[], ["tests/unit/room/test_mirror.py"]]
    assert list(near.rounds(mutant("calibration/fat.csv", 1))) == [["tests/far/test_table.py"], []]
