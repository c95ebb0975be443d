"""A full disk or a place that may not be written to gives clear words and an intact logbook."""

from __future__ import annotations

import os
import resource
import signal
import subprocess
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.csv.write import export_tables
from greasecheck.logbook.records import Tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.safety import back_up, faults
from greasecheck.logbook.water.baths import enter_tub, list_tubs

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

SMALL_DISK = "400k"
ROOT = 0
NOBODY = 65534


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system with next to no room."""
    folder = tmp_path / "small"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={SMALL_DISK},mode=777", "tmpfs", str(folder)]
    if subprocess.run(mount, check=False, capture_output=True).returncode:
        pytest.skip("no right to mount a small file system")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


@pytest.fixture
def largest_file() -> Iterator[int]:
    """A limit on the size of any file this process writes [bytes], like a disk running full."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    yield 300_000
    resource.setrlimit(resource.RLIMIT_FSIZE, before)
    signal.signal(signal.SIGXFSZ, handler)


def fill(book: Logbook) -> int:
    """Enter tubs until the disk refuses; return how many were taken."""
    taken = 0
    with pytest.raises(LogbookError, match=r"disk is full|disk failed"):  # noqa: PT012 - a loop
        while True:
            enter_tub(book, Tub(number=taken, note="x" * 2000))
            taken += 1
    return taken


def test_a_full_disk_refuses_one_entry_and_keeps_the_others(small_disk: Path) -> None:
    path = small_disk / "season.logbook"
    with Logbook(path, create=True) as book:
        taken = fill(book)
        assert len(list_tubs(book)) == taken
    with Logbook(path) as book:
        assert faults(book) == ()
        assert len(list_tubs(book)) == taken


def test_a_full_disk_leaves_no_half_backup_export_or_logbook(
    small_disk: Path, tmp_path: Path
) -> None:
    with Logbook(tmp_path / "season.logbook", create=True) as book:
        for number in range(100):
            enter_tub(book, Tub(number=number, note="x" * 6000))
        with pytest.raises(LogbookError):
            back_up(book, small_disk / "backup")
        with pytest.raises(LogbookError, match="cannot write to"):
            export_tables(book, small_disk)
    (small_disk / "ballast").write_bytes(b"x" * 390_000)
    with pytest.raises(LogbookError):
        Logbook(small_disk / "season.logbook", create=True)
    assert [path.name for path in small_disk.iterdir()] == ["ballast"]


def test_a_file_that_may_not_grow_refuses_one_entry_and_keeps_the_others(
    tmp_path: Path, largest_file: int
) -> None:
    path = tmp_path / "season.logbook"
    with Logbook(path, create=True) as book:
        limits = (largest_file, resource.getrlimit(resource.RLIMIT_FSIZE)[1])
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        taken = fill(book)
        assert len(list_tubs(book)) == taken
        resource.setrlimit(resource.RLIMIT_FSIZE, (limits[1], limits[1]))
    with Logbook(path) as book:
        assert faults(book) == ()
        assert len(list_tubs(book)) == taken


@pytest.fixture
def unprivileged(tmp_path: Path) -> Iterator[None]:
    """Rights that a folder's mode can take away, which those of root cannot be."""
    if os.geteuid() != ROOT:
        yield
        return
    for folder in (tmp_path, *tmp_path.parents[:3]):
        folder.chmod(0o755)
    os.seteuid(NOBODY)
    yield
    os.seteuid(ROOT)


def test_a_folder_that_may_not_be_written_to_is_told(tmp_path: Path, unprivileged: None) -> None:
    folder = tmp_path / "shelf"
    if os.geteuid() == NOBODY:
        os.seteuid(ROOT)
        folder.mkdir(mode=0o555)
        os.seteuid(NOBODY)
    else:
        folder.mkdir(mode=0o555)
    with pytest.raises(LogbookError, match="cannot make the logbook") as caught:
        Logbook(folder / "season.logbook", create=True)
    assert "place for the logbook" in caught.value.hint
    assert list(folder.iterdir()) == []


def test_a_logbook_that_may_not_be_written_to_is_told_and_left(
    tmp_path: Path, unprivileged: None
) -> None:
    effective = os.geteuid()
    if effective == NOBODY:
        os.seteuid(ROOT)
    path = tmp_path / "season.logbook"
    with Logbook(path, create=True) as book:
        enter_tub(book, Tub(number=12))
    path.chmod(0o444)
    tmp_path.chmod(0o555)
    os.seteuid(effective)
    with pytest.raises(LogbookError) as caught, Logbook(path) as book:
        enter_tub(book, Tub(number=14))
    assert "may not be written to" in caught.value.problem or "be opened" in caught.value.problem
    os.seteuid(os.getuid())
    tmp_path.chmod(0o755)
    path.chmod(0o644)
    with Logbook(path) as book:
        assert len(list_tubs(book)) == 1
