"""How far a photo is reduced, which pixels count as transparent, which way up a raw file is."""

from __future__ import annotations

from contextlib import nullcontext
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest
from PIL import Image

from greasecheck.errors import PhotoError
from greasecheck.measure.photo import raw
from greasecheck.measure.photo.decode import _without_alpha, reduction
from greasecheck.measure.photo.file import distinct_files
from greasecheck.measure.photo.load import load_photo
from tests.unit.measure.photo_files import gradient

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.measure.photo.header import Header


@pytest.mark.parametrize(
    ("least_px", "by"),
    [(None, 1), (4001, 1), (2001, 1), (2000, 2), (1000, 4), (501, 4), (500, 8), (10, 8)],
)
@pytest.mark.parametrize("size_px", [(4000, 3000), (3000, 4000)])
def test_the_longest_side_keeps_the_pixels_that_are_asked_for(
    size_px: tuple[int, int], least_px: int | None, by: int
) -> None:
    header = SimpleNamespace(is_jpeg=True, width_px=size_px[0], height_px=size_px[1])
    assert reduction(cast("Header", header), least_px) == by
    header.is_jpeg = False
    assert reduction(cast("Header", header), least_px) == 1


@pytest.mark.parametrize(("kind", "opaque"), [(np.uint8, 255), (np.uint16, 65_535)])
def test_one_pixel_that_is_not_quite_opaque_is_refused(
    kind: type[np.uint8 | np.uint16], opaque: int
) -> None:
    pixels = np.full((4, 5, 4), opaque, dtype=kind)
    pixels[..., :3] = np.arange(3)
    assert _without_alpha("a.png", pixels)[2, 3].tolist() == [0, 1, 2]
    pixels[2, 3, 3] = opaque - 1
    with pytest.raises(PhotoError, match="transparent"):
        _without_alpha("a.png", pixels)


def test_a_colour_that_stands_for_transparent_is_refused_where_it_is_seen(tmp_path: Path) -> None:
    pixels = np.maximum(gradient(), 1)
    path = tmp_path / "a.png"
    Image.fromarray(pixels).save(path, transparency=(0, 0, 0))
    assert load_photo(path).pixels.shape == pixels.shape
    pixels[3, 4] = 0
    Image.fromarray(pixels).save(path, transparency=(0, 0, 0))
    with pytest.raises(PhotoError, match="transparent"):
        load_photo(path)


@pytest.mark.parametrize(
    ("flip", "size_px"),
    [(0, (6000, 4000)), (3, (6000, 4000)), (5, (4000, 6000)), (6, (4000, 6000))],
)
def test_a_raw_file_taken_on_its_side_is_as_wide_as_it_was_high(
    monkeypatch: pytest.MonkeyPatch, flip: int, size_px: tuple[int, int]
) -> None:
    """LibRaw's flip: 0 none, 3 half a turn, 5 and 6 a quarter to either side."""
    sizes = SimpleNamespace(width=6000, height=4000, flip=flip)
    opened = nullcontext(SimpleNamespace(sizes=sizes))
    library = SimpleNamespace(imread=lambda _: opened, LibRawError=OSError)
    monkeypatch.setattr(raw, "_rawpy", lambda _: library)
    assert raw.raw_size_px("a.dng", b"") == size_px


def test_of_files_of_the_same_bytes_the_first_is_kept(tmp_path: Path) -> None:
    paths = [tmp_path / name for name in ("one.jpg", "copy.jpg", "two.jpg")]
    for path, content in zip(paths, (b"a", b"a", b"b"), strict=True):
        path.write_bytes(content)
    assert distinct_files(paths) == (paths[0], paths[2])
    assert distinct_files(paths[::-1]) == (paths[2], paths[1])
