"""The rendered photographs and their truth tables belong together and can be read."""

from __future__ import annotations

import csv
from datetime import datetime
from pathlib import Path

import pytest
from PIL import Image

from greasecheck.reference import data_folder
from greasecheck.reference.geometry import known_sheets
from greasecheck.reference.patches.values import nominal_values, read_patch_values
from sample_images import ladder_day, season_log

SAMPLES = data_folder("sample_images")
LADDERS = SAMPLES / "ladders"
WATERS = Path(__file__).parent / "water_renders"
HEADER_KEYS = {"title", "source", "author", "year", "doi", "licence", "units"}
VERDICTS = {"good", "doubtful", "refused"}
EXIF_IFD, DATE_TIME_ORIGINAL, OFFSET_TIME_ORIGINAL = 0x8769, 0x9003, 0x9011


def _header_and_rows(folder: Path) -> tuple[set[str], list[dict[str, str]]]:
    lines = (folder / "truth.csv").read_text(encoding="utf-8").splitlines()
    keys = {line[2:].split(": ")[0] for line in lines if line.startswith("# ")}
    return keys, list(csv.DictReader(line for line in lines if not line.startswith("# ")))


@pytest.mark.parametrize("folder", [SAMPLES, LADDERS, WATERS], ids=["samples", "ladders", "waters"])
class TestFolder:
    def test_the_table_names_its_origin(self, folder: Path) -> None:
        assert _header_and_rows(folder)[0] >= HEADER_KEYS

    def test_table_and_photographs_agree(self, folder: Path) -> None:
        files = {row["file"] for row in _header_and_rows(folder)[1]}
        assert files == {path.name for path in folder.glob("*.jpg")}

    def test_the_camera_wrote_the_time_of_the_table(self, folder: Path) -> None:
        for row in _header_and_rows(folder)[1]:
            with Image.open(folder / row["file"]) as photo:
                details = photo.getexif().get_ifd(EXIF_IFD)
            text = f"{details[DATE_TIME_ORIGINAL]} {details[OFFSET_TIME_ORIGINAL]}"
            taken_at = datetime.strptime(text, "%Y:%m:%d %H:%M:%S %z")
            assert taken_at == datetime.fromisoformat(row["taken_at"])


def test_samples_are_two_to_four_megapixels_and_under_eight_megabytes() -> None:
    paths = sorted(SAMPLES.glob("*.jpg"))
    assert sum(path.stat().st_size for path in paths) < 8e6
    for path in paths:
        with Image.open(path) as photo:
            assert 2e6 <= photo.width * photo.height <= 4e6


def test_the_day_of_ladders_is_small_and_its_table_what_the_story_says() -> None:
    assert sum(path.stat().st_size for path in LADDERS.glob("*.jpg")) < 1.5e6
    kept = _header_and_rows(LADDERS)[1]
    made = ladder_day.truth(season_log.simulate()).splitlines()
    story = list(csv.DictReader(line for line in made if not line.startswith("# ")))
    numbers = ("attenuation_r_per_m", "attenuation_b_per_m", "level_mm")
    for old, new in zip(kept, story, strict=True):
        assert (old["file"], old["tub"]) == (new["file"], new["tub"])
        # the last digit may turn on another computer
        assert [float(old[name]) for name in numbers] == pytest.approx(
            [float(new[name]) for name in numbers], abs=0.1
        )


def test_waters_are_small() -> None:
    assert max(path.stat().st_size for path in WATERS.glob("*.jpg")) < 250e3


def test_waters_span_the_range_and_hold_one_reference() -> None:
    rows = _header_and_rows(WATERS)[1]
    extinctions = {float(row["extinction_per_m"]) for row in rows}
    assert (min(extinctions), max(extinctions)) == (0.3, 150.0)
    assert [row["file"] for row in rows if row["role"] == "reference"] == ["reference.jpg"]


def test_the_season_has_every_verdict_it_should_teach() -> None:
    verdicts = [row["verdict"] for row in _header_and_rows(SAMPLES)[1]]
    assert set(verdicts) <= VERDICTS
    assert verdicts.count("good") >= 8
    assert verdicts.count("refused") >= 2


def test_yellowness_falls_and_patches_vanish_over_the_fox_of_tub_12() -> None:
    rows = [row for row in _header_and_rows(SAMPLES)[1] if row["tub"] == "12"]
    yellowness = [float(row["yi_e313"]) for row in rows]
    assert yellowness == sorted(yellowness, reverse=True)
    assert float(rows[-1]["yellow_patch_share"]) == 0.0


def test_the_measured_sheet_covers_every_patch_and_is_no_brighter_than_its_paper() -> None:
    sheet = known_sheets()[0]
    measured = read_patch_values(SAMPLES / "sheet_measured.cgats", sheet)
    assert measured.measured
    assert measured.names == nominal_values(sheet).names
    # 0.03 + 0.85 x linear light: paper 88 %, ink 3 % of the perfect diffuser
    assert measured.of("paper")[1] == pytest.approx(88.0, abs=0.05)
    assert measured.of("ink")[1] == pytest.approx(3.0, abs=0.05)
    assert measured.xyz[:, 1].max() == measured.of("paper")[1]
