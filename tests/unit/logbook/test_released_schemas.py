from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.csv.write import export_tables
from greasecheck.logbook.records import Skull, Tub
from greasecheck.logbook.skulls.skulls import enter_skull, list_skulls, skull_named
from greasecheck.logbook.skulls.tags import skull_with_tag
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.safety import faults
from greasecheck.logbook.store.tables import SKULLS, TABLES, TUBS
from greasecheck.logbook.story import skull_story
from greasecheck.logbook.today import garage_today
from greasecheck.logbook.undo import last_entry, undo
from greasecheck.logbook.water.baths import ensure_tub, enter_tub, list_tubs

if TYPE_CHECKING:
    from greasecheck.logbook.store.columns import Value
    from greasecheck.logbook.store.table import Table

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


def join_as_before(book: Logbook, table: Table, old: Value, new: Value) -> None:
    """Join two names of one thing as was done up to schema 13: its facts stay under the old one."""
    with book.entry(f"{old} is called {new}") as entry:
        entry.update(table, (old,), {"merged_into": new})


def open_as_of_schema_13(path: Path) -> Logbook:
    with closing(sqlite3.connect(path)) as old:
        old.execute("PRAGMA user_version = 13")
    return Logbook(path)


def test_facts_under_a_former_name_go_over_to_the_name_of_today(tmp_path: Path) -> None:
    path = tmp_path / "season.greasecheck"
    with Logbook(path, create=True) as book:
        enter_skull(book, Skull(name="fox 3", owner="Ann"))
        enter_skull(book, Skull(name="füchs 3", species="fox", owner="Bob", tag=7))
        enter_tub(book, Tub(number=12, name="door"))
        enter_tub(book, Tub(number=14, name="window", volume_l=60))
        join_as_before(book, SKULLS, "füchs 3", "fox 3")
        join_as_before(book, TUBS, 14, 12)
    with open_as_of_schema_13(path) as book:
        assert list_skulls(book) == (Skull(name="fox 3", species="fox", owner="Ann", tag=7),)
        assert skull_with_tag(book, 7) == "fox 3"
        assert list_tubs(book) == (Tub(number=12, name="door", volume_l=60),)
        assert faults(book) == ()
        for _ in range(2):
            last = last_entry(book)
            assert last is not None
            undo(book, last)
        assert skull_named(book, "fox 3") == Skull(name="fox 3", owner="Ann")
        assert skull_with_tag(book, 7) == "füchs 3"
        assert [tub.volume_l for tub in list_tubs(book)] == [None, 60]
        assert faults(book) == ()


def test_what_was_entered_later_is_left_by_facts_of_a_former_name(tmp_path: Path) -> None:
    path = tmp_path / "season.greasecheck"
    with Logbook(path, create=True) as book:
        enter_skull(book, Skull(name="fox 3"))
        enter_skull(book, Skull(name="fx 3", species="dog"))
        join_as_before(book, SKULLS, "fx 3", "fox 3")
        enter_skull(book, Skull(name="fox 3", species="fox"))
    with open_as_of_schema_13(path) as book:
        assert skull_named(book, "fox 3").species == "fox"


def test_a_name_entered_anew_begins_without_the_facts_of_its_former_bearer(tmp_path: Path) -> None:
    path = tmp_path / "season.greasecheck"
    with Logbook(path, create=True) as book:
        for name in ("fox 3", "fx 3"):
            enter_skull(book, Skull(name=name, species="fox", owner="Ann"))
        for number in (12, 14, 15):
            enter_tub(book, Tub(number=number, name=f"door {number}", volume_l=60))
        join_as_before(book, SKULLS, "fx 3", "fox 3")
        join_as_before(book, TUBS, 14, 12)
        join_as_before(book, TUBS, 15, 12)
    with open_as_of_schema_13(path) as book:
        enter_skull(book, Skull(name="fx 3", species="badger"))
        enter_tub(book, Tub(number=14, volume_l=30))
        with book.entry("a photo of tub 15") as entry:
            assert ensure_tub(entry, 15)
        assert skull_named(book, "fx 3") == Skull(name="fx 3", species="badger")
        assert list_tubs(book)[1:] == (Tub(number=14, volume_l=30), Tub(number=15))
        assert faults(book) == ()
