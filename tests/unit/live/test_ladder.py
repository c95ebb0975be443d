"""What the page shows of a fixed camera, and the eye's reading of a ladder by one tap."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pytest

from greasecheck.garage.camera.pictures import keep_newest
from greasecheck.garage.ladder.eye import bars_by_eye
from greasecheck.measure.ladder.look import LadderView

if TYPE_CHECKING:
    from pathlib import Path

    from tests.unit.live.phones import Phone

OUTLINE = np.array([[20.0, 20], [60, 20], [60, 70], [20, 70]])


def test_the_newest_picture_of_the_camera_is_shown_with_its_age(
    phone: Phone, tmp_path: Path
) -> None:
    assert phone.get("/tubs/12/photo.jpg").status_code == 400
    seen = LadderView(tub=12, water=None, ladder=None, checks=(), outline_px=OUTLINE)
    for hours in (5, 3, 4):  # the last came late
        at = datetime.now(UTC) - timedelta(hours=hours)
        keep_newest(tmp_path / "rounds", np.full((100, 90, 3), 20 * hours, np.uint8), [seen], at)
    assert "3 h ago" in phone.get("/tubs/12").text
    (file,) = (tmp_path / "rounds").iterdir()
    with phone.get("/tubs/12/photo.jpg") as picture:
        assert picture.mimetype == "image/jpeg"
        assert picture.data == file.read_bytes()


def test_a_tub_keeps_the_newest_picture_of_its_former_numbers(phone: Phone, tmp_path: Path) -> None:
    seen = LadderView(tub=12, water=None, ladder=None, checks=(), outline_px=OUTLINE)
    at = datetime.now(UTC) - timedelta(hours=3)
    keep_newest(tmp_path / "rounds", np.full((100, 90, 3), 60, np.uint8), [seen], at)
    for old, new in ((12, 21), (21, 22)):
        renumbered = phone.post(f"/tubs/{old}/number", {"number": str(new)})
        assert renumbered.status_code == 303
    assert "3 h ago" in phone.get("/tubs/22").text
    with phone.get("/tubs/22/photo.jpg") as picture:
        assert picture.mimetype == "image/jpeg"


def test_the_last_bar_is_entered_by_one_tap(phone: Phone) -> None:
    page = phone.get("/tubs/12").text
    assert all(f'name="last_bar" value="{bar}"' in page for bar in bars_by_eye())
    answer = phone.post("/tubs/12/reading", {"last_bar": "50"})
    assert answer.status_code == 303
    ((kind, haze, std, note),) = phone.rows(
        "SELECT kind, attenuation_per_m, attenuation_std_per_m, note FROM readings"
    )
    assert kind == "eye"
    assert 60 < haze < 120
    assert std > 0.25 * haze
    assert "50" in note


@pytest.mark.parametrize("bar", ["300", "-5", "deep"])
def test_a_bar_that_is_not_there_enters_nothing(phone: Phone, bar: str) -> None:
    assert phone.post("/tubs/12/reading", {"last_bar": bar}).status_code in {400, 409}
    assert phone.count("readings") == 0
