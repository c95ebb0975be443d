from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.csv.write import export_tables
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.safety import faults
from greasecheck.logbook.store.tables import TABLES
from greasecheck.logbook.story import skull_story
from greasecheck.logbook.today import garage_today

RELEASED = sorted((Path(__file__).parent / "released").glob("schema_*.sql"))


@pytest.mark.parametrize("script", RELEASED, ids=lambda path: path.stem)
def test_a_logbook_of_every_released_schema_opens(tmp_path: Path, script: Path) -> None:
    path = tmp_path / "season.logbook"
    with closing(sqlite3.connect(path)) as old:
        old.executescript(script.read_text(encoding="utf-8"))
    with Logbook(path) as book:
        assert faults(book) == ()
        (tub,) = garage_today(book, datetime(2026, 3, 4, tzinfo=UTC))
        assert tub.haze is not None
        assert tub.haze.attenuation_per_m == 5.0
        assert len(skull_story(book, "fox 3")) == 6
        export_tables(book, tmp_path / "out")
    with Logbook(tmp_path / "new.logbook", create=True) as fresh:
        done = import_tables(fresh, [tmp_path / "out"])
    missing = {table.name for table in TABLES if not done.added[table.name]}
    assert missing <= {"copies", "promises", "settings", "temperatures", "top_ups"}, (
        "tables that schema 1 had not"
    )
