"""The clear-water photo as the phone sends it: the box for tap water, the notice of the depth."""

from __future__ import annotations

import re
from datetime import datetime
from html import unescape
from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image, ImageFilter
from PIL.ExifTags import IFD, Base

from greasecheck.live.setup import standard_views
from greasecheck.logbook.store.times import from_text
from greasecheck.measure.water.reference_file import clear_water_from_json
from tests.unit.live.phones import SAMPLES, Phone

if TYPE_CHECKING:
    from werkzeug.test import TestResponse

CLEAR, OF_A_TUB = SAMPLES / "01_tap_water.jpg", SAMPLES / "12_tub12_may.jpg"


def send(phone: Phone, content: bytes, **fields: str) -> TestResponse:
    photo = (BytesIO(content), "clear.jpg")
    return phone.post("/setup/clear", {"photo": photo, **fields}, token=phone.token("/setup"))


def next_frame(content: bytes) -> bytes:
    """Return the photo as taken a moment later, its noise smoothed away and replaced."""
    with Image.open(BytesIO(content)) as picture:
        smooth = picture.filter(ImageFilter.GaussianBlur(1))
        noise = np.random.default_rng(1).normal(0, 2, (*picture.size[::-1], 3))
        frame = Image.fromarray(np.clip(np.asarray(smooth) + noise, 0, 255).astype(np.uint8))
        saved = BytesIO()
        frame.save(saved, format="JPEG", quality=95, exif=picture.getexif())
    return saved.getvalue()


def references(phone: Phone) -> int:
    return phone.count("standards")


def test_a_photo_with_a_tubs_tag_asks_for_the_box_and_is_taken_with_it(phone: Phone) -> None:
    content = OF_A_TUB.read_bytes()
    refused = send(phone, content)
    assert refused.status_code == 400
    words = unescape(refused.text)
    assert "shows the tag of tub 12" in words
    assert "say that it is tap water" in words
    assert references(phone) == 0
    assert send(phone, content, tap_water="yes").status_code == 303
    assert references(phone) == 1


def test_the_box_is_on_the_page_and_not_ticked(phone: Phone) -> None:
    page = phone.get("/setup?step=clear").text
    [box] = re.findall(r'<input type="checkbox" name="tap_water"[^>]*>', page)
    assert 'value="yes"' in box
    assert "checked" not in box


@pytest.mark.parametrize("said_mm", ["30", "120"])
def test_a_wrong_depth_is_asked_about_with_that_of_the_bars(phone: Phone, said_mm: str) -> None:
    answer = send(phone, CLEAR.read_bytes(), path_mm=said_mm)
    page = phone.get(str(answer.location)).text
    [shown_mm] = re.findall(r"as in a jar about (\d+) mm deep", page)
    assert 50 < int(shown_mm) < 70
    assert "undo it and send the photo again" in page


def test_the_right_depth_is_not_asked_about(phone: Phone) -> None:
    answer = send(phone, CLEAR.read_bytes(), path_mm="60")
    assert "mm deep. Measure" not in phone.get(str(answer.location)).text
    assert references(phone) == 1


@pytest.mark.parametrize(("per_m", "warned"), [(0.7, True), (-0.7, False), (None, False)])
def test_water_murkier_than_that_before_is_pointed_out(
    phone: Phone, monkeypatch: pytest.MonkeyPatch, per_m: float | None, warned: bool
) -> None:
    monkeypatch.setattr(standard_views, "murkier_per_m", lambda *_: per_m)
    shown = phone.get(str(send(phone, CLEAR.read_bytes()).location)).text
    assert ("seems murkier than that of the photo before" in shown) is warned


def test_a_reference_counts_from_its_photo_on_and_for_a_jar_as_described(phone: Phone) -> None:
    """Left blank, the jar is 60 mm deep; the photo's own time is that from which it stands."""
    assert send(phone, CLEAR.read_bytes()).status_code == 303
    [(since, body)] = phone.rows("SELECT in_force_from, body FROM standards")
    made = clear_water_from_json(str(body), "reference")
    assert made.path_mm == 60.0
    with Image.open(CLEAR) as picture:
        exif = picture.getexif().get_ifd(IFD.Exif)
    stated = f"{exif[Base.DateTimeOriginal]} {exif[Base.OffsetTimeOriginal]}"
    assert from_text(str(since)) == datetime.strptime(stated, "%Y:%m:%d %H:%M:%S %z")


def test_two_photos_are_one_reference_and_one_asks_for_another(phone: Phone) -> None:
    def said(*contents: bytes) -> str:
        photos = [(BytesIO(one), "clear.jpg") for one in contents]
        token = phone.token("/setup")
        answer = phone.post("/setup/clear", {"photo": photos}, token=token)
        return phone.get(str(answer.location)).text

    content = CLEAR.read_bytes()
    assert "One photo does not show" not in said(content, next_frame(content))
    assert references(phone) == 1
    # A comment at the end of the file makes it another file of the same photo.
    copy = content[:-2] + b"\xff\xfe\x00\x04ab" + content[-2:]
    assert "One photo does not show" in said(content, copy)
