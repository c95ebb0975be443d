"""Photo files of every kind come out upright, with their digest, time and tone curves."""

import hashlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, PngImagePlugin

from greasecheck.measure.photo.tone_profile import srgb_transfer
from tests.unit.measure.photo_files import (
    curve_table,
    exif_with,
    gradient,
    heic,
    icc_profile,
    levels,
    load,
    refusal,
    write_deep,
    write_photo,
)


def test_jpeg_is_loaded_in_rgb_order_with_its_digest(tmp_path: Path) -> None:
    pixels = gradient()
    path = write_photo(tmp_path / "a.jpg", pixels)
    photo = load(path)
    assert photo.path == path
    assert photo.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert photo.pixels.dtype == np.uint8
    assert photo.full_scale == 255
    assert np.abs(photo.pixels.astype(int) - pixels).max() <= 4  # JPEG at quality 98
    assert photo.camera == "unknown"
    np.testing.assert_array_equal(photo.transfer, srgb_transfer())


@pytest.mark.parametrize(
    ("kind", "options"),
    [
        ("PNG", {}),
        ("TIFF", {}),
        ("TIFF", {"compression": "tiff_lzw"}),
        ("WEBP", {"lossless": True}),
    ],
)
def test_lossless_kinds_keep_each_value(
    tmp_path: Path, kind: str, options: dict[str, object]
) -> None:
    pixels = gradient()
    np.testing.assert_array_equal(
        load(write_photo(tmp_path / "a", pixels, kind, **options)).pixels, pixels
    )


@pytest.mark.parametrize("suffix", [".png", ".tiff"])
def test_16_bits_are_kept(tmp_path: Path, suffix: str) -> None:
    pixels = gradient(dtype=np.uint16)
    photo = load(write_deep(tmp_path / f"a{suffix}", pixels))
    assert photo.full_scale == 65535
    np.testing.assert_array_equal(photo.pixels, pixels)


def test_heic_is_loaded_upright_once(tmp_path: Path) -> None:
    pixels = gradient(120, 160)
    exif = exif_with(Orientation=6, Model="Telephone", DateTimeOriginal="2026:03:04 05:06:07")
    path = heic(tmp_path / "a.heic", pixels, exif=exif.tobytes())
    photo = load(path)
    assert photo.pixels.shape == (160, 120, 3)
    assert np.abs(photo.pixels.astype(int) - np.rot90(pixels, -1)).mean() < 3
    assert photo.camera == "Telephone"
    assert photo.taken_at.isoformat() == "2026-03-04T05:06:07+00:00"


def test_heic_profile_is_used(tmp_path: Path) -> None:
    path = tmp_path / "a.heic"
    heic(path, gradient(64, 64), icc_profile=icc_profile(curve_table(0x0180)))
    np.testing.assert_allclose(load(path).transfer[:, 1], levels() ** 1.5, atol=1e-6)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_each_orientation_comes_out_upright(tmp_path: Path, kind: str, orientation: int) -> None:
    upright = gradient()
    stored = {
        1: upright,
        2: upright[:, ::-1],
        3: upright[::-1, ::-1],
        4: upright[::-1],
        5: upright.transpose(1, 0, 2),
        6: np.rot90(upright, 1),
        7: np.rot90(upright, 2).transpose(1, 0, 2),
        8: np.rot90(upright, -1),
    }[orientation]
    path = write_photo(
        tmp_path / "a", np.ascontiguousarray(stored), kind, exif=exif_with(Orientation=orientation)
    )
    pixels = load(path).pixels
    assert pixels.shape == upright.shape
    assert pixels.flags.c_contiguous
    assert np.abs(pixels.astype(int) - upright).mean() < 3


@pytest.mark.parametrize("orientation", [0, 9, 65535])
def test_an_orientation_without_meaning_is_taken_as_upright(
    tmp_path: Path, orientation: int
) -> None:
    path = write_photo(
        tmp_path / "a.png", gradient(), "PNG", exif=exif_with(Orientation=orientation)
    )
    np.testing.assert_array_equal(load(path).pixels, gradient())


def test_the_content_decides_the_kind_not_the_name(tmp_path: Path) -> None:
    path = write_photo(tmp_path / "a.jpg", gradient(), "PNG")
    np.testing.assert_array_equal(load(path).pixels, gradient())


def test_a_garbled_exif_does_not_cost_the_photo(tmp_path: Path) -> None:
    path = write_photo(
        tmp_path / "a.jpg", gradient(), exif=b"Exif\0\0II*\0garbage" + bytes(range(200))
    )
    assert load(path).camera == "unknown"


def test_an_opaque_alpha_channel_is_dropped_and_a_transparent_one_refused(tmp_path: Path) -> None:
    pixels = gradient()
    alpha = np.full(pixels.shape[:2], 255, dtype=np.uint8)
    path = write_photo(tmp_path / "a.png", np.dstack([pixels, alpha]), "PNG")
    np.testing.assert_array_equal(load(path).pixels, pixels)
    alpha[3, 4] = 254
    write_photo(path, np.dstack([pixels, alpha]), "PNG")
    assert "transparent" in refusal(path).problem


def test_the_end_mark_of_a_thumbnail_does_not_count(tmp_path: Path) -> None:
    thumbnail = write_photo(tmp_path / "t.jpg", gradient(8, 8)).read_bytes()
    noise = np.random.default_rng(1).integers(0, 256, (300, 400, 3), dtype=np.uint8)
    path = write_photo(tmp_path / "a.jpg", noise, comment=thumbnail)
    content = path.read_bytes()
    assert load(path).pixels.shape == (300, 400, 3)
    path.write_bytes(content[: len(content) * 3 // 4])
    assert "cut short" in refusal(path).problem


def test_what_follows_the_end_of_a_jpeg_is_no_harm(tmp_path: Path) -> None:
    path = write_photo(tmp_path / "a.jpg", gradient())
    path.write_bytes(path.read_bytes() + b"trailer of a moving photo" * 100)
    assert load(path).pixels.shape == gradient().shape


def test_scan_parameters_that_some_phones_write_are_no_damage(tmp_path: Path) -> None:
    path = write_photo(tmp_path / "a.jpg", gradient())
    content = bytearray(path.read_bytes())
    scan = content.index(b"\xff\xda")
    content[scan + 2 + 12 - 2] = 0  # the last coefficient of the scan, 63 in sequential JPEG
    path.write_bytes(bytes(content))
    assert load(path).pixels.shape == gradient().shape


def test_of_a_jpeg_with_pictures_behind_it_the_first_is_taken(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    first, second = Image.fromarray(gradient()), Image.fromarray(gradient()[::-1].copy())
    first.save(path, "MPO", save_all=True, append_images=[second], quality=98)
    assert np.abs(load(path).pixels.astype(int) - gradient()).mean() < 3


@pytest.mark.parametrize(("gamma", "exponent"), [(1.0, 1.0), (0.5, 2.0)])
def test_the_gamma_that_a_png_states_is_used(tmp_path: Path, gamma: float, exponent: float) -> None:
    info = PngImagePlugin.PngInfo()
    info.add(b"gAMA", round(gamma * 100_000).to_bytes(4, "big"))
    path = write_photo(tmp_path / "a.png", gradient(), "PNG", pnginfo=info)
    np.testing.assert_allclose(load(path).transfer[:, 0], levels() ** exponent, atol=1e-6)


@pytest.mark.parametrize("chunks", [[(b"gAMA", 45455)], [(b"sRGB", 0), (b"gAMA", 100_000)]])
def test_srgb_by_any_mark_of_a_png_is_srgb(tmp_path: Path, chunks: list[tuple[bytes, int]]) -> None:
    info = PngImagePlugin.PngInfo()
    for name, value in chunks:
        info.add(name, value.to_bytes(1 if name == b"sRGB" else 4, "big"))
    path = write_photo(tmp_path / "a.png", gradient(), "PNG", pnginfo=info)
    np.testing.assert_array_equal(load(path).transfer, srgb_transfer())


def test_the_embedded_profile_gives_the_tone_curves(tmp_path: Path) -> None:
    profile = icc_profile(curve_table(0x0233))
    path = write_photo(tmp_path / "a.jpg", gradient(), icc_profile=profile)
    expected = levels() ** (0x0233 / 256)
    np.testing.assert_allclose(load(path).transfer[:, 2], expected, atol=1e-6)


def test_heic_of_several_pictures_gives_the_primary_one(tmp_path: Path) -> None:
    import pillow_heif  # noqa: PLC0415 - only these tests encode HEIC

    several = pillow_heif.from_pillow(Image.fromarray(255 - gradient(64, 64)))
    several.add_from_pillow(Image.fromarray(gradient(64, 64)))
    several.save(tmp_path / "a.heic", quality=95, chroma=444, primary_index=1)
    pixels = load(tmp_path / "a.heic").pixels
    assert np.abs(pixels.astype(int) - gradient(64, 64)).mean() < 3


@pytest.mark.parametrize("form", ['tiff:Orientation="6"', "tiff:Orientation='6'"])
def test_a_png_with_its_orientation_in_xmp_alone_is_turned(tmp_path: Path, form: str) -> None:
    info = PngImagePlugin.PngInfo()
    info.add_itxt("XML:com.adobe.xmp", f"<x:xmpmeta><rdf:Description {form}/></x:xmpmeta>")
    path = write_photo(tmp_path / "a.png", gradient(), "PNG", pnginfo=info)
    assert np.array_equal(load(path).pixels, np.rot90(gradient(), -1))


def test_a_deep_tiff_of_separate_planes_is_refused(tmp_path: Path) -> None:
    import tifffile  # noqa: PLC0415 - only this test writes planes

    planes = np.moveaxis(gradient(dtype=np.uint16), -1, 0)
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, planes, photometric="rgb", planarconfig="separate")
    assert "separate planes" in refusal(path).problem


@pytest.mark.parametrize(("rows", "columns"), [(2, 2), (3, 400), (400, 3), (15, 15), (16, 40)])
def test_a_jpeg_of_hardly_one_coded_block_is_loaded(
    tmp_path: Path, rows: int, columns: int
) -> None:
    path = write_photo(tmp_path / "a.jpg", gradient(rows, columns), "JPEG", quality=95)
    assert load(path).pixels.shape == (rows, columns, 3)
