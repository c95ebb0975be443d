"""A skull's looks side by side on its page."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from io import BytesIO
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from tests.unit.live.phones import TUB12

if TYPE_CHECKING:
    from tests.unit.live.phones import Phone

STRIP = "/skull/strip.png?name=fox+3"


def test_a_skull_shows_its_looks_once_photos_name_it(phone: Phone) -> None:
    assert "strip.png" not in phone.get("/skull?name=fox+3").text
    assert phone.get(STRIP).status_code == 400
    phone.post(f"{phone.send(TUB12.read_bytes())}/log", {"skull": "fox 3"})
    assert "/skull/strip.png?name=fox+3&amp;looks=1" in phone.get("/skull?name=fox+3").text
    answer = phone.get(STRIP)
    assert answer.mimetype == "image/png"
    with Image.open(BytesIO(answer.data)) as picture:
        square = np.asarray(picture.convert("L"))[12:332, 12:332]
    assert square.max() > 150, "the bone is cut out"


def test_no_photo_from_elsewhere_is_shown(phone: Phone) -> None:
    phone.post(f"{phone.send(TUB12.read_bytes())}/log", {"skull": "fox 3"})
    (kept,) = phone.settings.photos.iterdir()
    elsewhere = kept.rename(phone.settings.photos.parent / "own.jpg")
    with closing(sqlite3.connect(phone.settings.logbook)) as file, file:
        file.execute("UPDATE readings SET photo_path = ?", (str(elsewhere),))
    with Image.open(BytesIO(phone.get(STRIP).data)) as picture:
        square = np.asarray(picture.convert("L"))[12:332, 12:332]
    assert np.ptp(square) == 0, "the place is empty"
