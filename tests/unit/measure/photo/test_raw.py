import sys
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from greasecheck.measure.photo.load import load_photo
from tests.unit.measure.photo_files import refusal

TIFF_SHORT, TIFF_LONG, TIFF_BYTE, TIFF_TEXT = 3, 4, 1, 2
TIFF_RATIONAL, TIFF_SIGNED_RATIONAL = 5, 10
COLOR_FILTER_ARRAY = 32803  # TIFF/EP photometric interpretation, Adobe DNG specification 1.7
IDENTITY = tuple(value for place in range(9) for value in (int(place % 4 == 0), 1))


def gradient() -> NDArray[np.uint16]:
    light = np.empty((64, 96, 3), dtype=np.uint16)
    light[..., 0] = np.linspace(5000, 40000, 96)
    light[..., 1] = np.linspace(4000, 30000, 64)[:, np.newaxis]
    light[..., 2] = 9000
    return light


def write_dng(path: Path, light: NDArray[np.uint16]) -> Path:
    """Write light behind a mosaic of red, green, green and blue filters."""
    import tifffile  # noqa: PLC0415 - only these tests write raw files

    mosaic = light[..., 1].copy()
    mosaic[0::2, 0::2], mosaic[1::2, 1::2] = light[0::2, 0::2, 0], light[1::2, 1::2, 2]
    tags = (
        (50706, TIFF_BYTE, 4, (1, 4, 0, 0), True),  # DNGVersion
        (50708, TIFF_TEXT, 0, "Acme Snap", True),  # UniqueCameraModel
        (33421, TIFF_SHORT, 2, (2, 2), True),  # CFARepeatPatternDim
        (33422, TIFF_BYTE, 4, (0, 1, 1, 2), True),  # CFAPattern
        (50717, TIFF_LONG, 1, (65535,), True),  # WhiteLevel
        (50721, TIFF_SIGNED_RATIONAL, 9, IDENTITY, True),  # ColorMatrix1
        (50728, TIFF_RATIONAL, 3, (1, 1) * 3, True),  # AsShotNeutral
        (50778, TIFF_SHORT, 1, (21,), True),  # CalibrationIlluminant1: D65
        (271, TIFF_TEXT, 0, "Acme", True),
        (272, TIFF_TEXT, 0, "Snap", True),
    )
    buffer = BytesIO()
    with tifffile.TiffWriter(buffer) as file:
        file.write(mosaic, photometric=COLOR_FILTER_ARRAY, extratags=tags, metadata=None)
    path.write_bytes(buffer.getvalue())
    return path


def test_a_raw_file_is_proportional_to_light(tmp_path: Path) -> None:
    pytest.importorskip("rawpy")
    photo = load_photo(write_dng(tmp_path / "a.dng", gradient()), UTC)
    inside = np.s_[4:-4, 4:-4]
    np.testing.assert_allclose(photo.pixels[inside], gradient()[inside], rtol=0.02)
    np.testing.assert_allclose(photo.transfer[:, 0], np.linspace(0, 1, len(photo.transfer)))
    assert photo.pixels.dtype == np.uint16
    assert photo.camera == "Acme Snap"
    assert photo.taken_at.tzinfo is not None
    assert photo.taken_at > datetime(2025, 1, 1, tzinfo=UTC)


def test_a_garbled_raw_file_is_refused(tmp_path: Path) -> None:
    pytest.importorskip("rawpy")
    path = write_dng(tmp_path / "a.dng", gradient())
    path.write_bytes(path.read_bytes()[:-200])
    assert "raw file" in refusal(path).problem


def test_without_the_library_the_hint_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "rawpy", None)
    refused = refusal(write_dng(tmp_path / "a.dng", gradient()))
    assert "raw file" in refused.problem
    assert "greasecheck[raw]" in refused.hint
