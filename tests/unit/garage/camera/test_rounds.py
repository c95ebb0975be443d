from __future__ import annotations

import errno
import hashlib
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image

from greasecheck.garage.camera import rounds as module
from greasecheck.garage.camera.pictures import keep_picture, newest_of
from greasecheck.garage.camera.rounds import (
    FALLEN_MM,
    MOVED_SHARE,
    RoundSettings,
    Watch,
    do_round,
    read_arrived,
)
from greasecheck.garage.camera.source import NoPictureError, take_picture
from greasecheck.logbook.readings.readings import list_readings
from greasecheck.logbook.records import Tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.measure.ladder.look import LadderView
from greasecheck.measure.photo.load import load_photo
from greasecheck.measure.reading import PhotoView, ReadSettings, view_photo
from greasecheck.model import ReadingKind, Recipe
from greasecheck.model.camera_notices import NoticeKind
from tests.logbook_samples import make_ladder, make_reading, make_water

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

START = datetime(2026, 3, 1, 0, 30, tzinfo=UTC)
TUBS = (12, 13)


class FakeDevice:
    """A device that gives frames, or does not."""

    def __init__(self, *, there: bool = True, light: float = 120.0) -> None:
        self.there, self.light, self.released = there, light, False

    def isOpened(self) -> bool:  # noqa: N802 - OpenCV's name
        return self.there

    def set(self, _prop: int, _value: float, /) -> bool:
        return True

    def read(self) -> tuple[bool, np.ndarray]:
        rng = np.random.default_rng(1)
        frame = rng.normal(self.light, self.light / 4, (60, 80, 3)).clip(0, 255)
        frame[:, :, 0] /= 2  # blue comes first
        return True, frame.astype(np.uint8)

    def release(self) -> None:
        self.released = True


def test_a_picture_comes_in_red_green_blue_and_the_device_goes_back() -> None:
    device = FakeDevice()
    picture = take_picture("0", lambda _: device)
    assert picture[:, :, 2].mean() < picture[:, :, 0].mean()
    assert device.released


@pytest.mark.parametrize(
    ("device", "problem"),
    [(FakeDevice(there=False), "not there"), (FakeDevice(light=2.0), "dark")],
)
def test_no_camera_and_no_light_are_told_apart(device: FakeDevice, problem: str) -> None:
    with pytest.raises(NoPictureError, match=problem):
        take_picture("0", lambda _: device)
    assert device.released


class Garage:
    """Two tubs seen by a camera that fails at times; the haze rises, the level falls."""

    def __init__(self, folder: Path) -> None:
        self.hour = 0
        self.shift_px = 0.0
        self.tubs_shifted: tuple[int, ...] = TUBS
        self.levels_mm: Sequence[float] = ()
        self.settings = RoundSettings(
            folder=folder,
            newest=folder / "newest",
            keep=timedelta(days=30),
            take=self.take,
            view=self.view,
        )

    def take(self) -> np.ndarray:
        if self.hour % 24 in {22, 23}:
            raise NoPictureError("the camera's picture is dark", hint="light")
        if 30 <= self.hour < 36:
            raise NoPictureError("the camera 0 is not there", hint="plug it in")
        rng = np.random.default_rng(self.hour)
        return rng.integers(0, 255, (48, 64, 3)).astype(np.uint8)

    def view(self, path: Path) -> PhotoView:
        photo = load_photo(path)
        assert photo.taken_at == START + timedelta(hours=self.hour)
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        outline = np.array([[5.0, 5], [20, 5], [20, 30], [5, 30]])
        views = [
            LadderView(
                tub=tub,
                water=None,
                ladder=None,
                checks=(),
                outline_px=outline + self.shift_px * (tub in self.tubs_shifted),
            )
            for tub in TUBS
        ]
        level_mm = self.levels_mm[self.hour] if self.levels_mm else 150.0 - 0.3 * self.hour
        since = self.hour if self.hour < 40 else self.hour - 40
        readings = [
            replace(
                make_reading(at=photo.taken_at, tub=tub, bone=False),
                photo_path=str(path),
                photo_sha256=digest,
                kind=ReadingKind.LADDER,
                part=f"ladder-{tub}",
                water=make_water(4.0 + 0.4 * since),
                ladder=replace(make_ladder(), level_mm=level_mm),
            )
            for tub in TUBS
        ]
        return PhotoView(
            reading=readings[0], photo=photo, others=tuple(readings[1:]), ladders=tuple(views)
        )

    def run(self, book: Logbook, watch: Watch, hours: int) -> Iterator[module.Round]:
        for hour in range(hours):
            self.hour = hour
            yield do_round(book, self.settings, watch, START + timedelta(hours=hour))


def width_px(path: Path) -> int:
    with Image.open(path) as picture:
        return picture.width


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with Logbook(tmp_path / "season.logbook", create=True) as opened:
        for tub in TUBS:
            enter_tub(opened, Tub(number=tub))
        change_water(opened, TUBS, START - timedelta(hours=1), Filling(recipe=Recipe.SOAP))
        yield opened


def test_three_days_of_rounds_lose_nothing_and_read_nothing_twice(
    book: Logbook, tmp_path: Path
) -> None:
    garage, watch = Garage(tmp_path / "rounds"), Watch()
    done = list(garage.run(book, watch, 72))
    seen = [one for one in done if one.picture is not None]
    assert len(seen) == 72 - 6 - 6
    for tub in TUBS:
        readings = list_readings(book, tub)
        assert len(readings) == len(seen)
        assert len({one.key for one in readings}) == len(seen)
        assert [one.taken_at for one in readings] == [one.at for one in seen]
    notices = [notice for one in done for notice in one.notices]
    changed = [notice.tub for notice in notices if notice.kind is NoticeKind.WATER_CHANGED]
    assert sorted(tub for tub in changed if tub) == [12, 13]
    within = next(
        one.at
        for one in done
        if any(notice.kind is NoticeKind.WATER_CHANGED for notice in one.notices)
    )
    assert within - (START + timedelta(hours=40)) <= timedelta(hours=1)
    falls = [notice for notice in notices if notice.kind is NoticeKind.LEVEL_FALLS]
    assert {notice.tub for notice in falls} == {12, 13}
    assert len(watch.notices_given) < 12
    kept = sorted(path.name for path in (tmp_path / "rounds").glob("*.jpg"))
    assert [name[6:14] for name in kept] == ["20260301", "20260302", "20260302", "20260303"]


def test_of_each_tub_the_newest_picture_lies_beside_the_logbook(
    book: Logbook, tmp_path: Path
) -> None:
    garage = Garage(tmp_path / "rounds")
    done = list(garage.run(book, Watch(), 30))
    newest = [one.at for one in done if one.picture is not None][-1]
    for tub in TUBS:
        picture = newest_of(tmp_path / "rounds" / "newest", tub)
        assert picture is not None
        assert picture.at == newest
        assert width_px(picture.path) < 64
    assert len(list((tmp_path / "rounds" / "newest").iterdir())) == len(TUBS)
    assert newest_of(tmp_path / "rounds" / "newest", 1) is None


def test_kept_pictures_may_show_the_tubs_alone(book: Logbook, tmp_path: Path) -> None:
    garage = Garage(tmp_path / "rounds")
    garage.settings = replace(garage.settings, crop=True)
    (done,) = garage.run(book, Watch(), 1)
    assert done.picture is not None
    assert width_px(done.picture) < 64
    assert load_photo(done.picture).taken_at == START


def test_pictures_that_arrive_are_read_once_and_stay(book: Logbook, tmp_path: Path) -> None:
    garage, watch, path = Garage(tmp_path / "rounds"), Watch(), tmp_path / "arrived.jpg"
    path.write_bytes(keep_picture(tmp_path / "other", garage.take(), START).read_bytes())
    first = read_arrived(book, garage.settings, watch, path)
    assert first is not None
    assert first.at == START
    assert [one.tub for one in first.logged] == list(TUBS)
    assert read_arrived(book, garage.settings, watch, path) is None
    assert path.exists()
    assert len(list_readings(book, 12)) == 1


def test_a_picture_that_cannot_be_read_is_no_missing_ladder(book: Logbook, tmp_path: Path) -> None:
    def view(path: Path) -> PhotoView:
        return view_photo(path, ReadSettings())

    path = tmp_path / "torn.jpg"
    path.write_bytes(b"\xff\xd8 no picture")
    settings = replace(Garage(tmp_path / "rounds").settings, view=view)
    found = read_arrived(book, settings, Watch(), path)
    assert found is not None
    (notice,) = found.notices
    assert notice.kind is NoticeKind.UNREADABLE
    assert "torn.jpg" in notice.problem


def test_a_moved_camera_is_told_once(book: Logbook, tmp_path: Path) -> None:
    garage, watch = Garage(tmp_path / "rounds"), Watch()
    rounds = garage.run(book, watch, 3)
    assert not next(rounds).notices
    garage.shift_px = 10.0
    assert [notice.kind for notice in next(rounds).notices] == [NoticeKind.MOVED]
    assert not next(rounds).notices


def test_one_ladder_that_hangs_elsewhere_is_no_moved_camera(book: Logbook, tmp_path: Path) -> None:
    garage, watch = Garage(tmp_path / "rounds"), Watch()
    rounds = garage.run(book, watch, 2)
    assert not next(rounds).notices
    garage.shift_px, garage.tubs_shifted = 1.5 * MOVED_SHARE * 64, TUBS[:1]
    assert not next(rounds).notices


def test_water_falls_from_the_highest_it_stood_at_in_its_bath(
    book: Logbook, tmp_path: Path
) -> None:
    garage, watch = Garage(tmp_path / "rounds"), Watch()
    garage.levels_mm = (130.0, 150.0, 150.0 - 0.9 * FALLEN_MM, 150.0 - 1.1 * FALLEN_MM)
    *earlier, last = garage.run(book, watch, 4)  # topped up in between
    assert not [notice for one in earlier for notice in one.notices]
    assert [notice.tub for notice in last.notices] == list(TUBS)
    fallen = [notice.amount_mm for notice in last.notices]
    assert fallen == pytest.approx([1.1 * FALLEN_MM] * len(TUBS))


def test_the_height_of_a_bath_before_counts_no_more(book: Logbook, tmp_path: Path) -> None:
    garage, watch = Garage(tmp_path / "rounds"), Watch()
    garage.levels_mm = (150.0, 150.0 - 2 * FALLEN_MM, 150.0 - 2.5 * FALLEN_MM)
    rounds = garage.run(book, watch, 3)
    assert not next(rounds).notices
    change_water(book, TUBS, START + timedelta(minutes=30), Filling(recipe=Recipe.SOAP))
    assert not [notice for one in rounds for notice in one.notices]


def test_a_picture_that_arrives_late_replaces_no_newer_one(book: Logbook, tmp_path: Path) -> None:
    garage, watch = Garage(tmp_path / "rounds"), Watch()
    early = tmp_path / "early.jpg"
    early.write_bytes(keep_picture(tmp_path / "other", garage.take(), START).read_bytes())
    garage.hour = 2
    do_round(book, garage.settings, watch, START + timedelta(hours=2))
    garage.hour = 0
    assert read_arrived(book, garage.settings, watch, early) is not None
    for tub in TUBS:
        picture = newest_of(tmp_path / "rounds" / "newest", tub)
        assert picture is not None
        assert picture.at == START + timedelta(hours=2)


def test_a_full_disk_stops_one_round_only(
    book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    garage, watch = Garage(tmp_path / "rounds"), Watch()
    with monkeypatch.context() as patched:

        def refuse(_descriptor: int) -> None:
            raise OSError(errno.ENOSPC, "No space left on device")

        patched.setattr("os.fsync", refuse)
        done = do_round(book, garage.settings, watch, START)
    assert [notice.kind for notice in done.notices] == [NoticeKind.NOT_KEPT]
    assert list((tmp_path / "rounds").rglob("*.*")) == []
    assert do_round(book, garage.settings, watch, START).picture is not None


def test_pictures_are_kept_as_long_as_the_user_says(book: Logbook, tmp_path: Path) -> None:
    garage, watch = Garage(tmp_path / "rounds"), Watch()
    garage.settings = replace(garage.settings, keep=timedelta(days=1))
    list(garage.run(book, watch, 72))
    assert len(list((tmp_path / "rounds").glob("*.jpg"))) <= 3
