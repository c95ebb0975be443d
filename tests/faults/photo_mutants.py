"""Photo files spoiled at random: bits flipped, blocks lost, segments moved, ends cut off."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from itertools import pairwise
from typing import Any

import numpy as np
from PIL import Image

from greasecheck.measure.photo.header import _segments
from greasecheck.reference import data_folder

PHOTOS = (
    "02_tub12_january.jpg", "03_tub12_february.jpg", "05_tub17_march.jpg",
    "09_tub21_march.jpg", "10_tub12_april.jpg", "12_tub12_may.jpg",
)  # fmt: skip
CAMERA_JPEG, METADATA_END = "JPEG", 2600
BLOCK = 4096  # bytes that a card or a disk loses at once
Spoil = Callable[[bytearray, np.random.Generator], bytes]


@dataclass(frozen=True, slots=True)
class Base:
    """A sample photo in one kind of file."""

    photo: str
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutant:
    """A file to read.

    Attributes
    ----------
    kind : str
        What was done, for the table.
    base : Base or None
        The sound file it came from; None where none could give a reading.
    content : bytes
        Its bytes.
    name : str
        What it is called.
    time_touched : bool
        Whether its time may rightly differ from that of `base`.
    """

    kind: str
    base: Base | None
    content: bytes
    name: str = "photo.jpg"
    time_touched: bool = False


@cache
def sound_file(photo: str, kind: str) -> bytes:
    """A sample photo in one kind of file."""
    content = (data_folder("sample_images") / photo).read_bytes()
    if kind == CAMERA_JPEG:
        return content
    image, buffer = Image.open(BytesIO(content)), BytesIO()
    exif = image.info["exif"]
    if kind == "HEIC":
        import pillow_heif  # noqa: PLC0415 - only this kind needs its encoder

        pillow_heif.from_pillow(image).save(buffer, quality=80, exif=exif)
    else:
        time = {} if "compression" in SAVED_AS[kind] else {"exif": exif}  # Pillow cannot do both
        image.save(buffer, **time, **SAVED_AS[kind])
    return buffer.getvalue()


SAVED_AS: dict[str, dict[str, Any]] = {
    "progressive JPEG": {"format": "JPEG", "quality": 90, "progressive": True},
    "JPEG with restarts": {"format": "JPEG", "quality": 90, "restart_marker_rows": 1},
    "JPEG 4:4:4": {"format": "JPEG", "quality": 95, "subsampling": 0},
    "PNG": {"format": "PNG", "compress_level": 1},
    "WebP": {"format": "WEBP", "quality": 90, "method": 0},
    "lossless WebP": {"format": "WEBP", "lossless": True, "method": 0, "quality": 0},
    "TIFF": {"format": "TIFF"},
    "LZW TIFF": {"format": "TIFF", "compression": "tiff_lzw"},
    "deflate TIFF": {"format": "TIFF", "compression": "tiff_adobe_deflate"},
}
SOUND_KINDS = (CAMERA_JPEG, "HEIC", *SAVED_AS)


def flip(content: bytearray, rng: np.random.Generator, first: int, last: int, most: int) -> bytes:
    """Flip 1 to `most` bits between two places."""
    for place in rng.integers(first, max(last, first + 1), rng.integers(1, most + 1)):
        content[place] ^= 1 << int(rng.integers(8))
    return bytes(content)


def flip_header(content: bytearray, rng: np.random.Generator) -> bytes:
    return flip(content, rng, 0, min(METADATA_END, len(content)), 6)


def flip_bit(content: bytearray, rng: np.random.Generator) -> bytes:
    return flip(content, rng, METADATA_END, len(content), 1)


def flip_bits(content: bytearray, rng: np.random.Generator) -> bytes:
    return flip(content, rng, METADATA_END, len(content), 40)


def lose_block(content: bytearray, rng: np.random.Generator) -> bytes:
    """Zero a block, as a bad sector does."""
    at = int(rng.integers(METADATA_END, len(content)))
    content[at : at + BLOCK] = bytes(len(content[at : at + BLOCK]))
    return bytes(content)


def swap_blocks(content: bytearray, rng: np.random.Generator) -> bytes:
    """Exchange two blocks, as a damaged file table does."""
    one, two = (int(at) * BLOCK for at in rng.integers(1, max(len(content) // BLOCK, 2), 2))
    content[one : one + BLOCK], content[two : two + BLOCK] = (
        content[two : two + BLOCK], content[one : one + BLOCK],
    )  # fmt: skip
    return bytes(content)


def drop_bytes(content: bytearray, rng: np.random.Generator) -> bytes:
    """Leave out some bytes, as a careless copy in text mode does."""
    at = int(rng.integers(METADATA_END, len(content)))
    del content[at : at + int(rng.integers(1, 300))]
    return bytes(content)


def cut(content: bytearray, rng: np.random.Generator) -> bytes:
    return bytes(content[: int(rng.integers(0, len(content)))])


def cut_and_close(content: bytearray, rng: np.random.Generator) -> bytes:
    """Cut the end off and put an end mark there."""
    return cut(content, rng) + content[-12:]


def cut_and_fill(content: bytearray, rng: np.random.Generator) -> bytes:
    """Zeros where the rest should be, as a copy that was broken off leaves."""
    return cut(content, rng).ljust(len(content), b"\0")


def move_segments(content: bytearray, rng: np.random.Generator) -> bytes:
    """Double, leave out or exchange segments before the scan."""
    places = [at for at, _ in _segments(bytes(content))]
    parts = [bytes(content[a:b]) for a, b in pairwise(places)]
    head, rest = bytes(content[:2]), bytes(content[places[-1] :])
    one, two = (int(part) for part in rng.integers(0, len(parts), 2))
    match int(rng.integers(3)):
        case 0:
            parts.insert(two, parts[one])
        case 1:
            del parts[one]
        case _:
            parts[one], parts[two] = parts[two], parts[one]
    return head + b"".join(parts) + rest


SPOILS: dict[str, Spoil] = {
    "bits flipped in the header": flip_header,
    "one bit flipped in the pixels": flip_bit,
    "bits flipped in the pixels": flip_bits,
    "a block of zeros": lose_block,
    "blocks exchanged": swap_blocks,
    "bytes left out": drop_bytes,
    "cut short": cut,
    "cut short, closed": cut_and_close,
    "cut short, filled": cut_and_fill,
}
TOUCH_TIME = ("bits flipped in the header", "segments moved")


def random_mutants(count: int, seed: int) -> Iterator[Mutant]:
    """Spoil sample photos at random; half of them JPEGs as the camera wrote them."""
    rng = np.random.default_rng(seed)
    for number in range(count):
        kind = CAMERA_JPEG if number % 2 else str(rng.choice(SOUND_KINDS[1:]))
        spoils = SPOILS | ({"segments moved": move_segments} if "JPEG" in kind else {})
        name = list(spoils)[number // 2 % len(spoils)]
        photo = PHOTOS[int(rng.integers(len(PHOTOS)))]
        content = spoils[name](bytearray(sound_file(photo, kind)), rng)
        base = Base(photo, kind)
        touched = name in TOUCH_TIME or kind not in (CAMERA_JPEG, *JPEGS)
        yield Mutant(kind=f"{kind}: {name}", base=base, content=content, time_touched=touched)


JPEGS = ("progressive JPEG", "JPEG with restarts", "JPEG 4:4:4")
