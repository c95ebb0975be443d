"""Which files of photos are kept, under what name, and which of them may be shown."""

from __future__ import annotations

import hashlib
import shutil
import stat
import sys
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from PIL import Image

from greasecheck.errors import GreasecheckError
from greasecheck.live.photos.keeping import log_photo, require_loggable
from greasecheck.live.photos.kept import SUFFIXES, kept_file
from greasecheck.logbook.readings.corrections import mark_wrong
from greasecheck.logbook.readings.photos import Outcome
from greasecheck.logbook.readings.readings import reading_under
from greasecheck.logbook.store.book import Logbook
from greasecheck.model import ReadingKind, Verdict
from tests.logbook_samples import make_reading
from tests.unit.live.phones import waiting_photo
from tests.unit.measure.photo_files import gradient, heic, write_photo

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.live.photos.waiting import Waiting

TAKEN = datetime(2026, 3, 1, 18, tzinfo=UTC)


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    path = tmp_path / "season.logbook"
    Logbook(path, create=True).close()
    return path


def photo_of(path: Path) -> Waiting:
    """Return the photo of a file that showed tub 12."""
    sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
    return waiting_photo(replace(make_reading(at=TAKEN), photo_sha256=sha256), path)


@pytest.fixture
def photo(tmp_path: Path) -> Waiting:
    return photo_of(write_photo(tmp_path / "photo", gradient()))


def files_in(folder: Path) -> list[Path]:
    return sorted(folder.iterdir()) if folder.exists() else []


@pytest.mark.parametrize(
    ("kind", "suffix"),
    [("JPEG", "jpg"), ("MPO", "jpg"), ("PNG", "png"), ("TIFF", "tif"), ("WEBP", "webp")],
)
def test_a_kept_file_ends_with_what_it_is_not_with_what_it_was_called(
    tmp_path: Path, logbook: Path, kind: str, suffix: str
) -> None:
    behind = {"save_all": True, "append_images": [Image.fromarray(gradient())]}
    options = behind if kind == "MPO" else {}
    path = write_photo(tmp_path / "IMG_1.jpeg", gradient(), kind, **options)
    log_photo(logbook, tmp_path / "kept", photo_of(path), None)
    (kept,) = files_in(tmp_path / "kept")
    assert kept.suffix == f".{suffix}"
    assert kept.read_bytes() == path.read_bytes()


def test_photos_of_one_second_are_kept_apart(tmp_path: Path, logbook: Path) -> None:
    paths = [
        write_photo(tmp_path / f"{height}.jpg", gradient(height=height)) for height in (40, 50)
    ]
    for path in paths:
        log_photo(logbook, tmp_path / "kept", photo_of(path), None)
    kept = {one.read_bytes() for one in files_in(tmp_path / "kept")}
    assert kept == {path.read_bytes() for path in paths}


def test_a_heic_file_is_kept_as_one(tmp_path: Path, logbook: Path) -> None:
    path = heic(tmp_path / "IMG_1.jpeg", gradient())
    log_photo(logbook, tmp_path / "kept", photo_of(path), None)
    assert [one.suffix for one in files_in(tmp_path / "kept")] == [".heic"]


@pytest.mark.parametrize("is_known", [True, False])
def test_its_name_begins_with_when_it_was_taken_or_else_came_in(
    photo: Waiting, tmp_path: Path, logbook: Path, *, is_known: bool
) -> None:
    taken_at = photo.found.reading.taken_at if is_known else None
    refused = replace(photo.found.reading, verdict=Verdict.REFUSED, taken_at=taken_at)
    photo = replace(photo, measured=replace(photo.found, reading=refused))
    log_photo(logbook, tmp_path / "kept", photo, None)
    (kept,) = files_in(tmp_path / "kept")
    local = (taken_at or photo.arrived_at).astimezone()
    assert kept.name.startswith(f"{local:%Y%m%d-%H%M%S}-")


@pytest.mark.skipif(sys.platform == "win32", reason="has no such rights")
def test_nobody_else_may_read_a_kept_file(photo: Waiting, tmp_path: Path, logbook: Path) -> None:
    photo.path.chmod(0o644)
    log_photo(logbook, tmp_path / "kept", photo, None)
    (kept,) = files_in(tmp_path / "kept")
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    assert kept.stat().st_mtime == photo.path.stat().st_mtime


def test_a_photo_that_another_command_logged_is_not_kept_twice(
    photo: Waiting, tmp_path: Path, logbook: Path
) -> None:
    log_photo(logbook, tmp_path / "first", photo, None)
    again = log_photo(logbook, tmp_path / "second", photo, None)
    assert again.outcome is Outcome.KNOWN
    assert files_in(tmp_path / "second") == []


def test_a_kept_file_outlasts_later_attempts_to_log_it(
    photo: Waiting, tmp_path: Path, logbook: Path
) -> None:
    """It belongs to a logged reading: neither a known photo nor an unknown skull removes it."""
    kept = tmp_path / "kept"
    log_photo(logbook, kept, photo, None)
    (file,) = files_in(kept)
    assert log_photo(logbook, kept, photo, None).outcome is Outcome.KNOWN
    assert file.exists()
    with Logbook(logbook) as book:
        mark_wrong(book, photo.sha256)
    with pytest.raises(GreasecheckError, match="no skull is called"):
        log_photo(logbook, kept, photo, "nobody")
    assert file.exists()


def test_all_readings_of_a_photo_are_logged_with_its_file(
    photo: Waiting, tmp_path: Path, logbook: Path
) -> None:
    """A photo of two ladders tells of two tubs."""
    ladders = [
        replace(photo.found.reading, kind=ReadingKind.LADDER, part=f"ladder-{tub}", tub=tub)
        for tub in (11, 15)
    ]
    both = replace(photo.found, reading=ladders[0], others=tuple(ladders[1:]))
    log_photo(logbook, tmp_path / "kept", replace(photo, measured=both), None)
    (kept,) = files_in(tmp_path / "kept")
    with Logbook(logbook) as book:
        rows = book.rows("SELECT tub, photo_path FROM readings ORDER BY tub")
    assert rows == [(11, str(kept)), (15, str(kept))]


def test_a_copy_is_kept_for_the_reading_that_its_original_did_not_give(
    tmp_path: Path, logbook: Path
) -> None:
    """A photo sent first showed one ladder; its copy, read since, shows another one as well."""
    photos = [
        photo_of(write_photo(tmp_path / name, gradient(height=height)))
        for name, height in (("first.jpg", 40), ("copy.jpg", 50))
    ]
    first, copy = (
        replace(
            photo,
            measured=replace(
                photo.found,
                reading=replace(photo.found.reading, fingerprint="0123456789abcdef" * 4),
            ),
        )
        for photo in photos
    )
    ladder = replace(copy.found.reading, kind=ReadingKind.LADDER, part="ladder-15", tub=15)
    both = replace(copy.found, others=(ladder,))
    log_photo(logbook, tmp_path / "kept", first, None)
    assert log_photo(logbook, tmp_path / "kept", replace(copy, measured=both), None).tub == 12
    with Logbook(logbook) as book:
        rows = book.rows("SELECT tub, photo_path FROM readings ORDER BY tub")
    assert [tub for tub, _ in rows] == [12, 15]
    assert sorted(path for _, path in rows) == [str(one) for one in files_in(tmp_path / "kept")]


def test_a_doubtful_photo_without_a_tub_is_not_kept(photo: Waiting, logbook: Path) -> None:
    reading = replace(photo.found.reading, verdict=Verdict.DOUBTFUL, tub=None)
    lacking = replace(photo, measured=replace(photo.found, reading=reading))
    with pytest.raises(GreasecheckError, match="no tub tag"):
        require_loggable(lacking)
    with Logbook(logbook) as book:
        assert reading_under(book, photo.sha256) is None


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    folder = tmp_path / "season.photos"
    folder.mkdir()
    (folder / "a.jpg").write_bytes(b"a")
    (tmp_path / "own.jpg").write_bytes(b"own")
    return folder


@pytest.mark.parametrize(
    "path",
    [
        "a.jpg",
        "/home/old/season.photos/a.jpg",
        "C:\\Users\\Eva\\season.photos\\a.jpg",
        "../season.photos/a.jpg",
    ],
)
def test_a_kept_photo_is_found_by_its_name_also_after_the_folder_moved(
    kept: Path, path: str
) -> None:
    assert kept_file(kept, path) == kept / "a.jpg"


@pytest.mark.parametrize("suffix", sorted(set(SUFFIXES.values())))
def test_a_kept_photo_of_any_kind_is_found(kept: Path, suffix: str) -> None:
    file = kept / f"b{suffix}"
    file.write_bytes(b"b")
    assert kept_file(kept, file.name) == file


@pytest.mark.parametrize("path", ["", "/", "..", "../own.jpg", "..\\own.jpg", "gone.jpg"])
def test_nothing_outside_the_folder_is_shown(kept: Path, path: str) -> None:
    assert kept_file(kept, path) is None


def test_no_link_folder_or_note_is_shown(kept: Path) -> None:
    (kept / "link.jpg").symlink_to(kept.parent / "own.jpg")
    (kept / "folder.jpg").mkdir()
    shutil.copy(kept / "a.jpg", kept / "a.json")
    assert [kept_file(kept, name) for name in ("link.jpg", "folder.jpg", "a.json")] == [None] * 3
