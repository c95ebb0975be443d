"""A module's own tests come first, then those of its room, then others that name it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.mutation.chosen_tests import DIGESTS, TABLE_READERS, NearTests
from tests.mutation.points import Mutant

ROOT = Path(__file__).parents[2]


def mutant(path: str) -> Mutant:
    return Mutant(path=Path(path), line=1, before="4", after="6", start=0)


@pytest.fixture
def near(tmp_path: Path) -> NearTests:
    for name, text in {
        "tests/unit/room/test_floor.py": "",
        "tests/unit/room/test_wall.py": "from package.room.wall import x",
        "tests/unit/room/corner/test_deeper.py": "",
        "tests/unit/reference/test_cie.py": "",
        "tests/unit/cli/test_command.py": "from package.room.wall import x",
        "tests/far/test_names.py": "from package.room.wall import x",
        "tests/far/test_parent.py": "from package.room import wall",
        "tests/far/test_table.py": "'cie_d65.csv'",
        "tests/far/test_reader.py": "import greasecheck.reference.cie",
        DIGESTS: "'cie_d65.csv'",
    }.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    return NearTests(root=tmp_path)


def test_a_modules_own_file_and_its_room_come_before_others_that_name_it(near: NearTests) -> None:
    assert near.of(mutant("package/room/floor.py")) == [
        "tests/unit/room/test_floor.py",
        "tests/unit/room/test_wall.py",
    ]
    assert near.of(mutant("package/room/wall.py")) == [
        "tests/unit/room/test_wall.py",
        "tests/unit/room/test_floor.py",
        "tests/far/test_names.py",
        "tests/far/test_parent.py",
        "tests/unit/cli/test_command.py",
    ]


def test_in_a_room_those_that_name_the_module_come_first(near: NearTests) -> None:
    (near.root / "tests/unit/room/test_all.py").write_text("from package.room import wall")
    (near.root / "tests/unit/room/test_bare.py").write_text("")
    assert near.of(mutant("package/room/wall.py"))[:3] == [
        "tests/unit/room/test_wall.py",
        "tests/unit/room/test_all.py",
        "tests/unit/room/test_bare.py",
    ]


def test_long_tests_come_last_but_a_commands_own(near: NearTests) -> None:
    assert near.of(mutant("package/cli/command.py"))[0] == "tests/unit/cli/test_command.py"
    assert near.of(mutant("package/room/wall.py"))[-1] == "tests/unit/cli/test_command.py"


def test_a_room_without_tests_has_those_of_the_room_above(near: NearTests) -> None:
    above = near.of(mutant("package/room/attic/roof.py"))
    assert above == ["tests/unit/room/test_floor.py", "tests/unit/room/test_wall.py"]


def test_a_table_has_the_tests_of_its_reader_and_its_digest_after_them(near: NearTests) -> None:
    found = near.of(mutant("calibration/cie_d65.csv"))
    assert found[0] == "tests/unit/reference/test_cie.py"
    assert found[1:] == ["tests/far/test_reader.py", "tests/far/test_table.py", DIGESTS]


def test_every_table_has_a_reader_that_exists_and_tests_beside_its_digest() -> None:
    tables = {path.name for path in (ROOT / "calibration").glob("*.csv")}
    assert set(TABLE_READERS) == tables
    for name, reader in TABLE_READERS.items():
        assert (ROOT / Path(*reader.split(".")).with_suffix(".py")).is_file()
        assert set(NearTests(root=ROOT).of(mutant(f"calibration/{name}"))) - {DIGESTS}
