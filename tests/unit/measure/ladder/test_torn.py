"""Pictures whose lower part is displaced or lost: what shows there is no water."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np
import pytest
from PIL import Image, ImageFilter

from greasecheck.measure import read_all
from greasecheck.measure.ladder.find import find_ladders
from greasecheck.measure.photo.load import load_photo
from greasecheck.measure.sheet.markers import grey_copy_of
from greasecheck.model import Verdict
from tests.synthetic.ladder_light.compose import Shooting, Spoil
from tests.synthetic.ladder_light.photos import named, write_photo

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from greasecheck.model import Reading
    from tests.synthetic.ladder_light.photos import PlannedPhoto

LADDERS = Path(__file__).parents[4] / "sample_images" / "ladders"
AT = datetime(2026, 3, 4, 18, 5, tzinfo=UTC)
(CLEAR,) = named("single037")  # 1.3 per m, the water at 91 mm of the plate
(BRIM,) = named("single025")  # 1.2 per m, the water at 95 mm, where the stripes begin


@dataclass(frozen=True, slots=True)
class Taken:
    """A photo of one ladder in clear water, and where its parts above the water are seen."""

    pixels: NDArray[np.uint8]
    exif: Image.Exif
    homography: NDArray[np.float64]

    def seen(self, x_mm: float, y_mm: float) -> tuple[int, int]:
        """Return the column and the row of the picture in which a place on the plate is seen."""
        (place,) = cv2.perspectiveTransform(np.array([[[x_mm, y_mm]]]), self.homography)
        return int(place[0, 0]), int(place[0, 1])

    def row(self, y_mm: float) -> int:
        """Return the row in which the middle of the plate is seen so far down."""
        return self.seen(100.0, y_mm)[1]


def take(folder: Path, planned: PlannedPhoto) -> Taken:
    path = write_photo(folder / "sound.jpg", planned, Shooting(), at=AT)
    photo = load_photo(path)
    (ladder,) = find_ladders(photo, grey_copy_of(photo))
    with Image.open(path) as picture:
        return Taken(np.asarray(picture), picture.getexif(), ladder.homography)


@pytest.fixture(scope="module")
def taken(tmp_path_factory: pytest.TempPathFactory) -> Taken:
    return take(tmp_path_factory.mktemp("ladder"), CLEAR)


def read(folder: Path, taken: Taken, pixels: NDArray[np.uint8]) -> Reading:
    Image.fromarray(pixels).save(folder / "torn.jpg", quality=93, exif=taken.exif)
    (found,) = read_all(folder / "torn.jpg")
    return found


def failed(found: Reading) -> set[str]:
    return {check.name for check in found.checks if not check.passed}


def lowered(pixels: NDArray[np.uint8], row: int, by_px: int) -> NDArray[np.uint8]:
    """Return the picture with all from a row on moved down, or up over rows that are lost."""
    rows = np.arange(len(pixels))
    moved = np.where(rows < row, rows, np.clip(rows - by_px, 0, len(pixels) - 1))
    return pixels[moved]


def test_the_photo_is_sound(tmp_path: Path, taken: Taken) -> None:
    found = read(tmp_path, taken, taken.pixels)
    assert found.verdict is Verdict.GOOD
    assert found.water is not None
    assert abs(found.water.main_per_m - CLEAR.hazes_per_m[0]) < 3 * found.water.std_per_m


@pytest.mark.parametrize("by_px", [6, 14])
def test_stripes_lower_than_any_water_lets_them_appear_are_not_read(
    tmp_path: Path, taken: Taken, by_px: int
) -> None:
    found = read(tmp_path, taken, lowered(taken.pixels, taken.row(84.0), by_px))
    assert found.verdict is Verdict.REFUSED, (found.water, found.ladder)


@pytest.mark.parametrize(("y_mm", "by_px"), [(84.0, 3), (84.0, 5), (84.0, -8), (93.0, 4)])
def test_marks_moved_against_the_surface_are_no_good_reading(
    tmp_path: Path, taken: Taken, y_mm: float, by_px: int
) -> None:
    found = read(tmp_path, taken, lowered(taken.pixels, taken.row(y_mm), by_px))
    assert "surface_apart_mm" in failed(found)


def test_a_sharpened_photo_of_low_quality_is_not_torn(tmp_path: Path) -> None:
    sharp = ImageFilter.UnsharpMask(radius=2, percent=120, threshold=0)
    with Image.open(LADDERS / "2026-05-24_18h.jpg") as sound:  # 1.4 px per mm
        sound.filter(sharp).save(tmp_path / "a.jpg", quality=60, exif=sound.getexif())
    found = read_all(tmp_path / "a.jpg")
    assert len(found) == 3
    assert not any("surface_apart_mm" in failed(one) for one in found)


def test_stripes_beside_their_place_are_no_good_reading(tmp_path: Path, taken: Taken) -> None:
    period_px = taken.seen(106.0, 90.0)[0] - taken.seen(100.0, 90.0)[0]  # of stripes of 3 mm
    torn = taken.pixels.copy()
    torn[taken.row(84.0) :] = np.roll(torn[taken.row(84.0) :], period_px, axis=1)
    assert "coarse_aside_mm" in failed(read(tmp_path, taken, torn))


def test_a_bright_tub_whose_black_looks_the_same_in_water_is_sound(tmp_path: Path) -> None:
    (bright,) = named("single095")
    (found,) = read_all(write_photo(tmp_path / "a.jpg", bright, Shooting(), at=AT))
    assert found.verdict is Verdict.GOOD, failed(found)


def test_a_ring_of_fat_above_the_water_is_no_torn_picture(tmp_path: Path) -> None:
    def ring(reflectance: np.ndarray, _x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.where(np.abs(y - 81.0) < 1.0, 0.2, reflectance)

    path = tmp_path / "ring.jpg"
    write_photo(path, CLEAR, Shooting(), at=AT, spoils=[Spoil(plate=ring)])
    (found,) = read_all(path)
    assert "surface_apart_mm" not in failed(found)


def test_stripes_that_end_at_once_are_not_murk(tmp_path: Path) -> None:
    brim = take(tmp_path, BRIM)
    grey = brim.pixels.copy()
    grey[brim.row(99.0) :] = 128
    found = read(tmp_path, brim, grey)
    assert "contrast_step" in failed(found)
