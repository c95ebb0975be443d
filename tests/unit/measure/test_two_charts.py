"""A photo that shows the sheet and the bone card gives a reading of each."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from greasecheck.errors import PhotoError
from greasecheck.measure import read_all, reading
from greasecheck.measure.reading import PhotoView, ReadSettings, refused_reading
from greasecheck.measure.sheet.charts import Chart, SeenCharts
from greasecheck.model import ReadingKind, Verdict
from greasecheck.reference import data_folder
from tests.synthetic.bone_scene.scenes import SceneOrder, photograph
from tests.synthetic.spectral_simulation import CAMERAS

SHEET = data_folder("sample_images") / "13_tub17_may.jpg"
# From straight above, so that its perspective is that of any place in a larger photo.
CARD = SceneOrder(
    name="hare", kind="round brain case", length_mm=145.0, light="window", camera=CAMERAS[0],
    seed=4, tilt_deg=0.0, azimuth_deg=70.0, grease=0.3, size_px=(720, 540),
)  # fmt: skip


def test_all_ladders_beside_a_sheet_are_read(monkeypatch: pytest.MonkeyPatch) -> None:
    sheet, one, two, three = (
        refused_reading(Path(name), name, PhotoError("none", hint="none"))
        for name in ("sheet", "one", "two", "three")
    )
    seen = SeenCharts(kinds=frozenset({Chart.SHEET, Chart.LADDER}))
    monkeypatch.setattr(reading, "load_photo", lambda *_: None)
    monkeypatch.setattr(reading, "seen_charts", lambda _: seen)
    monkeypatch.setattr(reading, "_view_charts", lambda *_: PhotoView(reading=sheet))
    for others in ((), (two,), (two, three)):
        ladders = PhotoView(reading=one, others=others)
        monkeypatch.setattr(reading, "_ladders_alone", lambda *_, found=ladders: found)
        view = reading.view_photo(Path("photo.jpg"), ReadSettings())
        assert view.readings == (sheet, one, *others)


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
