"""Damage that no decoder reports is seen in the pixels; sound photos show none."""

from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from greasecheck.measure.photo.damage import has_garbage, has_level_jump, has_lost_block
from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.model import Verdict
from greasecheck.reference import data_folder

SAMPLES = sorted(data_folder("sample_images").glob("*.jpg"))
UNIT_PX = 16


def sample(place: int = 1) -> NDArray[np.uint8]:
    return np.asarray(Image.open(SAMPLES[place]))


def with_jump(pixels: NDArray[np.uint8], row: int, unit: int, levels: int) -> NDArray[np.uint8]:
    """Shift all units from one on in the order of a JPEG's scan."""
    shifted = pixels.astype(np.int16)
    shifted[row * UNIT_PX : (row + 1) * UNIT_PX, unit * UNIT_PX :] += levels
    shifted[(row + 1) * UNIT_PX :] += levels
    return np.clip(shifted, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("place", range(len(SAMPLES)))
def test_sound_photos_have_neither_jump_nor_garbage(place: int) -> None:
    pixels = sample(place)
    assert not has_level_jump(pixels, UNIT_PX, UNIT_PX)
    assert not has_garbage(pixels)


@pytest.mark.parametrize("levels", [-8, 8])
@pytest.mark.parametrize(("row", "unit"), [(5, 12), (20, 60), (60, 100)])
def test_a_jump_that_stays_is_seen(row: int, unit: int, levels: int) -> None:
    assert has_level_jump(with_jump(sample(), row, unit, levels), UNIT_PX, UNIT_PX)


def test_a_jump_of_one_colour_difference_is_seen() -> None:
    pixels = sample()
    jumped = with_jump(pixels, 30, 40, 3)
    jumped[..., 1] = pixels[..., 1]
    assert has_level_jump(jumped, UNIT_PX, UNIT_PX)


@pytest.mark.parametrize("tilt_px", [0, 3, 30])
def test_the_edge_of_a_shelf_is_no_jump(tilt_px: int) -> None:
    pixels = sample().copy()
    height, width, _ = pixels.shape
    edge = height // 2 // UNIT_PX * UNIT_PX - 1 + np.linspace(0, tilt_px, width)
    below = np.arange(height)[:, np.newaxis] > edge
    pixels[below] //= 2
    assert not has_level_jump(pixels, UNIT_PX, UNIT_PX)


def test_pictures_too_small_to_tell_have_no_jump() -> None:
    assert not has_level_jump(np.zeros((20, 20, 3), dtype=np.uint8), UNIT_PX, UNIT_PX)


def test_what_a_lost_decoder_makes_up_is_seen() -> None:
    pixels = sample().copy()
    pixels[300:332, 500:532] = np.random.default_rng(1).integers(0, 256, (32, 32, 3))
    assert has_garbage(pixels)


def test_patches_of_strong_colours_side_by_side_are_no_garbage() -> None:
    pixels = np.full((640, 640, 3), 90, dtype=np.uint8)
    pixels[:320, :320], pixels[:320, 330:] = (220, 30, 30), (30, 200, 30)
    buffer = BytesIO()
    Image.fromarray(pixels).save(buffer, "JPEG", quality=80)
    assert not has_garbage(np.asarray(Image.open(buffer)))


def test_a_row_of_zeros_is_seen_as_lost_but_a_black_thing_is_not() -> None:
    pixels = sample().copy()
    assert not has_lost_block(pixels)
    pixels[400:700, 300:900] = 0
    assert not has_lost_block(pixels)
    pixels[200, 300:600] = 0
    assert has_lost_block(pixels)


def test_a_photo_that_looks_damaged_is_doubtful_with_words(tmp_path: Path) -> None:
    file = tmp_path / "jumped.jpg"
    jumped = Image.fromarray(with_jump(sample(), 20, 60, 8))
    with Image.open(SAMPLES[1]) as taken:
        jumped.save(file, quality=95, exif=taken.getexif())
    reading = view_photo(file, ReadSettings()).reading
    (check,) = [check for check in reading.checks if check.name == "pixels_sound"]
    assert not check.passed
    assert "looks damaged" in check.advice
    assert reading.verdict is Verdict.DOUBTFUL
