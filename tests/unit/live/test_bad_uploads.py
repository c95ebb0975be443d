"""What is no photo, too large, or called something nasty does no harm."""

from __future__ import annotations

import struct
import zlib
from io import BytesIO
from typing import TYPE_CHECKING

import pytest

from greasecheck.live.photos import views as photo_views
from greasecheck.live.photos.waiting import LONGEST_NAME, shown_name
from tests.unit.live.phones import NASTY, OWN, TUB12, Phone

if TYPE_CHECKING:
    from werkzeug.test import TestResponse

TEXT = b"dear diary, today the water was murky\n" * 20


def bomb(side_px: int) -> bytes:
    """Return a PNG of few bytes that claims a great many pixels."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        check = struct.pack(">I", zlib.crc32(kind + content))
        return struct.pack(">I", len(content)) + kind + content + check

    header = struct.pack(">IIBBBBB", side_px, side_px, 8, 2, 0, 0, 0)
    pixels = zlib.compress(b"\0" * 100_000)
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        chunk(kind, content)
        for kind, content in ((b"IHDR", header), (b"IDAT", pixels), (b"IEND", b""))
    )


def send_many(phone: Phone, *names: str, content: bytes = TEXT) -> TestResponse:
    files = [(BytesIO(content + name.encode()), name) for name in names]
    return phone.post("/photos", {"photo": files})


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (TEXT, "is not a picture that can be read"),
        (bomb(30_000), "million pixels"),
        (bomb(2_000), "damaged"),
        (b"\xff\xd8\xff", "header is damaged"),
        (TUB12.read_bytes()[:50_000], "cut short"),
        (b"\0", "not a picture"),
        (b"", "the file is empty"),
    ],
)
def test_what_is_no_photo_is_refused_in_clear_words(
    phone: Phone, content: bytes, words: str
) -> None:
    address = phone.send(content, "photo.jpg")
    page = phone.get(address).text
    assert "Refused" in page
    assert words in page.lower()
    assert "Log it" not in page
    assert "Keep it" not in page
    assert str(phone.settings.waiting) not in page
    answer = phone.post(f"{address}/log")
    assert answer.status_code == 400
    assert phone.count("attempts") == 0
    assert not phone.settings.photos.exists()


@pytest.mark.parametrize(
    "name",
    [
        f"{NASTY}.jpg",
        "%22><svg onload=alert(1)>.jpg",
        "' onfocus=alert(1) x='.jpg",
        "{{7*7}}.jpg",
    ],
)
def test_a_name_with_markup_is_text(phone: Phone, name: str) -> None:
    page = phone.get(phone.send(TUB12.read_bytes(), name)).text
    for live in ("<img src=x", "<svg onload", "onfocus=alert(1) x='", ">49.jpg"):
        assert live not in page
    assert "alert(1)" in page or "{{7*7}}" in page


def test_markup_in_the_logbook_is_text(phone: Phone) -> None:
    page = phone.get("/").text
    assert NASTY not in page
    assert "&lt;img src=x onerror=alert(1)&gt;" in page


@pytest.mark.parametrize(
    ("sent", "shown"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\fakepath\\a.jpg", "a.jpg"),
        ("a\nb\x00c\u202egpj.jpg", "abcgpj.jpg"),
        ("  ", "photo"),
        (None, "photo"),
        ("狐.heic", "狐.heic"),
        ("x" * 1000, "x" * (LONGEST_NAME - 1) + "…"),
    ],
)
def test_names_are_shown_but_never_paths(sent: str | None, shown: str) -> None:
    assert shown_name(sent) == shown


def test_odd_names_are_taken_in(phone: Phone) -> None:
    for name in ("../../a.jpg", "/etc/passwd", "a" * 3000, "\U0001f98a.jpg", ".", ".."):
        assert phone.get(phone.send(TEXT + name.encode(), name)).status_code == 200
    places = list(phone.settings.waiting.iterdir())
    assert len(places) == 6
    assert {path.name for place in places for path in place.iterdir()} == {"photo", "about.json"}


def test_too_large_a_file_takes_none_in(phone: Phone, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photo_views, "MAX_FILE_BYTES", 100)
    answer = phone.post("/photos", {"photo": [(BytesIO(b"a"), "a"), (BytesIO(TEXT), "big.jpg")]})
    assert answer.status_code == 400
    assert "big.jpg is larger than" in answer.text
    assert list(phone.settings.waiting.iterdir()) == []


def test_too_many_files_take_none_in(phone: Phone) -> None:
    answer = send_many(phone, *(f"{number}.jpg" for number in range(photo_views.MOST_FILES + 1)))
    assert answer.status_code == 400
    assert "send at most 12" in answer.text
    assert list(phone.settings.waiting.iterdir()) == []


def test_too_large_a_request_is_cut_off(phone: Phone) -> None:
    phone.app.config["MAX_CONTENT_LENGTH"] = 5000
    answer = phone.post("/photos", {"photo": (BytesIO(b"a" * 10_000), "a.jpg")})
    assert answer.status_code == 413
    assert "too large" in answer.text


def test_floods_of_fields_are_refused(phone: Phone) -> None:
    many = {f"field{number}": "x" for number in range(200)}
    assert phone.post("/photos", {**many, "photo": (BytesIO(TEXT), "a")}).status_code == 413
    long = {"dilution": "9" * 150_000, "photo": (BytesIO(TEXT), "a")}
    assert phone.post("/photos", long).status_code == 413


def test_a_bug_shows_no_traceback(phone: Phone, monkeypatch: pytest.MonkeyPatch) -> None:
    def bug(*_: object) -> None:
        raise ZeroDivisionError("secret of the inside")

    monkeypatch.setattr("greasecheck.live.tubs.answering.garage_today", bug)
    answer = phone.client.get("/", headers=OWN)
    assert answer.status_code == 500
    assert "secret" not in answer.text
    assert "Traceback" not in answer.text
    assert "Something went wrong" in answer.text
