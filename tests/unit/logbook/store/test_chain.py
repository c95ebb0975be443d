from __future__ import annotations

import random
import shutil
import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.readings.corrections import mark_wrong
from greasecheck.logbook.readings.readings import enter_by_hand, find_reading
from greasecheck.logbook.records import HandReading, Skull, Tub
from greasecheck.logbook.skulls.skulls import enter_skull
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.last_link import note_path
from greasecheck.logbook.store.safety import accept, back_up, faults, restore
from greasecheck.logbook.water.baths import Filling, change_water, dump_water, enter_tub, list_tubs
from greasecheck.model import Recipe
from tests.logbook_samples import day

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

PAGE = 4096


@pytest.fixture
def season(book: Logbook) -> Logbook:
    """A logbook with some of everything, corrected in places."""
    enter_tub(book, Tub(number=12, name="door", volume_l=60))
    change_water(book, [12], day(0), Filling(recipe=Recipe.SOAP, temperature_c=40))
    change_water(book, [12], day(3), Filling())
    dump_water(book, [12], day(5))
    enter_skull(book, Skull(name="fox 3", species="fox", owner="Maya, \u201cmarten\u201d"))
    for number in range(6):
        reading = HandReading(
            tub=12, taken_at=day(number), attenuation_per_m=float(number), attenuation_std_per_m=0.1
        )
        enter_by_hand(book, reading)
    mark_wrong(book, find_reading(book, 12).key)
    return book


def content(path: Path) -> list[tuple[object, ...]] | None:
    """Return every value of every table as SQLite reads it, None when it does not."""
    with closing(sqlite3.connect(path)) as connection:
        connection.text_factory = bytes
        try:
            names = connection.execute("SELECT name, sql FROM sqlite_schema ORDER BY name")
            tables = [name.decode() for name, sql in names if sql and b"CREATE TABLE" in sql]
            return [
                (name, *row)
                for name in tables
                for row in connection.execute(f"SELECT * FROM {name} ORDER BY rowid")
            ]
        except (sqlite3.Error, UnicodeDecodeError):
            return None


def is_called_sound(path: Path) -> bool:
    try:
        with Logbook(path) as book:
            return faults(book) == ()
    except LogbookError:
        return False


def flipped(path: Path, copies: Path, count: int) -> Iterator[Path]:
    """Give copies of the file, each with one bit flipped."""
    whole, chance = path.read_bytes(), random.Random(19)
    for number in range(count):
        spoilt = bytearray(whole)
        spoilt[chance.randrange(len(whole))] ^= 1 << chance.randrange(8)
        copy = copies / f"{number}.logbook"
        copy.write_bytes(bytes(spoilt))
        yield copy


def test_what_entries_wrote_is_sound(season: Logbook) -> None:
    assert faults(season) == ()


def test_no_flipped_bit_that_changes_the_content_is_called_sound(
    season: Logbook, tmp_path: Path
) -> None:
    season.close()
    before, changed = content(season.path), 0
    for copy in flipped(season.path, tmp_path, 600):
        if content(copy) != before:
            changed += 1
            assert not is_called_sound(copy), copy
    assert changed > 20, "else the test flips nothing that matters"


@pytest.mark.parametrize(
    ("sql", "fault"),
    [
        ("UPDATE readings SET attenuation_per_m = 0.5 WHERE taken_at LIKE '%-04T%'", "changed"),
        ("DELETE FROM baths WHERE filled_at LIKE '%-04T%'", "removed"),
        ("INSERT INTO tubs (number, entry_id) VALUES (99, 1)", "added"),
        ("UPDATE entries SET made_at = '2020-01-01T00:00:00Z' WHERE id = 1", "changed"),
        ("DELETE FROM before_images WHERE id = 1", "removed"),
        ("DELETE FROM links WHERE number = 7", "link"),
        ("UPDATE links SET content = NULL WHERE number = 7", "link"),
        (
            "UPDATE links SET number = 99 WHERE number = (SELECT max(number) FROM links)",
            "1 link(s)",
        ),
        ("DROP INDEX readings_tub_time", "tables"),
    ],
)
def test_what_no_entry_wrote_is_told(season: Logbook, sql: str, fault: str) -> None:
    season.connection.execute(sql)
    assert fault in " ".join(faults(season))


def test_a_lost_write_ahead_log_is_told(season: Logbook, tmp_path: Path) -> None:
    crashed = tmp_path / "crashed"
    crashed.mkdir()
    season.rows("PRAGMA wal_checkpoint(TRUNCATE)")
    enter_tub(season, Tub(number=14))
    for suffix in ("", "-wal", ".last"):  # as a power cut leaves them
        shutil.copy(season.path.with_name(season.path.name + suffix), crashed)
    path = crashed / season.path.name
    path.with_name(path.name + "-wal").unlink()
    with Logbook(path) as left:
        assert [tub.number for tub in list_tubs(left)] == [12]
        assert "are missing" in faults(left)[-1]
        enter_tub(left, Tub(number=15))
        assert "are missing" in faults(left)[-1], "a new entry does not hide it"
        with pytest.raises(LogbookError, match="missing"):
            back_up(left, tmp_path / "backup")


def test_a_log_that_was_not_lost_is_sound(season: Logbook, tmp_path: Path) -> None:
    crashed = tmp_path / "crashed"
    crashed.mkdir()
    for suffix in ("", "-wal", ".last"):
        shutil.copy(season.path.with_name(season.path.name + suffix), crashed)
    assert is_called_sound(crashed / season.path.name)


@pytest.mark.parametrize("note", [b"", b"x" * 82, None])
def test_a_damaged_or_missing_note_is_no_fault(season: Logbook, note: bytes | None) -> None:
    if note is None:
        note_path(season.path).unlink()
    else:
        note_path(season.path).write_bytes(note)
    assert faults(season) == ()
    enter_tub(season, Tub(number=14))
    assert len(note_path(season.path).read_bytes()) == 82


def test_swapped_pages_are_told(season: Logbook) -> None:
    season.close()
    before = content(season.path)
    pages = bytearray(season.path.read_bytes())
    for first in range(1, len(pages) // PAGE - 1):
        swapped = bytearray(pages)
        here, there = first * PAGE, (first + 1) * PAGE
        swapped[here:there], swapped[there : there + PAGE] = (
            pages[there : there + PAGE],
            pages[here:there],
        )
        season.path.write_bytes(bytes(swapped))
        # Two empty pages may change places.
        assert not is_called_sound(season.path) or content(season.path) == before


def test_a_restored_logbook_is_sound_though_later_entries_are_gone(
    season: Logbook, tmp_path: Path
) -> None:
    back_up(season, tmp_path / "backup")
    enter_tub(season, Tub(number=14))
    restore(tmp_path / "backup", season.path)
    assert faults(season) == ()


def test_a_forged_backup_is_not_restored(season: Logbook, tmp_path: Path) -> None:
    back_up(season, tmp_path / "backup")
    with closing(sqlite3.connect(tmp_path / "backup")) as forged:
        forged.execute("UPDATE readings SET attenuation_per_m = 0.1")
        forged.commit()
    with pytest.raises(LogbookError, match="changed by no entry"):
        restore(tmp_path / "backup", season.path)


def test_what_stands_is_accepted_by_an_entry(season: Logbook) -> None:
    season.connection.execute("UPDATE readings SET attenuation_per_m = 0.5")
    note_path(season.path).write_bytes(b"%016d %s\n" % (999, b"0" * 64))
    assert len(faults(season)) > 1
    assert accept(season) == ()
    assert faults(season) == ()


def test_values_are_chained_as_they_are_read_back(book: Logbook) -> None:
    reading = HandReading(
        tub=12, taken_at=day(0), attenuation_per_m=-0.0, attenuation_std_per_m=1, bone_yi_e313=-3
    )
    enter_by_hand(book, reading)
    assert faults(book) == ()
