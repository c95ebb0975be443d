"""Long CSV files go through the logbook a few thousand lines at a time."""

from __future__ import annotations

import tracemalloc
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import DataFileError
from greasecheck.logbook.csv import stage
from greasecheck.logbook.csv.faults import MOST_FAULTS_SHOWN
from greasecheck.logbook.csv.lines import Line
from greasecheck.logbook.csv.read import Imported, import_tables
from greasecheck.logbook.csv.write import export_tables
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.tables import TABLES

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

HEADER = "key,tub,taken_at,verdict,attenuation_per_m,attenuation_std_per_m\n"


def long_file(folder: Path, lines: int, bad: str = "") -> Path:
    folder.mkdir()
    rows = (
        f"k{n:07},{10 + n % 7},20{10 + n % 9}-01-01T00:00:00Z,good,{n % 40},0.5\n"
        for n in range(lines)
    )
    file = folder / "readings.csv"
    file.write_text(HEADER + "".join(rows) + bad, encoding="utf-8")
    return folder


def imported(path: Path, folder: Path) -> Imported:
    with Logbook(path, create=True) as book:
        return import_tables(book, [folder])


def test_memory_does_not_grow_with_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(stage, "AT_ONCE", 250)

    def peak(lines: int) -> float:
        folder = long_file(tmp_path / f"in{lines}", lines)
        tracemalloc.start()
        try:
            imported(tmp_path / f"{lines}.logbook", folder)
            with Logbook(tmp_path / f"{lines}.logbook") as book:
                export_tables(book, tmp_path / f"out{lines}")
            return float(tracemalloc.get_traced_memory()[1])
        finally:
            tracemalloc.stop()

    peak(300)  # what is loaded once
    assert peak(4000) < 1.3 * peak(1000)


def test_no_more_than_five_thousand_lines_wait_in_memory(tmp_path: Path) -> None:
    ahead = []
    with Logbook(tmp_path / "season.logbook", create=True) as book:
        table = next(table for table in TABLES if table.name == "tubs")
        lines = stage.Stage(book=book, path=tmp_path, table=table, name="temp.coming")

        def coming() -> Iterator[Line]:
            for number in range(12_000):
                if number % 1000 == 999:
                    ahead.append(number - lines.count())
                yield Line(number=number, row=(None,) * len(table.names))

        lines.fill(coming())
        assert lines.count() == 12_000
    assert max(ahead) == 5000 - 1


def test_a_long_file_comes_in_whole_and_a_second_time_as_known(tmp_path: Path) -> None:
    folder = long_file(tmp_path / "in", 2 * stage.AT_ONCE + 1)
    first = imported(tmp_path / "season.logbook", folder)
    again = imported(tmp_path / "season.logbook", folder)
    assert first.added == again.known == {"readings": 2 * stage.AT_ONCE + 1}
    assert again.added == {"readings": 0}
    assert first.new_tubs == tuple(range(10, 17))
    assert again.new_tubs == ()


def test_more_faults_than_can_be_used_are_counted(tmp_path: Path) -> None:
    bad = "x,ten,yesterday,good,1,1\n" * (MOST_FAULTS_SHOWN // 2 + 5)
    folder = long_file(tmp_path / "in", 3, bad)
    with pytest.raises(DataFileError) as caught:
        imported(tmp_path / "season.logbook", folder)
    assert f"for {MOST_FAULTS_SHOWN + 10} faults" in caught.value.problem
    assert caught.value.problem.endswith("and 10 more")


def test_nothing_is_left_of_lines_that_did_not_come_in(tmp_path: Path) -> None:
    folder = long_file(tmp_path / "in", 3, "k0000001,ten\n")
    with Logbook(tmp_path / "season.logbook", create=True) as book:
        with pytest.raises(DataFileError):
            import_tables(book, [folder])
        assert book.rows("SELECT name FROM temp.sqlite_master") == []
        assert book.rows("SELECT * FROM entries") == []
