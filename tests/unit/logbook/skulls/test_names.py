"""Names, tags and promises of skulls: what takes the place of what."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LogbookError
from greasecheck.logbook.dependents import with_dependents
from greasecheck.logbook.records import FollowUp, Promise, SkullEvent, Tub
from greasecheck.logbook.skulls.promises import enter_promise, standing_promises
from greasecheck.logbook.skulls.skulls import (
    correct_event,
    enter_event,
    enter_follow_up,
)
from greasecheck.logbook.skulls.stays import skull_events
from greasecheck.logbook.skulls.tags import skull_with_tag
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.faults import DamagedLogbookError, in_clear_words
from greasecheck.logbook.store.last_link import SUFFIX
from greasecheck.logbook.undo import last_entry
from greasecheck.logbook.water.baths import (
    enter_tub,
)
from greasecheck.stages import EventKind
from tests.logbook_samples import day
from tests.skull_log import soak

if TYPE_CHECKING:
    from pathlib import Path


def test_a_move_back_is_taken_back_with_the_move(season: Logbook) -> None:
    for at, tub in ((3, 14), (5, 12)):
        moved = SkullEvent(skull="fox", happened_at=day(at), kind=EventKind.MOVED, tub=tub)
        enter_event(season, moved)
    last = last_entry(season)
    assert last is not None
    assert with_dependents(season, last.number - 1) == (last.number, last.number - 1)
    assert with_dependents(season, last.number) == (last.number,)


def test_a_promise_is_of_a_day_to_come(season: Logbook) -> None:
    at = day(1)
    for ready in (at, at - timedelta(minutes=1)):
        with pytest.raises(LogbookError, match="gone by"):
            enter_promise(season, Promise(skull="fox", promised_at=at, ready_by=ready))
    made = Promise(skull="fox", promised_at=at, ready_by=at + timedelta(minutes=1))
    enter_promise(season, made)
    assert [one.ready_by for one in standing_promises(season)] == [made.ready_by]


def test_a_promise_is_of_a_day_that_a_forecast_reaches(season: Logbook) -> None:
    """No soak is dated later than 3650 days after its tub's first filling."""
    at = day(1)
    far = Promise(skull="fox", promised_at=at, ready_by=at + timedelta(days=3651))
    with pytest.raises(LogbookError, match="more than 10 years away") as caught:
        enter_promise(season, far)
    assert "check its year" in caught.value.hint
    assert standing_promises(season) == ()
    enter_promise(season, replace(far, ready_by=at + timedelta(days=3650)))


def test_a_tag_goes_on_from_a_skull_that_was_returned(season: Logbook) -> None:
    soak(season, "roe", 14, tag=7)
    with pytest.raises(LogbookError, match="roe bears tag 7"):
        soak(season, "elk", 14, tag=7)
    enter_event(season, SkullEvent(skull="roe", happened_at=day(2), kind=EventKind.RETURNED))
    soak(season, "elk", 14, 3, tag=7)
    assert skull_with_tag(season, 7) == "elk"


def test_a_skull_that_still_soaks_is_not_looked_at_later(season: Logbook) -> None:
    look = FollowUp(skull="fox", seen_at=day(5), yellowed=False)
    moved = SkullEvent(skull="fox", happened_at=day(2), kind=EventKind.MOVED, tub=14)
    enter_event(season, moved)
    with pytest.raises(LogbookError, match="still soaks"):
        enter_follow_up(season, look)
    enter_event(season, SkullEvent(skull="fox", happened_at=day(5), kind=EventKind.DEGREASED))
    enter_follow_up(season, look)
    with pytest.raises(LogbookError, match="still soaks"):
        enter_follow_up(season, FollowUp(skull="fox", seen_at=day(4.9), yellowed=False))


def test_the_note_of_the_last_link_follows_each_entry(season: Logbook) -> None:
    note = season.path.with_name(season.path.name + SUFFIX)
    before = note.read_bytes()
    with season.snapshot():
        season.rows("SELECT 1")
    assert note.read_bytes() == before
    enter_tub(season, Tub(number=30))
    assert note.read_bytes() != before


def test_an_event_is_corrected_but_not_onto_another(season: Logbook) -> None:
    for at, tub in ((2, 14), (4, 12), (6, 14)):
        event = SkullEvent(skull="fox", happened_at=day(at), kind=EventKind.MOVED, tub=tub)
        enter_event(season, event)
    moved = SkullEvent(skull="fox", happened_at=day(5), kind=EventKind.MOVED)
    correct_event(season, moved, near=day(4.4))
    times = [one.happened_at for one in skull_events(season, "fox")]
    assert times == [day(0), day(2), day(5), day(6)]
    enter_tub(season, Tub(number=16))
    same = SkullEvent(skull="fox", happened_at=day(5), kind=EventKind.MOVED, tub=16)
    correct_event(season, same, near=day(5))  # its tub alone
    assert skull_events(season, "fox")[2].tub == 16
    taken = SkullEvent(skull="fox", happened_at=day(6), kind=EventKind.MOVED)
    with pytest.raises(LogbookError, match="entered already"):
        correct_event(season, taken, near=day(5))


@pytest.mark.parametrize(
    ("code", "kind"),
    [(sqlite3.SQLITE_CORRUPT, DamagedLogbookError), (sqlite3.SQLITE_FULL, LogbookError)],
)
def test_damage_is_told_from_a_full_disk(
    code: int, kind: type[LogbookError], tmp_path: Path
) -> None:
    failed = sqlite3.DatabaseError("as SQLite says")
    failed.sqlite_errorcode = code
    with pytest.raises(LogbookError) as error, in_clear_words(tmp_path / "season.logbook"):
        raise failed
    assert type(error.value) is kind


@pytest.mark.parametrize(
    ("code", "told"),
    [
        (sqlite3.SQLITE_IOERR_SHMSIZE, "the disk is full"),
        (sqlite3.SQLITE_IOERR_READ, "the disk failed"),
    ],
)
def test_a_disk_too_full_to_open_the_logbook_is_told_as_full(
    code: int, told: str, tmp_path: Path
) -> None:
    failed = sqlite3.OperationalError("disk I/O error")
    failed.sqlite_errorcode = code
    with pytest.raises(LogbookError, match=told), in_clear_words(tmp_path / "season.logbook"):
        raise failed
