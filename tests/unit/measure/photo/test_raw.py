import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from greasecheck.measure.photo.load import load_photo
from tests.unit.measure.photo_files import refusal, write_dng


def gradient() -> NDArray[np.uint16]:
    light = np.empty((64, 96, 3), dtype=np.uint16)
    light[..., 0] = np.linspace(5000, 40000, 96)
    light[..., 1] = np.linspace(4000, 30000, 64)[:, np.newaxis]
    light[..., 2] = 9000
    return light


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
