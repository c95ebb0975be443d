"""Photos that wait outlive the server, and are read while the pages answer."""

from __future__ import annotations

import errno
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime
from hashlib import sha256
from io import BytesIO
from typing import TYPE_CHECKING

import pytest

from greasecheck.errors import LiveError
from greasecheck.live.photos import waiting as waiting_module
from greasecheck.live.photos.measuring import PhotoFacts
from greasecheck.live.photos.views import read_those_left
from greasecheck.live.photos.waiting import (
    ABOUT,
    FullError,
    Waiting,
    WaitingRoom,
    waiting_folder,
)
from tests.unit.live.phones import Later, Phone, begin_season, make_phone, without_exif

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def later(tmp_path: Path) -> tuple[Phone, Later]:
    """A page whose photos are read when the test says so."""
    work = Later()
    begin_season(tmp_path / "season.logbook", datetime.now(UTC))
    return make_phone(tmp_path, make_reader=lambda: work), work


def test_pages_answer_while_a_photo_is_read(later: tuple[Phone, Later], tub12: bytes) -> None:
    phone, work = later
    page = phone.send(tub12)
    assert "being read" in phone.get(page).text
    assert "1 is being read" in phone.get("/photos").text
    assert phone.get("/photos/unread").json == {"left": 1}
    assert phone.post(f"{page}/log").status_code == 400
    assert phone.get(f"{page}/found.jpg").status_code == 400
    work.work()
    assert "Good" in phone.get(page).text
    assert phone.get("/photos/unread").json == {"left": 0}


def test_what_is_known_of_a_photo_is_changed_on_the_disk_whole_or_not_at_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: object) -> None:
        raise OSError(errno.EIO, "input/output error")

    with waiting_folder(tmp_path / "waiting") as folder:
        waiting = WaitingRoom(folder)
        with waiting.room(1) as room:
            photo = waiting.store(BytesIO(b"a photo"), "a.jpg", PhotoFacts(), room).photo
        known = photo.path.with_name(ABOUT).read_bytes()
        monkeypatch.setattr("pathlib.Path.replace", refused)
        waiting.update(replace(photo, name="b.jpg"))
        assert waiting.get(photo.token).name == "b.jpg"
        assert photo.path.with_name(ABOUT).read_bytes() == known


def test_a_photo_thrown_away_unread_stays_away(later: tuple[Phone, Later], tub12: bytes) -> None:
    phone, work = later
    page = phone.send(tub12)
    phone.post(f"{page}/throw-away")
    work.work()
    assert phone.get(page).status_code == 404
    assert list(phone.settings.waiting.iterdir()) == []


def test_photos_that_waited_are_there_after_a_crash(
    phone: Phone, tub12: bytes, tmp_path: Path
) -> None:
    first = phone.send(without_exif(), "../evening.jpg")
    phone.post(f"{first}/log", {"dilution": "2", "tub": "14"})  # lacks its time: not logged
    second = phone.send(tub12)
    (phone.settings.waiting / "damaged").mkdir()
    (phone.settings.waiting / "damaged" / "photo").write_bytes(b"x")
    again = make_phone(tmp_path)
    read_those_left(again.live)
    waiting = {photo.token: photo for photo in again.live.waiting.waiting()}
    assert [f"/photos/{token}" for token in waiting][:2] == [first, second]
    assert waiting[first.rsplit("/", 1)[1]].name == "evening.jpg"
    assert waiting[first.rsplit("/", 1)[1]].facts.dilution == 2.0
    assert again.post(f"{second}/log").status_code == 303
    assert again.count("readings") == 1
    assert not (phone.settings.waiting / second.rsplit("/", 1)[1]).exists()


def test_only_as_many_come_in_as_there_is_room_for(later: tuple[Phone, Later]) -> None:
    phone, _ = later

    def send(number: int) -> int:
        own = Phone(app=phone.app, settings=phone.settings)
        content = b"photo %d" % number
        return own.post("/photos", {"photo": (BytesIO(content), "a.jpg")}).status_code

    with ThreadPoolExecutor(12) as phones:
        codes = list(phones.map(send, range(45)))
    assert codes.count(303) == 30
    assert codes.count(409) == 15
    assert len(list(phone.settings.waiting.iterdir())) == 30


def test_what_comes_at_the_same_moment_is_counted_once(later: tuple[Phone, Later]) -> None:
    phone, _ = later
    with phone.live.waiting.room(29), pytest.raises(FullError), phone.live.waiting.room(2):
        pass
    with phone.live.waiting.room(30):
        pass


def come_in(waiting: WaitingRoom, *contents: bytes) -> list[Waiting]:
    """Take photos in, one after another, and return them."""
    found = []
    for content in contents:
        with waiting.room(1) as room:
            found.append(waiting.store(BytesIO(content), "a.jpg", PhotoFacts(), room).photo)
    return found


def test_decided_photos_take_no_room_and_stay_though_thrown_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(waiting_module, "MOST_WAITING", 2)
    with waiting_folder(tmp_path / "waiting") as folder:
        waiting = WaitingRoom(folder)
        for photo in come_in(waiting, b"a", b"b"):
            waiting.put(replace(photo, done=True))
            waiting.throw_away(photo.token)
        come_in(waiting, b"c", b"d")
        assert len(waiting.waiting()) == 2
        decided = [one.sha256 for one in waiting.done()]
    assert decided == [sha256(content).hexdigest() for content in (b"b", b"a")], "the last first"


def test_photos_that_were_left_come_in_the_order_in_which_they_arrived(tmp_path: Path) -> None:
    with waiting_folder(tmp_path / "waiting") as folder:
        come_in(WaitingRoom(folder), *(b"%d" % n for n in range(6)))
        (folder / ".half").mkdir()
        (folder / ".half" / "photo").write_bytes(b"half")
        left = WaitingRoom(folder).waiting()
    assert [one.sha256 for one in left] == [sha256(b"%d" % n).hexdigest() for n in range(6)]


def test_one_server_at_a_time_holds_the_folder(tmp_path: Path) -> None:
    place = tmp_path / "season.waiting"
    with waiting_folder(place) as held:
        assert held.stat().st_mode & 0o777 == 0o700
        with pytest.raises(LiveError, match="another live page"), waiting_folder(place):
            pass
        (held / "photo").mkdir()
    assert place.exists()
    (place / "photo").rmdir()
    with waiting_folder(place):
        pass
    assert not place.exists(), "an empty one leaves nothing behind"


def test_drafts_of_a_killed_server_are_swept(tmp_path: Path) -> None:
    left = tmp_path / "season.waiting" / ".greasecheck-left"
    left.mkdir(parents=True)
    (left / "photo").write_bytes(b"half")
    os.utime(left, (1, 1))
    with waiting_folder(tmp_path / "season.waiting"):
        assert not left.exists()
