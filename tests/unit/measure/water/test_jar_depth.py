"""The jar's depth by the bars behind clear water, against the depth that was said."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from PIL import Image
from PIL.ExifTags import IFD, Base

from greasecheck.errors import WaterError
from greasecheck.measure.checks.verdict import path_check
from greasecheck.measure.reading import ReadSettings
from greasecheck.measure.stand import view_clear_water
from greasecheck.measure.water.attenuation import Jar
from greasecheck.measure.water.jar_depth import PathByBars
from tests.benchmarks.degraded_photos import settings_for
from tests.synthetic.degraded.picture import SAMPLES

if TYPE_CHECKING:
    from greasecheck.measure.water.reference import ClearPhoto

CLEAR = SAMPLES / "01_tap_water.jpg"
FOCAL_35MM = 43.27 / 2 / 0.3615  # render.py: 35 degrees across 2048 of 2048 x 1152 px
WINDOW = Path(__file__).parents[3] / "synthetic" / "water_renders_window" / "reference.jpg"


def said(path_mm: float, photo: Path = CLEAR) -> ClearPhoto:
    settings = ReadSettings(values=settings_for(SAMPLES).values, jar=Jar(path_mm=path_mm))
    if photo != WINDOW:
        return view_clear_water(photo, settings)
    return view_clear_water(photo, replace(settings, values=None), tap_water=True)


WHOLE_PX = (0, 0, 2048, 1152)
AROUND_SHEET_PX = (40, 40, 1450, 1050)  # two thirds of the frame, of a shape that no camera makes


def with_focal(folder: Path, focal_mm: int, box_px: tuple[int, int, int, int] = WHOLE_PX) -> Path:
    path = folder / "focal.jpg"
    with Image.open(CLEAR) as photo:
        exif = photo.getexif()
        exif.get_ifd(IFD.Exif)[Base.FocalLengthIn35mmFilm] = focal_mm
        photo.crop(box_px).save(path, quality=97, exif=exif)
    return path


@pytest.mark.parametrize("photo", [CLEAR, WINDOW])
def test_the_right_depth_is_not_asked_about(photo: Path) -> None:
    assert said(60.0, photo).doubted_path_mm is None


@pytest.mark.parametrize("path_mm", [30.0, 120.0])
def test_another_depth_is_asked_about_where_the_distance_is_a_guess(path_mm: float) -> None:
    photo = said(path_mm)
    assert photo.doubted_path_mm == pytest.approx(60.0, rel=0.1)  # rendered from 700 mm
    assert "a jar about 6" in photo.doubts[0]


def test_another_depth_is_refused_where_the_photo_tells_the_distance(tmp_path: Path) -> None:
    told = with_focal(tmp_path, round(FOCAL_35MM))
    assert said(60.0, told).doubts == ()
    assert "about 6" in said(45.0, told).doubts[0]
    with pytest.raises(WaterError, match=r"a jar about 6. mm deep") as refused:
        said(30.0, told)
    assert "inner depth" in refused.value.hint


def test_the_focal_length_of_the_whole_frame_tells_nothing_of_a_cropped_photo(
    tmp_path: Path,
) -> None:
    cropped = with_focal(tmp_path, round(FOCAL_35MM), AROUND_SHEET_PX)
    assert said(60.0, cropped).doubts == ()
    assert "or the picture was cropped" in said(30.0, cropped).doubts[0]


@pytest.mark.parametrize(
    ("known", "path_mm", "passed", "hard"),
    [
        (True, 48.0, True, False),
        (True, 75.0, False, False),
        (True, 95.0, False, True),
        (False, 42.0, True, False),
        (False, 30.0, False, False),
        (False, 300.0, False, False),
    ],
)
def test_depth_is_judged_by_its_logarithm(
    known: bool, path_mm: float, passed: bool, hard: bool
) -> None:
    check = path_check(PathByBars(path_mm=58.0, distance_known=known), path_mm)
    assert (check.passed, check.hard, check.note) == (passed, hard, "58")
