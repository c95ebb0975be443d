"""What undo asks and lists, and what the commands for the whole logbook say."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

from greasecheck.cli.app import app
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.tables import TABLES
from tests.unit.cli.photos.test_read import answer, run

if TYPE_CHECKING:
    from typer.testing import Result


def asked(*words: object, reply: str) -> Result:
    """Run a command that may ask, and reply to it."""
    return CliRunner().invoke(app, [str(word) for word in words], input=f"{reply}\n")


def test_taking_back_several_lines_is_asked_about_with_their_number(logbook: Path) -> None:
    run("change", 12, 14, "--recipe", "soap")
    refused = asked("undo", reply="n")
    assert refused.exit_code == 1
    assert ", 2 lines of the logbook?" in refused.stderr
    with Logbook(logbook) as book:
        assert book.rows("SELECT count(*) FROM baths") == [(2,)]
    for day in (1, 2):
        run("reading", "add", 12, "--haze", 5, "--std", 1, "--at", f"2026-03-0{day}")
    run("reading", "shift", 12, "--by", "1h", "--since", "2026-03-01")
    told = asked("undo", reply="n").stderr
    lines = re.search(r", (\d+) lines of the logbook\?", told)
    undone = answer("undo")["undone"]  # who asks for JSON is no person to be asked
    assert lines is not None
    assert int(lines[1]) == undone["rows"] + undone["changed_rows"]
    for _ in range(3):
        assert asked("undo", "--yes", reply="").exit_code == 0
    with Logbook(logbook) as book:
        assert book.rows("SELECT count(*) FROM baths") == [(0,)]


def test_a_single_line_is_taken_back_unasked() -> None:
    taken_back = asked("undo", reply="")
    assert taken_back.exit_code == 0
    assert taken_back.stdout.startswith("taken back: ")
    assert [one["tub"]["number"] for one in answer("tub")["tubs"]] == [12]


def test_what_undo_did_is_no_entry_of_its_list() -> None:
    run("change", 12, "--recipe", "soap")
    before = answer("undo", "--list")["entries"]
    run("undo", "--yes")
    after = answer("undo", "--list")["entries"]
    assert [one["number"] for one in after] == [one["number"] for one in before]
    assert [one["undone_at"] is None for one in after] == [False] + [True] * (len(after) - 1)
    marked = [line.endswith("(taken back)") for line in run("undo", "--list").stdout.splitlines()]
    assert marked == [True] + [False] * (len(after) - 1)


@pytest.mark.parametrize("by_number", [False, True])
def test_a_tub_that_a_reading_names_stays_and_that_is_said(*, by_number: bool) -> None:
    run("reading", "add", 31, "--haze", 5, "--std", 1)
    number = answer("undo", "--list")["entries"][0]["number"]
    told = run("undo", *([number] if by_number else []), "--yes")
    assert told.exit_code == 0
    assert told.stderr == "tub 31 stays, with nothing known of it, as a reading names it\n"
    assert 31 in [one["tub"]["number"] for one in answer("tub")["tubs"]]


def test_what_rests_on_an_entry_is_named_without_it() -> None:
    first = answer("undo", "--list")["entries"][-1]["number"]
    run("tub", 12, "--name", "shed")
    (later,) = {one["number"] for one in answer("undo", "--list")["entries"][:1]}
    told = asked("undo", first, reply="n").stderr
    assert re.findall(r"(\d+) \(", told) == [str(later)]
    assert answer("undo", first, "--yes")["undone"] == [later, first]


def test_where_the_logbook_would_be_is_said_before_there_is_one(tmp_path: Path) -> None:
    path = tmp_path / "none.logbook"
    told = answer("book", "where", "--logbook", path)
    assert (told["logbook"], told["exists"]) == (str(path), False)


def test_a_backup_is_told_by_its_size_and_what_a_restore_replaced_by_its_place(
    logbook: Path, tmp_path: Path
) -> None:
    backup = tmp_path / "backup"
    told = run("book", "backup", backup).stdout
    assert told == f"{backup}: {backup.stat().st_size / 1e6:.1f} MB, checked\n"
    run("tub", 99, "--new")
    kept = answer("book", "restore", backup)["kept"]
    with Logbook(Path(kept)) as before, Logbook(logbook) as now:
        numbers = [[n for (n,) in book.rows("SELECT number FROM tubs")] for book in (before, now)]
    assert numbers == [[12, 14, 99], [12, 14]]


def test_a_row_changed_by_another_program_is_a_fault_until_it_is_accepted(logbook: Path) -> None:
    with closing(sqlite3.connect(logbook)) as file, file:
        file.execute("UPDATE tubs SET volume_l = 61 WHERE number = 12")
    for _ in range(2):
        found = run("book", "check")
        assert found.exit_code == 1
        assert "tubs" in found.stdout
    result = run("book", "check", "--json")
    assert result.exit_code == 1
    assert '"sound": false' in result.stdout
    accepted = run("book", "check", "--accept")
    assert (accepted.exit_code, accepted.stdout) == (0, "the logbook is sound\n")
    assert answer("book", "check") == {"schema": 1, "sound": True, "faults": []}


def test_an_import_counts_new_and_known_lines_apart(tmp_path: Path) -> None:
    lines = ["tub,filled_at,recipe", "12,2026-01-01T00:00Z,soap", "14,2026-01-01T00:00Z,soap"]
    file = tmp_path / "baths.csv"
    file.write_text("\n".join(lines[:2]))
    assert "baths: 1 added, 0 stood there already" in run("book", "import", file).stdout
    file.write_text("\n".join(lines))
    told = run("book", "import", file)
    assert "baths: 1 added, 1 stood there already" in told.stdout
    assert told.stderr == "", "no tub is new"


def test_an_imported_move_to_the_same_tub_is_asked_about(tmp_path: Path) -> None:
    (tmp_path / "skulls.csv").write_text("name\nfox\n")
    (tmp_path / "skull_events.csv").write_text(
        "skull,happened_at,kind,tub\n"
        "fox,2026-01-01T00:00Z,entered,12\nfox,2026-01-05T00:00Z,moved,12\n"
    )
    told = run("book", "import", tmp_path / "skulls.csv", tmp_path / "skull_events.csv")
    assert told.exit_code == 0
    assert "skull fox was moved to tub 12" in told.stderr
    assert "where it lay already" in told.stderr


def test_columns_that_a_file_must_have_are_called_required() -> None:
    """A file of those alone is taken in (see the tests of CSV); the others have a default."""
    told = {one["name"]: one for one in answer("book", "columns")["tables"]}
    for table in TABLES:
        shown = run("book", "columns", table.name).stdout
        for column in table.columns:
            needed = column.required and column.default is None
            (line,) = re.findall(rf"(?m)^  {column.name} \((.*?)\): ", shown)
            assert line.endswith(", required") is needed
            (body,) = [one for one in told[table.name]["columns"] if one["name"] == column.name]
            assert (body["required"], body["choices"]) == (needed, list(column.choices))
