from __future__ import annotations

import base64
import hashlib
from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest

from greasecheck.logbook.readings.photos import Logged, LogSettings, Outcome, log_photos
from greasecheck.logbook.readings.readings import open_attempts
from greasecheck.logbook.store.safety import faults
from greasecheck.model import Reading, TimeSource, Verdict
from tests.logbook_samples import day, make_reading, make_water, measure_files, write_photos

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.logbook.store.book import Logbook


def printed(name: str, bits: int, **changes: Any) -> Reading:  # noqa: ANN401 - any field
    """Return a reading whose fingerprint differs in `bits` of its 2048 from that of others."""
    content = (2**2048 - 2**bits).to_bytes(256, "big")
    return replace(make_reading(name), fingerprint=base64.b64encode(content).decode(), **changes)


def log_one(book: Logbook, folder: Path, reading: Reading, *, again: bool = False) -> Logged:
    path = folder / f"{reading.photo_sha256[:8]}.jpg"
    path.write_text(reading.photo_sha256, encoding="utf-8")
    sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
    named = replace(reading, photo_sha256=sha256, photo_path=str(path))
    settings = LogSettings(again=again)
    [logged] = log_photos(book, [path], lambda paths: [(named,) for _ in paths], settings)
    return logged


def test_a_copy_saved_again_is_the_same_photo(book: Logbook, tmp_path: Path) -> None:
    assert log_one(book, tmp_path, printed("first", 0)).outcome is Outcome.LOGGED
    for again in (False, False, True):
        copy = log_one(book, tmp_path, printed("copy", 300, water=make_water(55.0)), again=again)
        assert copy.outcome is Outcome.KNOWN
    ((count, haze),) = book.rows("SELECT count(*), max(attenuation_per_m) FROM readings")
    assert (count, haze) == (1, 12.5)
    assert book.rows("SELECT count(*) FROM copies") == [(1,)]
    assert faults(book) == ()


@pytest.mark.parametrize(
    "other",
    [
        printed("burst", 900),
        printed("later", 0, taken_at=day(1)),
        printed("other tub", 0, tub=14),
        replace(printed("no print", 0), fingerprint=None),
    ],
    ids=lambda reading: "",
)
def test_another_frame_time_or_tub_is_another_photo(
    book: Logbook, tmp_path: Path, other: Reading
) -> None:
    log_one(book, tmp_path, printed("first", 0))
    assert log_one(book, tmp_path, other).outcome is Outcome.LOGGED


@pytest.mark.parametrize(("seconds", "is_copy"), [(-2, False), (-1, True), (1, True), (2, False)])
def test_a_copy_may_have_its_time_rounded_to_a_second(
    book: Logbook, tmp_path: Path, seconds: int, is_copy: bool
) -> None:
    first = printed("first", 0)
    assert first.taken_at is not None
    log_one(book, tmp_path, first)
    rounded = printed("copy", 100, taken_at=first.taken_at + timedelta(seconds=seconds))
    expected = Outcome.KNOWN if is_copy else Outcome.LOGGED
    assert log_one(book, tmp_path, rounded).outcome is expected


def test_a_copy_that_lost_its_time_is_known(book: Logbook, tmp_path: Path) -> None:
    log_one(book, tmp_path, printed("first", 0))
    lost = printed("messenger", 100, taken_at=day(9), time_source=TimeSource.FILE)
    assert log_one(book, tmp_path, lost).outcome is Outcome.KNOWN


def test_a_refused_copy_of_a_logged_photo_is_no_attempt(book: Logbook, tmp_path: Path) -> None:
    log_one(book, tmp_path, printed("first", 0))
    log_one(book, tmp_path, printed("worse", 100, verdict=Verdict.REFUSED))
    assert book.rows("SELECT count(*) FROM attempts") == [(0,)]


def test_files_that_cannot_be_read_have_a_row_each(book: Logbook, tmp_path: Path) -> None:
    paths = [tmp_path / f"{name}.jpg" for name in ("a", "b", "c\nd")]
    for path in paths[1:]:
        path.touch()
    for _ in range(2):
        told = list(log_photos(book, paths, measure_files, LogSettings()))
        assert [one.outcome for one in told] == [Outcome.REFUSED] * 3
    assert [attempt.photo_path for attempt in open_attempts(book)] == [
        str(paths[0]),
        str(paths[1]),
        str(paths[2]).replace("\n", "?"),
    ]
    [path] = write_photos(tmp_path, 1)
    path.rename(paths[0])
    list(log_photos(book, paths[:1], measure_files, LogSettings()))
    assert len(open_attempts(book)) == 2
