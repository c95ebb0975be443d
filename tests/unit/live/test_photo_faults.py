"""What goes wrong with a photo leaves nothing half done: busy, full, forgotten, unknown."""

from __future__ import annotations

from concurrent.futures import BrokenExecutor, Executor, Future
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import IO, Any

import pytest

from greasecheck.errors import LogbookError
from greasecheck.live.photos import keeping, waiting
from greasecheck.live.photos.measuring import BusyError, Measurer
from greasecheck.logbook.store.book import Logbook
from greasecheck.measure.reading import view_photo
from tests.unit.live.phones import (
    OWN,
    REFUSED,
    SAMPLES,
    Phone,
    make_phone,
    without_exif,
)


def test_an_unknown_skull_leaves_nothing_half_written(phone: Phone, tub12: bytes) -> None:
    page = phone.send(tub12)
    answer = phone.post(f"{page}/log", {"skull": "nobody"})
    assert answer.status_code == 409
    assert "No skull is called" in answer.text
    assert phone.count("readings") == 0
    assert list(phone.settings.photos.iterdir()) == []
    assert phone.post(f"{page}/log").status_code == 303
    assert phone.count("readings") == 1


def test_a_photo_without_tag_asks_for_its_tub(
    phone: Phone, tub12: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_tag(path: Path, settings: object) -> object:
        view = view_photo(path, settings)  # type: ignore[arg-type]
        assert view.placement is not None
        if settings.tub is None:  # type: ignore[attr-defined]
            reading = replace(view.reading, tub=None)
            return replace(view, reading=reading)
        return view

    monkeypatch.setattr("greasecheck.live.photos.measuring.view_photo", no_tag)
    page = phone.send(tub12)
    assert "Which tub?" in phone.get(page).text
    answer = phone.post(f"{page}/log")
    assert answer.status_code == 400
    assert "tag" in answer.text
    phone.post(f"{page}/log", {"tub": "14"})
    assert phone.only_reading().tub == 14


def test_nothing_chosen_is_said(phone: Phone) -> None:
    answer = phone.post("/photos", {"photo": (BytesIO(b""), "")})
    assert answer.status_code == 400
    assert "No photo was chosen" in answer.text


def test_while_others_are_read_the_answer_is_busy(
    phone: Phone, tub12: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = phone.send(tub12)

    def busy(*_: object) -> None:
        raise BusyError("other photos are being read", hint="again")

    monkeypatch.setattr(Measurer, "measure", busy)
    answer = phone.post(f"{page}/log", {"dilution": "4"})
    assert answer.status_code == 503
    assert phone.count("readings") == 0


def test_when_one_of_several_does_not_fit_on_the_disk_none_is_taken_in(
    phone: Phone, tub12: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    known = phone.send(without_exif())
    real, calls = waiting._write, []

    def third_is_full(path: Path, stream: IO[bytes]) -> None:
        calls.append(path)
        if len(calls) == 3:
            raise OSError(28, "No space left on device")
        real(path, stream)

    monkeypatch.setattr(waiting, "_write", third_is_full)
    contents = [tub12, without_exif(), REFUSED.read_bytes()]
    answer = phone.post("/photos", {"photo": [(BytesIO(one), "a.jpg") for one in contents]})
    assert answer.status_code == 409
    assert [f"/photos/{one.token}" for one in phone.live.waiting.waiting()] == [known]
    assert len(list(phone.settings.waiting.iterdir())) == 1


def test_a_full_disk_takes_nothing_in(
    phone: Phone, tub12: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("greasecheck.live.photos.waiting.shutil.copyfileobj", full)
    answer = phone.post("/photos", {"photo": (BytesIO(tub12), "a.jpg")})
    assert answer.status_code == 409
    assert "No space left" in answer.text
    assert list(phone.settings.waiting.iterdir()) == []


def test_a_reader_that_is_killed_is_begun_anew_once(phone: Phone, tub12: bytes) -> None:
    killed: list[int] = []

    class Dying(Executor):
        def submit(self, *_: Any, **__: Any) -> Future[Any]:  # noqa: ANN401 - as the base
            killed.append(1)
            raise BrokenExecutor

    phone.live.measurer._make_executor = Dying
    page = phone.get(phone.send(tub12)).text
    assert "Refused" in page
    assert len(killed) == 2


def test_a_photo_is_read_though_the_logbook_cannot_be_asked_whether_it_holds_it(
    phone: Phone, tub12: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    def busy(*_: object) -> None:
        raise LogbookError("another program writes to it", hint="wait")

    with monkeypatch.context() as now:
        now.setattr("greasecheck.live.photos.views.reading_under", busy)
        page = phone.send(tub12)
    assert "Good" in phone.get(page).text
    phone.post(f"{page}/log")
    assert phone.count("readings") == 1


def test_a_bug_of_the_reader_is_told_on_the_terminal(
    phone: Phone, tub12: bytes, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("greasecheck.live.photos.measuring.view_photo", lambda *_: 1 / 0)
    page = phone.get(phone.send(tub12)).text
    assert "the terminal shows why" in page.lower()
    assert "ZeroDivisionError" in caplog.text


def test_a_disk_that_refuses_logs_nothing(
    phone: Phone, tub12: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = phone.send(tub12)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("greasecheck.live.photos.keeping.shutil.copy2", full)
    answer = phone.post(f"{page}/log")
    assert answer.status_code == 400
    assert "No space left" in answer.text
    assert phone.count("readings") == 0
    assert list(phone.settings.photos.iterdir()) == []


def test_only_so_many_photos_wait(
    phone: Phone, tub12: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(waiting, "MOST_WAITING", 1)
    phone.send(tub12)
    answer = phone.post("/photos", {"photo": (BytesIO(without_exif()), "b.jpg")})
    assert answer.status_code == 409
    assert "decide on some" in answer.text
    assert len(list(phone.settings.waiting.iterdir())) == 1


def test_old_decided_photos_are_forgotten(
    phone: Phone, tub12: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(waiting, "MOST_DONE", 1)
    for content in (tub12, (SAMPLES / "05_tub17_march.jpg").read_bytes()):
        phone.post(f"{phone.send(content)}/log")
    [last] = phone.live.waiting.done()
    assert last.found.reading.tub == 17


def test_a_symlink_in_the_photo_folder_is_not_written_through(
    tmp_path: Path, phone: Phone, tub12: bytes
) -> None:
    page = phone.send(tub12)
    [photo] = phone.live.waiting.waiting()
    victim = tmp_path / "victim"
    victim.write_text("mine")
    phone.settings.photos.mkdir()
    kept = keeping._kept_path(phone.settings.photos, photo)
    kept.symlink_to(victim)
    phone.post(f"{page}/log")
    assert victim.read_text() == "mine"


def test_a_bad_guess_at_a_token_is_not_found(tmp_path: Path) -> None:
    phone = make_phone(tmp_path)
    Logbook(phone.settings.logbook, create=True).close()
    for guess in ("abc", "..%2f..%2fetc%2fpasswd", "%00", "a" * 500):
        assert phone.client.get(f"/photos/{guess}/found.jpg", headers=OWN).status_code == 404


def test_the_page_names_no_option_of_a_command(phone: Phone) -> None:
    foam = next(SAMPLES.glob("*_foam.jpg"))
    page = phone.get(phone.send(foam.read_bytes())).text
    assert "dilute the water and say how much" in page
    assert "--" not in page.split("<main")[1].split("</main>")[0]


def test_an_empty_file_among_others_is_refused_by_itself(phone: Phone, tub12: bytes) -> None:
    photos = [(BytesIO(tub12), "good.jpg"), (BytesIO(b""), "empty.jpg")]
    assert phone.post("/photos", {"photo": photos}).status_code == 303
    assert len(phone.live.waiting.waiting()) == 2
    page = phone.get("/photos").text
    for words in ("good.jpg", "empty.jpg", "the file is empty"):
        assert words in page
