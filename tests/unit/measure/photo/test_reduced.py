"""Photos with pixels to spare are decoded reduced: the readings are the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
import pytest
from PIL import Image

from greasecheck.errors import PhotoError
from greasecheck.measure import reading as reading_module
from greasecheck.measure.photo.load import load_photo
from greasecheck.measure.reading import LEAST_SIDE_PX, ReadSettings, view_photo
from tests.benchmarks.reading_speed import twelve_megapixels

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return twelve_megapixels(tmp_path_factory.mktemp("large"))


def test_a_large_photo_is_read_from_half_its_pixels_alike(
    large: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    half = view_photo(large, ReadSettings())
    monkeypatch.setattr(reading_module, "LEAST_SIDE_PX", 10**6)
    whole = view_photo(large, ReadSettings())
    assert half.photo is not None
    assert whole.photo is not None
    assert (half.photo.reduced_by, whole.photo.reduced_by) == (2, 1)
    one, other = half.reading, whole.reading
    assert one.verdict == other.verdict
    assert one.tub == other.tub
    assert one.water is not None
    assert other.water is not None
    # A fifth of the stated error: a difference that small changes no decision.
    assert abs(one.water.main_per_m - other.water.main_per_m) < other.water.std_per_m / 5
    assert one.water.std_per_m == pytest.approx(other.water.std_per_m, rel=0.1)
    assert one.bone is not None
    assert other.bone is not None
    assert abs(one.bone.yi_e313 - other.bone.yi_e313) < other.bone.yi_std / 5


def test_a_small_sheet_in_a_large_photo_is_read_from_all_pixels(
    large: Path, tmp_path: Path
) -> None:
    seen = np.asarray(Image.open(large))[..., ::-1]
    wide = cv2.copyMakeBorder(seen, 0, 0, 1500, 1500, cv2.BORDER_CONSTANT, value=(70, 70, 70))
    file = tmp_path / "wide.jpg"
    cv2.imwrite(str(file), cv2.resize(wide, (4200, 1800), interpolation=cv2.INTER_AREA))
    view = view_photo(file, ReadSettings())
    assert view.photo is not None
    assert view.photo.reduced_by == 1
    assert view.placement is not None
    assert view.placement.pixels_per_mm > 4.5


@pytest.mark.parametrize(("width", "by"), [(1999, 1), (3999, 1), (4000, 2), (8001, 4)])
def test_a_photo_keeps_enough_pixels(tmp_path: Path, width: int, by: int) -> None:
    file = tmp_path / "stripes.jpg"
    Image.fromarray(np.full((101, width, 3), 90, dtype=np.uint8)).save(file)
    photo = load_photo(file, None, LEAST_SIDE_PX)
    assert photo.reduced_by == by
    assert photo.pixels.shape == (-(-101 // by), -(-width // by), 3)
    assert load_photo(file).pixels.shape == (101, width, 3)


def test_other_kinds_are_not_reduced(tmp_path: Path) -> None:
    file = tmp_path / "stripes.png"
    Image.fromarray(np.full((101, 4000, 3), 90, dtype=np.uint8)).save(file)
    assert load_photo(file, None, LEAST_SIDE_PX).pixels.shape == (101, 4000, 3)


def test_damage_is_refused_in_a_reduced_photo_too(tmp_path: Path) -> None:
    noise = np.random.default_rng(3).integers(0, 255, (300, 4000, 3)).astype(np.uint8)
    file = tmp_path / "damaged.jpg"
    Image.fromarray(noise).save(file)
    content = bytearray(file.read_bytes())
    content[len(content) // 2 : len(content) // 2 + 2000] = bytes(2000)
    file.write_bytes(content)
    with pytest.raises(PhotoError, match="damaged or cut short"):
        load_photo(file, None, LEAST_SIDE_PX)
