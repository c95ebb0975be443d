"""Photo files that cannot be measured are refused, each with its reason and what to do."""

import io
import os
import zlib
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from greasecheck.measure.photo import header as photo_header
from greasecheck.measure.photo import load as photo_module
from tests.unit.measure.photo_files import (
    SRGB_CURVE,
    exif_with,
    gradient,
    heic,
    icc_profile,
    refusal,
    write_deep,
    write_photo,
)


@pytest.mark.parametrize(
    ("mode", "kind", "problem"),
    [
        ("L", "JPEG", "no colour"),
        ("L", "PNG", "no colour"),
        ("LA", "PNG", "no colour"),
        ("I;16", "PNG", "no colour"),
        ("F", "TIFF", "no colour"),
        ("P", "PNG", "palette"),
        ("1", "PNG", "only black and white"),
        ("CMYK", "JPEG", "inks for printing"),
        ("CMYK", "TIFF", "inks for printing"),
    ],
)
def test_pictures_without_plain_colour_are_refused(
    tmp_path: Path, mode: str, kind: str, problem: str
) -> None:
    picture = Image.fromarray(gradient())
    converted = (
        picture.convert("L").convert(mode) if mode in ("I;16", "F") else picture.convert(mode)
    )
    path = tmp_path / "a"
    converted.save(path, kind)
    error = refusal(path)
    assert problem in error.problem
    assert "sRGB" in error.hint


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP"])
@pytest.mark.parametrize("kept", [0.999, 0.9, 0.5, 0.1])
def test_files_cut_short_are_refused(tmp_path: Path, kind: str, kept: float) -> None:
    noise = np.random.default_rng(1).integers(0, 256, (120, 160, 3), dtype=np.uint8)
    path = write_photo(tmp_path / "a", noise, kind, exif=exif_with(Model="x"))
    content = path.read_bytes()
    path.write_bytes(content[: int(len(content) * kept)])
    assert "again" in refusal(path).hint


def test_a_jpeg_whose_end_was_never_written_is_refused(tmp_path: Path) -> None:
    path = write_photo(tmp_path / "a.jpg", gradient(300, 400), exif=exif_with(Model="x"))
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2] + bytes(len(content) // 2))
    assert "cut short" in refusal(path).problem


def test_heic_cut_short_is_refused(tmp_path: Path) -> None:
    path = heic(tmp_path / "a.heic", gradient(200, 200))
    path.write_bytes(path.read_bytes()[:-40])
    assert "again" in refusal(path).hint


@pytest.mark.parametrize("at", [b"IDAT", b"iCCP", b"IHDR"])
def test_a_png_whose_checksum_fails_is_refused(tmp_path: Path, at: bytes) -> None:
    path = write_photo(tmp_path / "a.png", gradient(), "PNG", icc_profile=icc_profile(SRGB_CURVE))
    content = bytearray(path.read_bytes())
    content[content.index(at) + 12] ^= 0x01
    path.write_bytes(bytes(content))
    assert "again" in refusal(path).hint


@pytest.mark.parametrize("compression", ["tiff_lzw", "tiff_adobe_deflate"])
def test_damaged_pixels_of_a_tiff_are_refused(tmp_path: Path, compression: str) -> None:
    path = write_photo(tmp_path / "a.tif", gradient(300, 400), "TIFF", compression=compression)
    content = bytearray(path.read_bytes())
    content[200:208] = bytes(8)
    path.write_bytes(bytes(content))
    assert "pixels are damaged" in refusal(path).problem


def test_a_tiff_that_holds_a_jpeg_is_refused(tmp_path: Path) -> None:
    path = write_photo(tmp_path / "a.tif", gradient(), "TIFF", compression="jpeg")
    assert "holds a JPEG" in refusal(path).problem


def test_what_a_jpeg_decoder_doubts_is_refused_silently(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    path = write_photo(tmp_path / "a.jpg", gradient(300, 400))
    content = path.read_bytes()
    path.write_bytes(content[:-2] + bytes(20) + content[-2:])
    assert "pixels are damaged" in refusal(path).problem
    assert capfd.readouterr().err == ""


def test_a_jpeg_of_endless_scans_is_refused(tmp_path: Path) -> None:
    path = write_photo(tmp_path / "a.jpg", gradient(), progressive=True)
    content = path.read_bytes()
    scan = content[content.rindex(b"\xff\xda") : -2]
    path.write_bytes(content[:-2] + scan * 50 + content[-2:])
    assert "for ever" in refusal(path).problem


def test_a_decoder_that_gives_up_is_reported(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def give_up(*_: object) -> None:
        raise cv2.error("too large")

    monkeypatch.setattr(cv2, "imdecode", give_up)
    path = write_deep(tmp_path / "a.png", gradient(dtype=np.uint16))
    assert "pixels are damaged" in refusal(path).problem


@pytest.mark.parametrize(
    ("content", "problem"),
    [
        (b"", "is empty"),
        (b"not a picture", "not a picture"),
        (b"GIF89a" + bytes(100), "not a picture"),
        (b"\xff\xd8\xff", "header is damaged"),
        (b"\0\0\0\x18ftypheic" + bytes(30), "damaged"),
        (b"%PDF-1.4 and so on", "not a picture"),
    ],
)
def test_other_files_are_refused(tmp_path: Path, content: bytes, problem: str) -> None:
    path = tmp_path / "a.jpg"
    path.write_bytes(content)
    assert problem in refusal(path).problem


def test_what_is_not_a_file_is_refused_without_opening_it(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)  # opening it would wait for ever
    assert "not a file" in refusal(pipe).problem
    assert "not a file" in refusal(tmp_path).problem
    assert "No such file" in refusal(tmp_path / "none.jpg").problem


def test_a_huge_file_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    with path.open("wb") as file:
        file.truncate(10**10)  # sparse: takes no space
    assert "larger than 400 MB" in refusal(path).problem


@pytest.mark.parametrize("side", [12_000, 60_000])
def test_decompression_bombs_are_refused_by_their_header(
    tmp_path: Path, side: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "bomb.png"
    path.write_bytes(png_of_one_colour(side))
    monkeypatch.setattr(photo_module, "decode", lambda *_: pytest.fail("decoded a bomb"))
    assert "more than 120 million pixels" in refusal(path).problem


def png_of_one_colour(side: int) -> bytes:
    """A header that claims side x side pixels, with hardly any data behind it."""
    buffer = io.BytesIO()
    Image.new("RGB", (1, 1)).save(buffer, "PNG")
    content = bytearray(buffer.getvalue())
    content[16:24] = side.to_bytes(4, "big") * 2
    content[29:33] = zlib.crc32(content[12:29]).to_bytes(4, "big")
    return bytes(content)


@pytest.mark.parametrize("kind", ["TIFF", "PNG", "WEBP"])
def test_several_pictures_in_one_file_are_refused(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "a"
    first, second = Image.fromarray(gradient()), Image.fromarray(gradient()[::-1].copy())
    first.save(path, kind, save_all=True, append_images=[second])
    assert "holds 2 pictures" in refusal(path).problem


@pytest.mark.parametrize("tag", photo_header.RAW_TAGS)
def test_raw_files_are_refused_instead_of_measuring_their_thumbnail(
    tmp_path: Path, tag: int
) -> None:
    path = tmp_path / "a.dng"
    Image.fromarray(gradient()).save(path, "TIFF", tiffinfo={tag: 1})
    assert "raw file" in refusal(path).problem


def test_floating_point_pixels_are_refused(tmp_path: Path) -> None:
    import tifffile  # noqa: PLC0415 - only this test writes them

    path = tmp_path / "a.tif"
    tifffile.imwrite(path, gradient().astype(np.float32), photometric="rgb")
    assert "not a picture that can be read" in refusal(path).problem


def test_heic_coded_for_hdr_is_refused(tmp_path: Path) -> None:
    path = heic(tmp_path / "a.heic", gradient(64, 64), transfer_characteristics=16)
    assert "coded for HDR (PQ)" in refusal(path).problem
