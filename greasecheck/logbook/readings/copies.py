"""Finds photos that are copies of logged ones: saved again, passed on, or sent to the phone."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from greasecheck.logbook.store.tables import COPIES
from greasecheck.logbook.store.times import to_text
from greasecheck.model import TimeSource
from greasecheck.model.fingerprints import is_copy

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.logbook.store.book import Entry, Logbook
    from greasecheck.model import Reading

ROUNDING = timedelta(seconds=1)  # some programs round the camera's time


def original_of(book: Logbook, sha256: str) -> str:
    """Return the digest of the photo that the file of a digest is a copy of; or that one itself."""
    found = book.rows("SELECT original_sha256 FROM copies WHERE photo_sha256 = ?", (sha256,))
    return str(found[0][0]) if found else sha256


def find_original(book: Logbook, reading: Reading) -> str | None:
    """Return the digest of the logged photo that a reading's is a copy of; None for a new one.

    Copies keep the camera's time; one that lost it is compared with all readings of its tub.
    """
    if not reading.fingerprint or reading.tub is None or reading.taken_at is None:
        return None
    sql = "SELECT key, fingerprint FROM readings WHERE fingerprint IS NOT NULL AND tub = ?"
    span: tuple[str, ...] = ()
    if reading.time_source is TimeSource.EXIF:
        sql += " AND taken_at BETWEEN ? AND ?"
        span = tuple(to_text(reading.taken_at + step) for step in (-ROUNDING, ROUNDING))
    for key, fingerprint in book.rows(sql, (reading.tub, *span)):
        original = str(key).partition(":")[0]
        same = is_copy(fingerprint, reading.fingerprint)
        if same and original != reading.photo_sha256:
            return original
    return None


def keep_copy(entry: Entry, path: Path, sha256: str, original: str) -> None:
    """Note that the photo of a digest is a copy, so that it is not measured again."""
    if entry.row(COPIES, (sha256,)) is None:
        values = {"photo_sha256": sha256, "photo_path": str(path), "original_sha256": original}
        entry.insert(COPIES, values)
