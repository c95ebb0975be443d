"""The setup's look at a first photo: what to move at the stand, the ladder or the card."""

from __future__ import annotations

from html import unescape
from io import BytesIO
from typing import TYPE_CHECKING

import cv2
import numpy as np
from PIL import Image

from greasecheck.measure.reading import ReadSettings
from tests.synthetic.bone_scene.scenes import SceneOrder, photograph
from tests.synthetic.spectral_simulation import CAMERAS, printed_card
from tests.unit.live.phones import SAMPLES, START, Phone, begin_season, make_phone

if TYPE_CHECKING:
    from pathlib import Path

CLEAR, LADDERS = SAMPLES / "01_tap_water.jpg", SAMPLES / "ladders" / "2026-05-20_08h.jpg"

CARD = SceneOrder(
    name="plain", kind="round brain case", length_mm=145.0, light="window", camera=CAMERAS[0],
    seed=4, tilt_deg=10.0, azimuth_deg=70.0, grease=0.1, size_px=(960, 720),
)  # fmt: skip


def look(phone: Phone, content: bytes, measured_by: str = "stand") -> str:
    token = phone.token("/setup")
    phone.post("/setup/choice", {"measured_by": measured_by, "paper": "a4"}, token=token)
    photo = (BytesIO(content), "first.jpg")
    answer = phone.post("/setup/stand", {"photo": photo}, token=phone.token("/setup"))
    assert answer.status_code == 200, answer.text
    return unescape(answer.text.split("<main")[1])


def changed(folder: Path, share: float) -> bytes:
    """Return the clear-water photo so much smaller in its frame, as from farther away."""
    pixels = np.asarray(cv2.imread(str(CLEAR)), dtype=np.uint8)
    small = cv2.resize(pixels, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
    rows, columns = (pixels.shape[side] - small.shape[side] for side in (0, 1))
    framed = cv2.copyMakeBorder(small, rows // 2, rows - rows // 2, columns // 2,
                                columns - columns // 2, cv2.BORDER_REPLICATE)  # fmt: skip
    cv2.imwrite(str(folder / "far.jpg"), framed)
    return (folder / "far.jpg").read_bytes()


def test_a_stand_far_away_is_told_how_much_nearer(phone: Phone, tmp_path: Path) -> None:
    assert "It stands well" in look(phone, CLEAR.read_bytes())
    assert "mm nearer, or take more pixels" in look(phone, changed(tmp_path, 0.45))


def test_a_first_photo_of_ladders_is_looked_at_as_such(phone: Phone) -> None:
    assert "It is seen well" in look(phone, LADDERS.read_bytes(), "ladder")
    assert "No ladder is seen" in look(phone, CLEAR.read_bytes(), "ladder")


def test_a_first_photo_without_a_card_is_told(phone: Phone) -> None:
    assert "No card is seen" in look(phone, CLEAR.read_bytes(), "card")


def test_a_good_photo_of_a_card_is_seen_well_and_one_from_afar_is_told(tmp_path: Path) -> None:
    phone = make_phone(tmp_path, read=ReadSettings(values=printed_card().measured))
    begin_season(phone.settings.logbook, START)
    good = photograph(CARD).jpeg
    assert "It is seen well" in look(phone, good, "card")
    small = Image.open(BytesIO(good)).reduce(2)
    small.save(tmp_path / "far.jpg")
    told = look(phone, (tmp_path / "far.jpg").read_bytes(), "card")
    assert "The card is too small in the picture" in told
    assert "It is seen well" not in told


def test_who_measures_by_eye_has_no_first_photo(phone: Phone) -> None:
    for measured_by, asked in (("ladder", True), ("card", True), ("eye", False)):
        phone.post("/setup/choice", {"measured_by": measured_by}, token=phone.token("/setup"))
        assert ('id="stand-photo"' in phone.get("/setup").text) is asked
