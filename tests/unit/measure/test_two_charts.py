"""A photo that shows the sheet and the bone card gives a reading of each."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from PIL import Image

from greasecheck.measure import read_all
from greasecheck.model import ReadingKind, Verdict
from greasecheck.reference import data_folder
from tests.synthetic.bone_scene.scenes import SceneOrder, photograph
from tests.synthetic.spectral_simulation import CAMERAS

if TYPE_CHECKING:
    from pathlib import Path

SHEET = data_folder("sample_images") / "13_tub17_may.jpg"
# From straight above, so that its perspective is that of any place in a larger photo.
CARD = SceneOrder(
    name="hare", kind="round brain case", length_mm=145.0, light="window", camera=CAMERAS[0],
    seed=4, tilt_deg=0.0, azimuth_deg=70.0, grease=0.3, size_px=(720, 540),
)  # fmt: skip


def test_sheet_and_card_are_both_read(tmp_path: Path) -> None:
    sheet, card = Image.open(SHEET), Image.open(BytesIO(photograph(CARD).jpeg))
    both = Image.new("RGB", (sheet.width + card.width, sheet.height), (25, 25, 25))
    both.paste(sheet, (0, 0))
    both.paste(card, (sheet.width, 100))
    photo = tmp_path / "both.jpg"
    both.save(photo, quality=93, exif=sheet.getexif())
    jar, bone = read_all(photo)
    (alone,) = read_all(SHEET)
    assert (jar.kind, jar.tub, bone.kind) == (ReadingKind.JAR, 17, ReadingKind.BONE)
    assert jar.part != bone.part
    assert jar.photo_sha256 == bone.photo_sha256
    assert jar.water is not None
    assert alone.water is not None
    assert jar.water.main_per_m == pytest.approx(alone.water.main_per_m, rel=0.02)
    assert bone.bone is not None
    assert bone.verdict is Verdict.DOUBTFUL, "a second skull and no cloth lie about"
