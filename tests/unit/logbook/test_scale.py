from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.store.book import Logbook
from tests.benchmarks.logbook_scale import write_season

if TYPE_CHECKING:
    from pathlib import Path

MOST_BYTES_A_READING = 100e6 / 70_000


def test_a_reading_takes_little_room(tmp_path: Path) -> None:
    counts = write_season(tmp_path, days=90)
    with Logbook(tmp_path / "season.logbook", create=True) as book:
        done = import_tables(book, [tmp_path])
    assert done.added == counts
    size = (tmp_path / "season.logbook").stat().st_size
    assert size / counts["readings"] < MOST_BYTES_A_READING
