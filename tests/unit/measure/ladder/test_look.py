from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image, ImageFilter

from greasecheck.measure import read_all
from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.model import ReadingKind, Verdict
from tests.synthetic.ladder_light.compose import Shooting, Spoil
from tests.synthetic.ladder_light.photos import named, write_photo

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.model import Reading
    from tests.synthetic.ladder_light.photos import PlannedPhoto

AT = datetime(2026, 3, 4, 18, 5, tzinfo=UTC)
SINGLE = next(
    photo
    for photo in named("single")
    if len(photo.plan.ladders) == 1
    and 10 < photo.hazes_per_m[0] < 40
    and photo.plan.ladders[0].tub.view_deg < 45
    and np.linalg.norm(photo.plan.eye_mm) < 700
)
SIX = next(photo for photo in named("single") if len(photo.plan.ladders) == 3)


def read(folder: Path, photo: PlannedPhoto, **changes: object) -> tuple[Reading, ...]:
    path = write_photo(folder / "ladder.jpg", photo, Shooting(), at=AT, **changes)  # type: ignore[arg-type]
    return read_all(path)


@pytest.fixture(scope="module")
def single(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Draw one ladder, of tub 12."""
    return write_photo(tmp_path_factory.mktemp("ladder") / "ladder.jpg", SINGLE, Shooting(), at=AT)


@pytest.fixture(scope="module")
def reading(single: Path) -> Reading:
    (found,) = read_all(single)
    return found


def test_a_ladder_alone_is_read_without_a_sheet(reading: Reading) -> None:
    assert (reading.kind, reading.tub, reading.part) == (ReadingKind.LADDER, 12, "ladder-12")
    assert reading.verdict is Verdict.GOOD, reading.checks
    assert reading.taken_at == AT
    assert reading.key == f"{reading.photo_sha256}:ladder-12"


def test_its_haze_and_level_lie_within_the_stated_errors(reading: Reading) -> None:
    water, ladder, shot = reading.water, reading.ladder, SINGLE.plan.ladders[0]
    assert water is not None
    assert ladder is not None
    assert abs(water.main_per_m - SINGLE.hazes_per_m[0]) < 3 * water.std_per_m
    assert water.std_per_m < 0.2 * water.main_per_m
    assert abs(ladder.level_mm - (271 - shot.level_mm)) < 3 * ladder.level_std_mm
    assert ladder.view_deg == pytest.approx(shot.tub.view_deg, abs=4)


def test_several_ladders_are_several_readings(tmp_path: Path) -> None:
    found = read(tmp_path, SIX)
    assert sorted(one.tub or 0 for one in found) == [12, 13, 14]
    assert len({one.key for one in found}) == 3
    for one in found:
        truth = SIX.hazes_per_m[(one.tub or 0) - 12]
        if one.verdict is Verdict.GOOD and one.water is not None and one.water.bound is None:
            assert abs(one.water.main_per_m - truth) < 3 * one.water.std_per_m


def test_ladders_seen_from_the_side_are_read_as_well(tmp_path: Path) -> None:
    (wide,) = named("single057")
    found = read(tmp_path, wide)
    aside = [next(c for c in one.checks if c.name == "view_from_the_side_deg") for one in found]
    assert max(check.value or 0 for check in aside) > 25
    for one in found:
        assert not failed((one,)) & {"view_from_the_side_deg", "black_shift"}
        assert one.water is not None
        truth = wide.hazes_per_m[(one.tub or 0) - 12]
        assert abs(one.water.main_per_m - truth) < 3 * one.water.std_per_m


def test_two_ladders_with_one_tag_are_refused(tmp_path: Path) -> None:
    found = read(tmp_path, SIX, tubs=[12, 12, 14])
    verdicts = {one.part: one.verdict for one in found}
    assert verdicts["ladder-12"] is verdicts["ladder-12-2"] is Verdict.REFUSED
    assert verdicts["ladder-14"] is not Verdict.REFUSED


def test_a_tub_named_by_hand_goes_before_the_tag(single: Path) -> None:
    view = view_photo(single, ReadSettings(tub=77))
    assert view.reading.tub == 77


def failed(found: tuple[Reading, ...]) -> set[str]:
    return {check.name for one in found for check in one.checks if not check.passed}


def test_foam_is_no_good_reading(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    blobs = rng.uniform((-50, 0), (50, 90), (40, 2))

    def foam(light: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        inside = np.zeros(x.shape, dtype=bool)
        for bx, by in blobs:
            inside |= (x - bx) ** 2 + (y - by) ** 2 < 64
        return np.where(inside[:, :, None], 0.8, light)

    found = read(tmp_path, SINGLE, spoils=[Spoil(over=foam)])
    assert "waterline_seen" in failed(found)
    assert all(one.verdict is not Verdict.GOOD for one in found)


def test_waves_are_no_good_reading(tmp_path: Path) -> None:
    def waves(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return 0.08 * np.sin(x / 6), 0.1 * np.sin(y / 7 + x / 20)

    found = read(tmp_path, SINGLE, spoils=[Spoil(slope=waves)])
    assert "marks_misfit_mm" in failed(found)
    assert all(one.verdict is not Verdict.GOOD for one in found)


def test_a_fouled_ladder_asks_to_be_wiped(tmp_path: Path) -> None:
    def film(light: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 0.6 * light + 0.2

    found = read(tmp_path, SINGLE, spoils=[Spoil(over=film)])
    assert "first_bars_contrast" in failed(found)


def test_the_edge_of_a_shadow_is_no_good_reading(tmp_path: Path) -> None:
    def plate(reflectance: np.ndarray, _x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.where(y > 125, 0.5 * reflectance, reflectance)

    found = read(tmp_path, SINGLE, spoils=[Spoil(plate=plate)])
    assert "contrast_step" in failed(found)


def test_a_dark_photo_is_no_good_reading(tmp_path: Path) -> None:
    shooting = replace(Shooting(), exposure=0.02, noise=0.03)
    path = write_photo(tmp_path / "dark.jpg", SINGLE, shooting, at=AT)
    found = read_all(path)
    assert "dry_white_light" in failed(found)
    assert all(one.verdict is not Verdict.GOOD for one in found)


def test_a_picture_without_colour_is_refused(single: Path, tmp_path: Path) -> None:
    grey = tmp_path / "grey.jpg"
    with Image.open(single) as picture:
        picture.convert("L").convert("RGB").save(grey, quality=90, exif=picture.getexif())
    (found,) = read_all(grey)
    assert found.verdict is Verdict.REFUSED
    assert failed((found,)) == {"colourless_share"}


def test_smeared_colours_are_no_good_reading(single: Path, tmp_path: Path) -> None:
    smeared = tmp_path / "smeared.jpg"
    with Image.open(single) as picture:
        light, *colours = picture.convert("YCbCr").split()
        soft = [colour.filter(ImageFilter.GaussianBlur(16)) for colour in colours]
        whole = Image.merge("YCbCr", [light, *soft]).convert("RGB")
        whole.save(smeared, quality=90, exif=picture.getexif())
    (found,) = read_all(smeared)
    assert found.verdict is Verdict.DOUBTFUL
    assert "colour_detail" in failed((found,))


@pytest.mark.parametrize("middle_mm", [82.0, 123.0])
def test_a_bone_before_one_field_is_no_good_reading(tmp_path: Path, middle_mm: float) -> None:
    def plate(reflectance: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.where((np.abs(x - middle_mm) < 20) & (y > 115), 0.65, reflectance)

    found = read(tmp_path, SINGLE, spoils=[Spoil(plate=plate)])
    assert "fields_step" in failed(found)


def test_tones_mapped_by_their_surroundings_are_told(tmp_path: Path) -> None:
    for local, told in ((0.0, False), (0.35, True)):
        shooting = replace(Shooting(), local=local)
        path = write_photo(tmp_path / "mapped.jpg", SINGLE, shooting, at=AT)
        assert ("black_shift" in failed(read_all(path))) is told


def test_a_ladder_half_hidden_is_told_with_its_tub(tmp_path: Path) -> None:
    def hidden(reflectance: np.ndarray, _x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.where(y < 24, 0.4, reflectance)

    (found,) = read(tmp_path, SINGLE, spoils=[Spoil(plate=hidden)])
    assert found.verdict is Verdict.REFUSED
    assert failed((found,)) == {"ladder_markers"}
    assert found.tub == 12
