"""A damaged photo file is refused in clear words or loaded; nothing else happens."""

from datetime import UTC
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from greasecheck.errors import PhotoError
from greasecheck.measure.photo.load import load_photo
from greasecheck.model import Photo
from tests.unit.measure.photo_files import (
    SRGB_CURVE,
    exif_with,
    gradient,
    icc_profile,
    write_photo,
)

EXIF = exif_with(
    Make="Acme", Orientation=6, DateTimeOriginal="2026:01:02 03:04:05", OffsetTimeOriginal="+01:00"
)


@cache
def sound_file(kind: str) -> bytes:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "photo"
        if kind == "HEIC":
            import pillow_heif  # noqa: PLC0415 - only this test needs its encoder

            picture = pillow_heif.from_pillow(Image.fromarray(gradient(64, 64)))
            picture.save(path, exif=EXIF.tobytes())
        else:
            profile = icc_profile(SRGB_CURVE)
            write_photo(path, gradient(), kind, exif=EXIF, icc_profile=profile)
        return path.read_bytes()


def load(content: bytes) -> Photo | None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "photo"
        path.write_bytes(content)
        try:
            return load_photo(path, UTC)
        except PhotoError:
            return None


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP", "HEIC"])
@settings(deadline=None, max_examples=40)
@given(
    changes=st.dictionaries(st.integers(0, 1200), st.integers(0, 255), min_size=1, max_size=5),
    kept=st.floats(0.5, 1.5).map(lambda share: min(share, 1.0)),
)
def test_damaged_files_are_refused_or_loaded(
    kind: str, changes: dict[int, int], kept: float
) -> None:
    content = bytearray(sound_file(kind))
    for place, value in changes.items():
        content[place % len(content)] = value
    photo = load(bytes(content[: int(len(content) * kept)]))
    if photo is not None:
        assert photo.pixels.ndim == 3
        assert photo.pixels.shape[2] == 3
        assert photo.taken_at.tzinfo is not None
        assert np.isfinite(photo.transfer).all()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP", "HEIC"])
def test_the_sound_file_is_loaded(kind: str) -> None:
    assert load(sound_file(kind)) is not None
