"""Odd picture files made on purpose: bombs, modes, animations, impossible EXIF, profiles, names."""

from __future__ import annotations

import os
import struct
import zlib
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import cv2
import numpy as np
from PIL import Image
from PIL.ExifTags import Base as Tag

from greasecheck.measure.photo.header import _segments
from tests.faults.photo_mutants import CAMERA_JPEG, PHOTOS, Base, Mutant, sound_file
from tests.unit.measure.photo_files import (
    SRGB_CURVE,
    curve_formula,
    curve_table,
    exif_with,
    icc_profile,
)

PHOTO = PHOTOS[3]
SOUND = Base(PHOTO, CAMERA_JPEG)
HUGE = 400_000_000  # bytes that a bomb unpacks to
UNDER_LIMIT_PX = 10_900  # squared, just under the largest number of pixels taken


def odd_photos() -> Iterator[Mutant]:
    """All files of this module, each once."""
    yield from _one_kind("modes and kinds", _modes())
    yield from _one_kind("bombs and huge sizes", _bombs())
    yield from _one_kind("no pictures", _no_pictures())
    for name, content in _wrong_names():
        yield Mutant(kind="wrong extension", base=SOUND, content=content, name=name)
    for payload in (*_exifs(), *_raw_exifs()):
        yield _with_segment("odd EXIF", b"\xe1", b"Exif\0\0" + payload, time_touched=True)
    for profile in _profiles():
        yield _with_segment("odd profiles", b"\xe2", b"ICC_PROFILE\0\1\1" + profile)
    for other in _others():
        yield _with_segment("odd XMP and MPF", *other)


def _one_kind(kind: str, contents: Iterator[bytes]) -> Iterator[Mutant]:
    return (Mutant(kind=kind, base=None, content=content) for content in contents)


def _with_segment(
    kind: str, marker: bytes, payload: bytes, *, time_touched: bool = False
) -> Mutant:
    """The sample photo with one segment more, in place of its EXIF when that is what it is."""
    content = sound_file(PHOTO, CAMERA_JPEG)
    if marker == b"\xe1" and payload.startswith(b"Exif"):
        places = [*_segments(content)]
        at = next(n for n, (_, code) in enumerate(places) if code == 0xE1)
        content = content[: places[at][0]] + content[places[at + 1][0] :]
    segment = b"\xff" + marker + struct.pack(">H", len(payload) + 2) + payload
    content = content[:2] + segment + content[2:]
    return Mutant(kind=kind, base=SOUND, content=content, time_touched=time_touched)


def _sample() -> Image.Image:
    return Image.open(BytesIO(sound_file(PHOTO, CAMERA_JPEG)))


def _saved(image: Image.Image, kind: str, **options: object) -> bytes:
    buffer = BytesIO()
    image.save(buffer, kind, **options)
    return buffer.getvalue()


def _modes() -> Iterator[bytes]:
    image = _sample()
    for kind, modes in {
        "JPEG": ("L", "CMYK"),
        "PNG": ("1", "L", "LA", "P", "I;16"),
        "TIFF": ("1", "L", "P", "CMYK", "LAB", "YCbCr", "F", "I"),
        "WEBP": ("L",),
        "GIF": ("P",),
        "BMP": ("RGB",),
        "PPM": ("RGB",),
        "JPEG2000": ("RGB",),
    }.items():
        for mode in modes:
            plain = image.convert("L") if mode in ("I;16", "F", "I") else image
            yield _saved(plain.convert(mode), kind)
    cmyk = _saved(image.convert("CMYK"), "JPEG")
    yield cmyk.replace(b"Adobe\0d\0\0\0\0\0", b"Adobe\0d\0\0\0\0\2")  # YCCK
    yield sound_file(PHOTO, CAMERA_JPEG).replace(b"\xff\xc0", b"\xff\xc9", 1)  # arithmetic coding
    yield sound_file(PHOTO, CAMERA_JPEG).replace(b"\xff\xc0", b"\xff\xc3", 1)  # lossless
    half = Image.fromarray(np.full((image.height, image.width), 128, dtype=np.uint8))
    image.putalpha(half)
    for kind in ("PNG", "WEBP", "TIFF"):
        yield _saved(image, kind)
    frames = [Image.new("RGB", (64, 64), colour) for colour in ("red", "green", "blue")]
    for kind in ("GIF", "PNG", "WEBP", "TIFF"):
        yield _saved(frames[0], kind, save_all=True, append_images=frames[1:])
    deep = np.zeros((40, 40), dtype=np.uint16)
    yield bytes(cv2.imencode(".png", deep)[1].tobytes())


def _chunk(name: bytes, content: bytes) -> bytes:
    checksum = struct.pack(">I", zlib.crc32(name + content))
    return struct.pack(">I", len(content)) + name + content + checksum


def _png(width: int, height: int, *extra: bytes, pixels: bytes = b"") -> bytes:
    size = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = _chunk(b"IHDR", size) + b"".join(extra) + _chunk(b"IDAT", pixels or zlib.compress(b""))
    return b"\x89PNG\r\n\x1a\n" + body + _chunk(b"IEND", b"")


def _packed_zeros(size: int) -> bytes:
    packer = zlib.compressobj(9)
    block = bytes(1_000_000)
    parts = [packer.compress(block) for _ in range(size // len(block))]
    return b"".join(parts) + packer.flush()


def _bombs() -> Iterator[bytes]:
    zeros = _packed_zeros(HUGE)
    for side in (2**31 - 1, 100_000, 12_000, UNDER_LIMIT_PX):
        yield _png(side, side, pixels=zeros)
    yield _png(1, 2**31 - 1)
    yield _png(0, 0)
    small = zlib.compress(bytes(40 * 121))
    yield _png(40, 40, _chunk(b"iCCP", b"x\0\0" + zeros), pixels=small)
    yield _png(40, 40, _chunk(b"zTXt", b"x\0\0" + zeros), pixels=small)
    yield _png(40, 40, _chunk(b"iTXt", b"x\0\1\0\0\0" + zeros), pixels=small)
    yield _png(40, 40, *[_chunk(b"zTXt", b"x\0\0" + _packed_zeros(900_000))] * 80, pixels=small)
    yield _png(40, 40, _chunk(b"eXIf", b"II*\0" + bytes(3_000_000)), pixels=small)
    for kind in (CAMERA_JPEG, "progressive JPEG"):
        for side in (65_535, 12_000, UNDER_LIMIT_PX, 0, 1):
            yield _resized_jpeg(sound_file(PHOTO, kind), side)
    progressive = _resized_jpeg(sound_file(PHOTO, "progressive JPEG"), UNDER_LIMIT_PX)
    scan = progressive[progressive.rindex(b"\xff\xda") : -2]
    yield progressive[:-2] + scan[:40] * 5_000 + b"\xff\xd9"
    for side in (2**31 - 1, UNDER_LIMIT_PX):
        yield _tiff_of(side, zeros, compression=8)
        yield _tiff_of(side, bytes(100), compression=1)
    heic = sound_file(PHOTO, "HEIC")
    at = heic.index(b"ispe") + 8
    for side in (2**31 - 1, 60_000, UNDER_LIMIT_PX):
        yield heic[:at] + struct.pack(">II", side, side) + heic[at + 8 :]
    webp = sound_file(PHOTO, "WebP")
    at = webp.index(b"VP8 ") + 14
    yield webp[:at] + struct.pack("<HH", 16_383, 7_000) + webp[at + 4 :]


def _resized_jpeg(content: bytes, side: int) -> bytes:
    at = next(place for place, code in _segments(content) if code in (0xC0, 0xC2)) + 5
    return content[:at] + struct.pack(">HH", side, side) + content[at + 4 :]


def _tiff_of(side: int, strip: bytes, *, compression: int) -> bytes:
    entries = (
        (256, 4, 1, side), (257, 4, 1, side), (258, 3, 1, 8), (259, 3, 1, compression),
        (262, 3, 1, 2), (273, 4, 1, 200), (277, 3, 1, 3), (278, 4, 1, side),
        (279, 4, 1, len(strip)),
    )  # fmt: skip
    table = b"".join(struct.pack("<HHII", *entry) for entry in entries)
    head = b"II*\0" + struct.pack("<IH", 8, len(entries)) + table + bytes(4)
    return head.ljust(200, b"\0") + strip


def _no_pictures() -> Iterator[bytes]:
    yield from (b"", b"\xff", b"\xff\xd8", b"\xff\xd8\xff\xd9", b"\x89PNG\r\n\x1a\n", b"II*\0")
    yield from (b"RIFF\0\0\0\0WEBP", b"\0\0\0\x18ftypheic", b"%PDF-1.7 ...", b"GIF89a")
    yield "day,haze\n1,2\n".encode("utf-16")
    yield b"<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'/>"
    yield bytes(100_000)
    yield np.random.default_rng(1).bytes(100_000)


def _wrong_names() -> Iterator[tuple[str, bytes]]:
    jpeg = sound_file(PHOTO, CAMERA_JPEG)
    for name in (
        "photo.png",
        "photo.HEIC",
        "photo",
        ".jpg",
        "a b\tc\n.jpg",
        "\udcff.jpg",
        "-n.jpg",
    ):
        yield name, jpeg


TIMES = (
    "0000:00:00 00:00:00", "9999:12:31 23:59:59", "2026:13:45 99:99:99", "    :  :     :  :  ",
    "", "nan", "inf", "2026:02:30 10:00:00", "2099:01:01 00:00:00", "1970:01:01 00:00:00",
    "2026:03:29 02:30:00", "2026-03-04T05:06:07", "2026:03:04 24:00:00", "2026:03:04 05:06:60",
    "\0" * 19, "2" * 60_000, "\uff12\uff10\uff12\uff16:03:04 05:06:07", "2026:03:04 05:06:07\0\0",
)  # fmt: skip
OFFSETS = (
    "+99:99",
    "+14:01",
    "-25:00",
    "Z",
    "+5:30",
    "utc",
    "",
    "+00:60",
    "-14:00",
    "+\u0660\u0661:\u0660\u0660",
)


def _exifs() -> Iterator[bytes]:
    for time in TIMES:
        yield _exif(DateTimeOriginal=time)
    for offset in OFFSETS:
        yield _exif(OffsetTimeOriginal=offset)
    for fraction in ("", "-1", "nan", "9" * 400, "\uff11\uff12"):
        yield _exif(SubsecTimeOriginal=fraction)
    for orientation in (0, 9, 255, 65_535, 2, 3, 6):
        yield _exif(Orientation=orientation)
    for model in ("", "\0", "x" * 60_000, "a\x1b[31mb", "Käse"):
        yield _exif(Model=model)


def _exif(**tags: object) -> bytes:
    camera = _sample().getexif()
    usual = {"Make": camera[Tag.Make], "Model": camera[Tag.Model]}
    time = {"DateTimeOriginal": "2026:03:04 05:06:07", "OffsetTimeOriginal": "+01:00"}
    return bytes(exif_with(**{**usual, **time, **tags}).tobytes()).removeprefix(b"Exif\0\0")


def _ifd(*entries: tuple[int, int, int, int], following: int = 0) -> bytes:
    table = b"".join(struct.pack("<HHII", *entry) for entry in entries)
    return struct.pack("<H", len(entries)) + table + struct.pack("<I", following)


def _raw_exifs() -> Iterator[bytes]:
    start = b"II*\0" + struct.pack("<I", 8)
    exif_part, gps_part, interop = 0x8769, 0x8825, 0xA005
    yield start + _ifd((exif_part, 4, 1, 8), following=8)  # each part is the first again
    yield start + _ifd((exif_part, 4, 1, 26)) + _ifd((interop, 4, 1, 26), (exif_part, 4, 1, 26))
    yield start + _ifd((exif_part, 4, 1, 2**32 - 1))
    yield start + _ifd((exif_part, 99, 2**32 - 1, 2**32 - 1))
    yield start + _ifd(*((tag, 2, 2**31, 26) for tag in range(0x100, 0x140)))
    yield start + struct.pack("<H", 65_535)
    yield b"II*\0" + struct.pack("<I", 2**32 - 1)
    yield b"MM\0+" + bytes(60)  # BigTIFF
    for kind in range(14):
        yield start + _ifd((exif_part, 4, 1, 26)) + _ifd((0x9003, kind, 20, 44)) + b"2026:" * 9
        yield start + _ifd((0x0112, kind, 1, 6), (0x0110, kind, 9, 30)) + b"\xff" * 60
    zero = struct.pack("<6I", 59, 0, 0, 0, 2**32 - 1, 0)
    yield start + _ifd((gps_part, 4, 1, 26)) + _ifd((2, 5, 3, 44), (7, 12, 1, 44)) + zero
    yield start + _ifd((0x829A, 12, 1, 26)) + struct.pack("<d", float("nan"))
    yield start + _ifd((0x9003, 2, 20, 26)) + b"2026:03:04 05:06:07\0"


def _profiles() -> Iterator[bytes]:
    sound = icc_profile(SRGB_CURVE)
    yield sound
    yield from (b"", b"x", sound[:140], sound[:-30], bytes(500), sound[:128] + b"\xff" * 4)
    yield from (icc_profile(curve_table(65_535, 0)), icc_profile(curve_table(0, 0)))
    yield from (icc_profile(curve_formula(kind, 1e4, -1, 0, 0, 0)) for kind in range(6))
    yield icc_profile(b"curv" + bytes(4) + struct.pack(">I", 2**32 - 1))
    yield icc_profile(SRGB_CURVE, space=b"CMYK")
    yield icc_profile(SRGB_CURVE, space=b"\xff\0\x1b[")
    rng = np.random.default_rng(3)
    for _ in range(40):
        spoiled = bytearray(sound)
        for place in rng.integers(0, len(sound), 4):
            spoiled[place] = int(rng.integers(256))
        yield bytes(spoiled)


def _others() -> Iterator[tuple[bytes, bytes]]:
    xmp = b"http://ns.adobe.com/xap/1.0/\0"
    laughs = b"<!DOCTYPE x [<!ENTITY a '" + b"ha" * 99 + b"'>" + b"<!ENTITY b '&a;&a;'>" * 99
    yield b"\xe1", xmp + laughs + b"]><x>&b;</x>"
    yield b"\xe1", xmp + b"<x:xmpmeta tiff:Orientation='255'/>"
    yield b"\xe1", xmp + b"\xff\xfe\0" * 999
    rng = np.random.default_rng(4)
    small = Image.new("RGB", (16, 16))
    mpo = _saved(small, "MPO", save_all=True, append_images=[small])
    at = mpo.index(b"MPF\0")
    table = mpo[at : at + 100]
    yield b"\xe2", table
    for _ in range(30):
        spoiled = bytearray(table)
        for place in rng.integers(4, len(table), 5):
            spoiled[place] = int(rng.integers(256))
        yield b"\xe2", bytes(spoiled)


def odd_paths(folder: Path) -> Iterator[Path]:
    """What is no regular file, or cannot be opened, or is far too large."""
    (folder / "folder.jpg").mkdir()
    yield folder / "folder.jpg"
    os.mkfifo(folder / "pipe.jpg")
    yield folder / "pipe.jpg"
    for name, target in {"loop.jpg": "loop.jpg", "zero.jpg": "/dev/zero", "gone.jpg": "no"}.items():
        (folder / name).symlink_to(target)
        yield folder / name
    with (folder / "sparse.jpg").open("wb") as file:
        file.truncate(50_000_000_000)
    yield folder / "sparse.jpg"
    yield folder / "missing.jpg"
    yield folder / ("x" * 5000 + ".jpg")
    locked = folder / "locked.jpg"
    locked.write_bytes(sound_file(PHOTO, CAMERA_JPEG))
    locked.chmod(0)
    if not os.access(locked, os.R_OK):  # the superuser reads it nevertheless
        yield locked
