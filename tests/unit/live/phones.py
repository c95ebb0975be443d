"""A stand-in for a phone on the live page, over Flask's test client."""

from __future__ import annotations

import re
import threading
from concurrent.futures import Executor, Future
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from io import BytesIO
from typing import TYPE_CHECKING, Any

from PIL import ExifTags, Image

from greasecheck.live.app import make_app
from greasecheck.live.parts import LiveSettings
from greasecheck.live.photos.measuring import Measured, PhotoFacts
from greasecheck.live.photos.waiting import Waiting
from greasecheck.live.server import listen, serving
from greasecheck.logbook.readings.readings import reading_under
from greasecheck.logbook.records import Skull, SkullEvent, Tub
from greasecheck.logbook.skulls.skulls import enter_skull
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water, enter_tub
from greasecheck.measure.reading import ReadSettings
from greasecheck.measure.stand import view_clear_water
from greasecheck.measure.water.reference import ClearWater, make_clear_water
from greasecheck.model import Recipe
from greasecheck.reference.folder import data_folder
from greasecheck.reference.patches.values import read_patch_values
from greasecheck.stages import EventKind

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from flask import Flask
    from werkzeug.test import TestResponse

    from greasecheck.live.access.pairing import Pairing
    from greasecheck.live.parts import Live
    from greasecheck.logbook.records import LoggedReading
    from greasecheck.model import Reading

SAMPLES = data_folder("sample_images")
TUB12, REFUSED = SAMPLES / "03_tub12_february.jpg", SAMPLES / "08_tub21_bad_light.jpg"
OWN = {"Origin": "http://localhost"}
START = datetime(2026, 1, 1, tzinfo=UTC)  # before the sample photos
NASTY = "<img src=x onerror=alert(1)>"


class AtOnce(Executor):
    """Does its work before `submit` returns."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:  # noqa: ANN401 - as the base
        future: Future[Any] = Future()
        try:
            future.set_result(fn(*args, **kwargs))
        except Exception as error:
            future.set_exception(error)
        return future


@dataclass
class Later(Executor):
    """Does its work when `work` is called."""

    waiting: list[tuple[Future[Any], Callable[[], Any]]] = field(default_factory=list)

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:  # noqa: ANN401 - as the base
        future: Future[Any] = Future()
        self.waiting.append((future, lambda: fn(*args, **kwargs)))
        return future

    def work(self) -> None:
        for future, job in self.waiting:
            future.set_result(job())
        self.waiting.clear()


@cache
def clear_water() -> ClearWater:
    seen = view_clear_water(SAMPLES / "01_tap_water.jpg", read_settings())
    return make_clear_water([seen], 60.0)


def read_settings() -> ReadSettings:
    return ReadSettings(values=read_patch_values(SAMPLES / "sheet_measured.cgats"))


def live_settings(folder: Path, **changes: Any) -> LiveSettings:  # noqa: ANN401 - any field
    read = read_settings()
    waiting = folder / "waiting"
    waiting.mkdir(exist_ok=True)
    named = LiveSettings(
        logbook=folder / "season.logbook",
        photos=folder / "season.photos",
        waiting=waiting,
        read=replace(read, jar=replace(read.jar, clear=clear_water())),
        make_executor=Later,
        make_reader=AtOnce,
    )
    return replace(named, **changes)


def begin_season(logbook: Path, filled_at: datetime, started_at: datetime = START) -> None:
    """Enter tubs 12 and 14; tub 12 holds a bath and a fox."""
    with Logbook(logbook, create=True) as book:
        for number in (12, 14):
            name = "by the door" if number == 12 else NASTY
            enter_tub(book, Tub(number=number, name=name, started_at=started_at))
        change_water(book, [12], filled_at, Filling(recipe=Recipe.SOAP, temperature_c=40.0))
        entered = SkullEvent(skull="fox 3", happened_at=filled_at, kind=EventKind.ENTERED, tub=12)
        enter_skull(book, Skull(name="fox 3", species="fox"), entered)


@dataclass
class Phone:
    """A browser that sends forms as a page of the server would."""

    app: Flask
    settings: LiveSettings

    def __post_init__(self) -> None:
        self.client = self.app.test_client()

    def get(self, path: str) -> TestResponse:
        return self.client.get(path)

    def token(self, path: str = "/photos") -> str:
        found = re.search(r'name="form_token" value="([^"]+)"', self.get(path).text)
        assert found, self.get(path).text
        return found[1]

    def post(
        self, path: str, data: dict[str, Any] | None = None, *, token: str | None = None
    ) -> TestResponse:
        fields = {"form_token": token or self.token(), **(data or {})}
        answer = self.client.post(path, data=fields, headers=OWN)
        answer.request.environ["wsgi.input"].close()  # the client keeps large bodies in files
        return answer

    def send(self, content: bytes, name: str = "photo.jpg") -> str:
        """Send a photo, and return the address of its page."""
        answer = self.post("/photos", {"photo": (BytesIO(content), name)})
        assert answer.status_code == 303, answer.text
        return str(answer.location)

    @property
    def live(self) -> Live:
        """Return the parts of the served app."""
        found: Live = self.app.extensions["greasecheck"]
        return found

    def only_reading(self) -> LoggedReading:
        with Logbook(self.settings.logbook) as book:
            [(key,)] = book.rows("SELECT key FROM readings")
            found = reading_under(book, key)
            assert found is not None
            return found

    def rows(self, sql: str) -> list[tuple[Any, ...]]:
        with Logbook(self.settings.logbook) as book:
            return book.rows(sql)

    def count(self, table: str) -> int:
        [(number,)] = self.rows(f"SELECT count(*) FROM {table}")
        return int(number)


def make_phone(folder: Path, **changes: Any) -> Phone:  # noqa: ANN401 - any field
    settings = live_settings(folder, **changes)
    return Phone(app=make_app(settings), settings=settings)


def waiting_photo(reading: Reading, path: Path, *others: Reading) -> Waiting:
    """Return a photo that waits once its readings were found; it came in three hours late."""
    taken_at = reading.taken_at or datetime(2026, 3, 1, 18, tzinfo=UTC)
    return Waiting(
        token="token",
        name=path.name,
        path=path,
        sha256=reading.photo_sha256,
        arrived_at=taken_at + timedelta(hours=3),
        facts=PhotoFacts(),
        measured=Measured(reading=reading, overlay=b"", is_picture=True, others=others),
    )


def paired(phone: Phone, pairing: Pairing, code: str) -> None:
    assert pairing is phone.settings.pairing
    answer = phone.post("/pair", {"code": code}, token=phone.token("/pair"))
    assert answer.status_code == 303


def dated(taken_at: str) -> bytes:
    """Return a good photo whose camera's clock showed a time, as in EXIF."""
    content = BytesIO()
    with Image.open(TUB12) as image:
        exif = image.getexif()
        for tag in (ExifTags.Base.DateTimeOriginal, ExifTags.Base.DateTimeDigitized):
            exif.get_ifd(ExifTags.IFD.Exif)[tag] = taken_at
        image.save(content, format="JPEG", quality=97, exif=exif)
    return content.getvalue()


def without_exif(path: Path = TUB12) -> bytes:
    """Return the photo as a phone's picker hands it on that leaves out when it was taken."""
    content = BytesIO()
    with Image.open(path) as image:
        image.save(content, format="JPEG", quality=95)
    return content.getvalue()


@contextmanager
def running(settings: LiveSettings) -> Iterator[str]:
    """Serve on a free port of the loopback; give the address."""
    with serving(settings, listen(0, lan=False)) as server:
        thread = threading.Thread(target=server.run)
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.port}/"
        finally:
            server.stop()
            thread.join()
