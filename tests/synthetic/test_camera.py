"""The camera that takes all rendered scenes does what its options say."""

from __future__ import annotations

from datetime import UTC, datetime
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from greasecheck.reference.srgb import linear_of_srgb
from tests.synthetic.camera import EXIF_IFD, EXIF_TIME, Camera, expose, jpeg, metered

HALVES = np.repeat(np.array([0.1, 0.4], np.float32), 400)[None, :, None] * np.ones((300, 1, 3))


def taken(
    camera: Camera, exposure: float = 1.0
) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Return the light that codes stand for, of a darker half beside a brighter one."""
    return linear_of_srgb(expose(HALVES.astype(np.float32), camera, exposure, 1) / 255)


def test_noise_is_that_of_photons_and_dark() -> None:
    seen = taken(Camera(noise=0.05, dark_noise=0.01))
    expected = np.sqrt(0.05**2 * np.array([0.1, 0.4]) + 0.01**2)
    found = seen[:, 50:350].std(), seen[:, 450:750].std()
    assert found == pytest.approx(expected, rel=0.03)


def test_local_mapping_takes_its_share_of_wide_contrast() -> None:
    seen = taken(Camera(noise=0.0, dark_noise=0.0, local=0.3, base_px=20.0))
    ratio = seen[:, 700:].mean() / seen[:, :100].mean()
    assert np.log(ratio) == pytest.approx(0.7 * np.log(4), rel=0.02)


def test_corners_lose_what_vignetting_takes() -> None:
    seen = taken(Camera(noise=0.0, dark_noise=0.0, vignetting=0.2))
    assert seen[0, 0, 1] / seen[150, 380, 1] == pytest.approx(0.8, rel=0.02)


def test_metering_puts_the_bright_half_where_it_is_wanted() -> None:
    camera = Camera(noise=0.0, dark_noise=0.0)
    exposure = metered(HALVES.astype(np.float32), camera, 90, 0.72)
    assert taken(camera, exposure)[:, 700:].mean() == pytest.approx(0.72, rel=0.01)


@pytest.mark.parametrize("name", ["", "plain"])
def test_a_file_tells_its_time_and_no_camera_without_a_name(name: str) -> None:
    at = datetime(2026, 3, 4, 18, 5, tzinfo=UTC)
    file = jpeg(np.zeros((8, 8, 3), np.uint8), Camera(name=name), at)
    exif = Image.open(BytesIO(file)).getexif()
    assert exif.get_ifd(EXIF_IFD)[EXIF_TIME] == "2026:03:04 18:05:00"
    assert exif.get(0x0110) == (name or None)
