"""In what order photos are read, and what a person's word adds to what was read."""

from __future__ import annotations

from concurrent.futures import BrokenExecutor, Executor, Future
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from greasecheck.live.photos import measuring
from greasecheck.live.photos.measuring import (
    BusyError,
    Measurer,
    PhotoFacts,
    _asked,
    measure_photo,
)
from greasecheck.measure.checks.verdict import requirement
from greasecheck.measure.reading import view_photo
from greasecheck.model import TimeSource, Verdict
from tests.logbook_samples import make_reading
from tests.unit.live.phones import TUB12, AtOnce, Later, live_settings

if TYPE_CHECKING:
    from greasecheck.model import Reading
    from tests.unit.live.phones import Phone

A, B, C = map(Path, "abc")
TAKEN = datetime(2026, 3, 1, 18, tzinfo=UTC)


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return the names of the photos that were read, in their order."""
    names: list[str] = []

    def measured(_logbook: Path, _settings: object, path: Path, _facts: PhotoFacts) -> None:
        names.append(path.name)

    monkeypatch.setattr(measuring, "measure_photo", measured)
    return names


def measurer(folder: Path, *executors: Executor) -> Measurer:
    """Return a measurer that works by these, the next one when it needs another."""
    settings, left = live_settings(folder), iter(executors)
    return Measurer(settings.logbook, settings.read, lambda: next(left))


def test_one_photo_is_read_at_a_time_and_one_that_somebody_waits_for_goes_first(
    tmp_path: Path, read: list[str]
) -> None:
    later = Later()
    reader = measurer(tmp_path, later)
    for path in (A, B):
        reader.begin(path, PhotoFacts())
    reader.begin(C, PhotoFacts(), first=True)
    assert len(later.waiting) == 1
    later.work()
    assert read == ["a", "c", "b"]


def test_a_photo_that_nobody_waits_for_any_more_is_not_read(
    tmp_path: Path, read: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(measuring, "WAIT_S", 0.01)
    later = Later()
    reader = measurer(tmp_path, later)
    reader.begin(A, PhotoFacts())
    with pytest.raises(BusyError):
        reader.measure(B, PhotoFacts())
    reader.begin(C, PhotoFacts())
    later.work()
    assert read == ["a", "c"]


def test_what_waits_is_dropped_at_the_end(tmp_path: Path, read: list[str]) -> None:
    later = Later()
    reader = measurer(tmp_path, later, AtOnce())
    for path in (A, B):
        reader.begin(path, PhotoFacts())
    reader.close()
    later.work()
    assert read == ["a"]


@dataclass
class Failing(Executor):
    """Takes no work, for a fault of its process."""

    fault: Exception

    def submit(self, *_: Any, **__: Any) -> Future[Any]:  # noqa: ANN401 - as the base
        raise self.fault


@pytest.mark.parametrize(
    "fault",
    [BrokenExecutor("killed"), OSError(12, "no memory"), RuntimeError("can't start new thread")],
)
def test_photos_are_read_by_another_process_after_one_failed(
    tmp_path: Path, read: list[str], fault: Exception
) -> None:
    reader = measurer(tmp_path, Failing(fault), AtOnce())
    for path in (A, B):
        assert reader.begin(path, PhotoFacts()).exception(timeout=0) is None
    assert read == ["a", "b"]


def taken(at: datetime, source: TimeSource) -> Reading:
    """Return a reading whose only doubt is its time."""
    reading = make_reading(at=at)
    is_camera = source is TimeSource.EXIF and at < datetime.now(UTC)
    check = requirement("time_from_camera", is_camera)
    verdict = Verdict.GOOD if is_camera else Verdict.DOUBTFUL
    return replace(reading, time_source=source, checks=(*reading.checks, check), verdict=verdict)


AHEAD = datetime.now(UTC) + timedelta(days=1)


@pytest.mark.parametrize(("at", "source"), [(TAKEN, TimeSource.FILE), (AHEAD, TimeSource.EXIF)])
def test_a_time_that_no_camera_told_or_that_is_to_come_is_asked_for(
    at: datetime, source: TimeSource
) -> None:
    """Until a person gives it there is none; theirs is no doubt, and stands as given by hand."""
    open_still = _asked(taken(at, source), PhotoFacts())
    assert (open_still.taken_at, open_still.time_source) == (None, None)
    assert open_still.verdict is Verdict.GOOD
    given = _asked(taken(at, source), PhotoFacts(taken_at=TAKEN))
    assert (given.taken_at, given.time_source) == (TAKEN, TimeSource.HAND)
    assert given.verdict is Verdict.GOOD
    names = {check.name: check.passed for check in given.checks}
    assert names == {"tilt_deg": True, "time_given_by_hand": True}


def test_a_time_given_by_hand_is_that_of_all_readings_of_a_photo(
    phone: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A photo of several ladders, or of jar and card, was taken once."""
    view = view_photo(TUB12, phone.settings.read)
    others = tuple(taken(TAKEN, TimeSource.FILE) for _ in range(2))
    without = replace(view, reading=others[0], others=others)
    monkeypatch.setattr(measuring, "view_photo", lambda *_: without)
    photo = phone.settings.logbook.with_name("photo.jpg")
    photo.touch()
    given = TAKEN - timedelta(days=2)
    found = measure_photo(
        phone.settings.logbook, phone.settings.read, photo, PhotoFacts(taken_at=given)
    )
    for one in (found.reading, *found.others):
        assert (one.taken_at, one.time_source) == (given, TimeSource.HAND)


def test_a_cameras_time_stands_whatever_a_person_says() -> None:
    reading = taken(TAKEN, TimeSource.EXIF)
    assert _asked(reading, PhotoFacts(taken_at=TAKEN - timedelta(days=1))) == reading


@pytest.mark.parametrize(
    ("name", "verdict"), [("tub_tag_seen", Verdict.GOOD), ("foam", Verdict.REFUSED)]
)
def test_a_tag_that_is_missing_is_asked_for_and_other_faults_stand(
    name: str, verdict: Verdict
) -> None:
    reading = make_reading(tub=None)
    failed = replace(
        reading,
        checks=(*reading.checks, requirement(name, False, hard=True)),
        verdict=Verdict.REFUSED,
    )
    assert _asked(failed, PhotoFacts()).verdict is verdict
    seen = requirement("tub_tag_seen", True)
    assert seen in _asked(replace(reading, checks=(seen,)), PhotoFacts()).checks
