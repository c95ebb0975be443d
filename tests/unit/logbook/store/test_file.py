from __future__ import annotations

import os
import sqlite3
from contextlib import closing, suppress
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.records import Tub
from greasecheck.logbook.store import file as store
from greasecheck.logbook.store.book import Logbook, default_path, open_or_make
from greasecheck.logbook.store.drafts import PREFIX
from greasecheck.logbook.store.safety import back_up, faults, restore
from greasecheck.logbook.water.baths import enter_tub, list_tubs

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "season.logbook"
    with Logbook(path, create=True) as book:
        enter_tub(book, Tub(number=12))
    return path


def pragma(path: Path, name: str) -> object:
    connection = store.connect(path)
    with closing(connection):
        return connection.execute(f"PRAGMA {name}").fetchone()[0]


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_a_link_to_nowhere_is_told_as_one(tmp_path: Path) -> None:
    link = tmp_path / "season.logbook"
    link.symlink_to(tmp_path / "unplugged" / "season.logbook")
    with pytest.raises(LogbookError, match=r"is a link to .*unplugged.*, which is not there"):
        Logbook(link, create=True)
    assert link.is_symlink(), "it stays"


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_what_is_kept_beside_a_linked_logbook_lies_beside_its_file(
    path: Path, tmp_path: Path
) -> None:
    link = tmp_path / "desk" / "season.logbook"
    link.parent.mkdir()
    link.symlink_to(path)
    with Logbook(link) as book:
        assert book.path == path
        back_up(book, tmp_path / "backup")
        enter_tub(book, Tub(number=13))
        assert faults(book) == ()
    restore(tmp_path / "backup", link)
    assert list(link.parent.iterdir()) == [link]
    assert link.is_symlink(), "it stays"
    with Logbook(path) as book:
        assert [tub.number for tub in list_tubs(book)] == [12]
        assert faults(book) == ()


def test_the_file_is_kept_as_promised(path: Path) -> None:
    names = ("journal_mode", "foreign_keys", "synchronous", "busy_timeout")  # the last in ms
    settings = {name: pragma(path, name) for name in names}
    assert settings == {
        "journal_mode": "wal", "foreign_keys": 1, "synchronous": 2, "busy_timeout": 30_000
    }  # fmt: skip
    with Logbook(path) as book:
        loose = book.rows(
            "SELECT name FROM pragma_table_list WHERE schema = 'main' AND NOT strict"
            " AND name NOT LIKE 'sqlite_%'"
        )
    assert loose == []


def test_the_schema_is_that_of_the_last_migration(path: Path) -> None:
    assert pragma(path, "user_version") == len(store.migrations()) >= 1


def test_a_logbook_is_made_with_its_folders(tmp_path: Path) -> None:
    path = tmp_path / "a" / "b" / "season.logbook"
    Logbook(path, create=True).close()
    assert sorted(found.name for found in path.parent.iterdir()) == ["season.logbook"]


def test_a_missing_logbook_is_made_only_when_asked(tmp_path: Path) -> None:
    with pytest.raises(LogbookError, match="there is no logbook") as caught:
        Logbook(tmp_path / "season.logbook")
    assert "first tub" in caught.value.hint
    assert list(tmp_path.iterdir()) == []


def test_a_logbook_is_there_from_its_first_entry_on(tmp_path: Path) -> None:
    path = tmp_path / "season.logbook"
    with open_or_make(path) as book:
        assert not path.exists()
        assert list_tubs(book) == ()
    assert list(tmp_path.iterdir()) == []
    with suppress(KeyboardInterrupt), open_or_make(path) as book:
        enter_tub(book, Tub(number=12))
        assert path.exists()
        enter_tub(book, Tub(number=13))
        raise KeyboardInterrupt
    with Logbook(path) as book:
        assert [tub.number for tub in list_tubs(book)] == [12, 13]
        assert faults(book) == ()
    assert {found.name for found in tmp_path.iterdir()} == {path.name, f"{path.name}.last"}


def test_an_empty_file_is_told_as_one(tmp_path: Path) -> None:
    path = tmp_path / "season.logbook"
    path.touch()
    with pytest.raises(LogbookError, match="is empty") as caught, open_or_make(path):
        pass
    assert caught.value.hint.startswith("delete it, then start one with its first tub")


def test_of_two_that_make_a_logbook_at_once_one_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "season.logbook"
    with open_or_make(path) as first, open_or_make(path) as second:
        enter_tub(first, Tub(number=12))
        with pytest.raises(LogbookError, match="another program made the logbook"):
            enter_tub(second, Tub(number=13))
    with Logbook(path) as book:
        assert [tub.number for tub in list_tubs(book)] == [12]


def test_a_logbook_made_meanwhile_by_another_is_kept(path: Path, tmp_path: Path) -> None:
    fresh = tmp_path / "fresh"
    fresh.touch()
    assert not store.name_without_overwriting(fresh, path)
    assert path.stat().st_size > 0


def test_a_file_system_without_links_serves_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(*_: object) -> None:
        raise OSError("no links here")

    monkeypatch.setattr(os, "link", no_links)
    path = tmp_path / "season.logbook"
    Logbook(path, create=True).close()
    with Logbook(path, create=True) as book:
        assert list_tubs(book) == ()


def test_an_older_schema_is_brought_up_to_date_and_kept_aside(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scripts = (*store.migrations(), "CREATE TABLE extra (a TEXT) STRICT;\nDROP TABLE denials;\n")
    monkeypatch.setattr(store, "migrations", lambda: scripts)
    half = path.with_name(f"{PREFIX}killed") / f"season.logbook.schema{len(scripts) - 1}"
    half.parent.mkdir()
    half.write_bytes(b"of a run that was killed")
    os.utime(half.parent, times=(0, 0))
    with Logbook(path) as book:
        assert book.rows("SELECT * FROM extra") == []
        assert len(list_tubs(book)) == 1
    schema = len(scripts) - 1
    aside = path.with_name(f"season.logbook.schema{schema}")
    assert not half.parent.exists()
    with closing(sqlite3.connect(aside)) as old:
        assert old.execute("SELECT count(*) FROM denials").fetchone() == (0,)
        assert old.execute("PRAGMA user_version").fetchone() == (schema,)
    with Logbook(path) as book:
        assert len(list_tubs(book)) == 1


def test_a_migration_that_fails_changes_nothing(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = store.migrations()
    broken = "CREATE TABLE extra (a TEXT) STRICT;\nDROP TABLE no_such_table;\n"
    monkeypatch.setattr(store, "migrations", lambda: (*before, broken))
    with pytest.raises(sqlite3.OperationalError, match="no such table"):
        Logbook(path)
    monkeypatch.setattr(store, "migrations", lambda: before)
    with Logbook(path) as book, pytest.raises(sqlite3.OperationalError, match="no such table"):
        book.rows("SELECT * FROM extra")


def test_another_process_may_have_migrated_meanwhile(path: Path) -> None:
    connection = store.connect(path)
    with closing(connection):
        store._run_migrations(connection, store.migrations())
        assert store.schema_version(connection) == len(store.migrations())


def test_the_logbook_is_in_the_users_data_folder() -> None:
    assert default_path().name == "season.logbook"
    assert "greasecheck" in str(default_path().parent)


def test_folders_are_not_synced_where_that_cannot_be(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "name", "nt")
    monkeypatch.setattr(os, "open", None)
    store.fsync_folder(path.parent)


def test_the_header_is_as_long_as_sqlite_s(path: Path) -> None:
    assert store.HEADER_BYTES == 100  # https://www.sqlite.org/fileformat2.html, section 1.3
    header = path.read_bytes()[: store.HEADER_BYTES]
    assert int.from_bytes(header[68:72]) == store.APPLICATION_ID
