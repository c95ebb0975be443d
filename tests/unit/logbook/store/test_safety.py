from __future__ import annotations

import errno
import os
import stat
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.records import Skull, Tub
from greasecheck.logbook.skulls.skulls import enter_skull
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.last_link import SUFFIX
from greasecheck.logbook.store.safety import back_up, faults, restore
from greasecheck.logbook.water.baths import enter_tub, list_tubs

if TYPE_CHECKING:
    from pathlib import Path


def numbers(path: Path) -> list[int]:
    with Logbook(path) as book:
        return [tub.number for tub in list_tubs(book)]


def full(*_: object) -> None:
    raise OSError(errno.ENOSPC, "no space left on device")


def spoil(path: Path) -> None:
    """Overwrite the middle of the file."""
    content = bytearray(path.read_bytes())
    content[4096:] = b"\x55" * (len(content) - 4096)
    path.write_bytes(bytes(content))


def test_a_backup_is_one_file_taken_while_in_use(book: Logbook, tmp_path: Path) -> None:
    enter_tub(book, Tub(number=12))
    target = tmp_path / "stick" / "season.backup"
    with Logbook(book.path) as other:
        back_up(book, target)
        enter_tub(other, Tub(number=14))
    assert [found.name for found in target.parent.iterdir()] == ["season.backup"]
    assert numbers(target) == [12]
    assert faults(book) == ()


def test_a_backup_is_private_and_whole_in_one_file(book: Logbook, tmp_path: Path) -> None:
    """Bytes 18 and 19 of a file of SQLite are 1 where it needs no log beside it, else 2.

    https://www.sqlite.org/fileformat2.html, section 1.3.3
    """
    enter_tub(book, Tub(number=12))
    target = tmp_path / "season.backup"
    back_up(book, target)
    assert target.read_bytes()[18:20] == b"\x01\x01"
    if os.name != "nt":
        assert stat.S_IMODE(target.stat().st_mode) == 0o600


def test_a_backup_overwrites_nothing(book: Logbook, tmp_path: Path) -> None:
    (tmp_path / "there").touch()
    with pytest.raises(LogbookError, match="exists already"):
        back_up(book, tmp_path / "there")
    with pytest.raises(LogbookError, match="cannot write the backup"):
        back_up(book, tmp_path / "there" / "backup")


def test_a_backup_has_its_name_only_once_it_is_whole(
    book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(self: Path, target: Path) -> Path:
        assert numbers(self) == [12]
        raise OSError(errno.EIO, "input/output error", str(target))

    enter_tub(book, Tub(number=12))
    monkeypatch.setattr("pathlib.Path.replace", refused)
    with pytest.raises(LogbookError, match="cannot write the backup"):
        back_up(book, tmp_path / "stick" / "season.backup")
    assert list((tmp_path / "stick").iterdir()) == []


def test_restoring_keeps_what_stood_there(book: Logbook, tmp_path: Path) -> None:
    enter_tub(book, Tub(number=12))
    back_up(book, tmp_path / "backup")
    enter_tub(book, Tub(number=14))
    kept = restore(tmp_path / "backup", book.path)
    assert [tub.number for tub in list_tubs(book)] == [12], "whoever has it open sees it too"
    assert kept is not None
    assert numbers(kept) == [12, 14]


def test_restoring_where_there_is_none(book: Logbook, tmp_path: Path) -> None:
    enter_tub(book, Tub(number=12))
    back_up(book, tmp_path / "backup")
    assert restore(tmp_path / "backup", tmp_path / "new" / "season.logbook") is None
    assert numbers(tmp_path / "new" / "season.logbook") == [12]
    if os.name != "nt":
        assert stat.S_IMODE((tmp_path / "new" / "season.logbook").stat().st_mode) == 0o600


def test_restoring_in_place_of_a_damaged_one(
    book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once that is set aside no more room is needed, for nothing stands in its place yet."""
    enter_tub(book, Tub(number=12))
    back_up(book, tmp_path / "backup")
    book.close()
    spoil(book.path)
    monkeypatch.setattr("greasecheck.logbook.store.safety._copy", full)
    damaged = book.path.read_bytes()
    last_link = book.path.with_name(book.path.name + SUFFIX).read_bytes()
    kept = restore(tmp_path / "backup", book.path)
    assert numbers(book.path) == [12]
    assert kept is not None
    assert kept.read_bytes() == damaged
    assert kept.with_name(kept.name + SUFFIX).read_bytes() == last_link


def test_a_damaged_backup_changes_nothing(book: Logbook, tmp_path: Path) -> None:
    enter_tub(book, Tub(number=12))
    back_up(book, tmp_path / "backup")
    enter_tub(book, Tub(number=14))
    spoil(tmp_path / "backup")
    with pytest.raises(LogbookError, match="damaged"):
        restore(tmp_path / "backup", book.path)
    assert numbers(book.path) == [12, 14]


def test_a_backup_that_is_none_changes_nothing(book: Logbook, tmp_path: Path) -> None:
    with pytest.raises(LogbookError, match="there is no backup"):
        restore(tmp_path / "nothing", book.path)
    (tmp_path / "letter").write_text("dear owner", encoding="utf-8")
    with pytest.raises(LogbookError, match=f"^{tmp_path / 'letter'} is no logbook") as caught:
        restore(tmp_path / "letter", book.path)
    assert "another backup" in caught.value.hint
    with pytest.raises(LogbookError, match="cannot restore"):
        restore(tmp_path / "letter", tmp_path / "letter" / "season.logbook")


def test_a_changed_byte_is_found(book: Logbook) -> None:
    enter_skull(book, Skull(name="polecat"))
    book.close()
    before, after = book.path.read_bytes().rsplit(b"polecat", 1)
    book.path.write_bytes(before + b"badgers" + after)
    with Logbook(book.path) as spoilt:
        assert faults(spoilt) != ()


def test_a_page_of_nonsense_is_found_and_not_backed_up(book: Logbook, tmp_path: Path) -> None:
    enter_tub(book, Tub(number=12))
    ((page,),) = book.rows("SELECT rootpage FROM sqlite_schema WHERE name = 'tubs'")
    book.close()
    content = bytearray(book.path.read_bytes())
    content[(page - 1) * 4096 : page * 4096] = b"\x55" * 4096
    book.path.write_bytes(bytes(content))
    with Logbook(book.path) as spoilt:
        assert "damaged" in faults(spoilt)[0]
        with pytest.raises(LogbookError, match="damaged"):
            back_up(spoilt, tmp_path / "backup")
    assert not (tmp_path / "backup").exists()


def test_faults_inside_the_file_are_told(book: Logbook) -> None:
    enter_tub(book, Tub(number=12))
    with book.transaction() as connection:
        connection.execute(
            "INSERT INTO baths (tub, filled_at, recipe, entry_id) VALUES (12, 'x', 'soap', 1)"
        )
    book.connection.execute("PRAGMA foreign_keys = OFF")
    book.connection.execute("UPDATE baths SET tub = 99")
    found = faults(book)
    assert found[0] == "row 1 of baths refers to a missing row of tubs"
    assert found[1].startswith("a row of baths was added by no entry")
