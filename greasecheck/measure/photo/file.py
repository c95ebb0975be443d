"""Reads a photo's bytes, after refusing what would hang or fill the memory."""

from __future__ import annotations

import hashlib
import stat
from typing import TYPE_CHECKING

from greasecheck.errors import PhotoError

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

MAX_BYTES = 400_000_000
OVERLAY_ENDING = ".overlay.jpg"  # of pictures of what was found, which are no photos
RETAKE_HINT = "copy the file again from the camera, or take the photo again"


def read_photo_file(path: Path) -> bytes:
    """Return all bytes of a file.

    Raises
    ------
    PhotoError
        When it is no regular file, empty, too large or cannot be read.
    """
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise PhotoError(f"{path}: it is not a file", hint="name a photo or a folder of photos")
        if status.st_size > MAX_BYTES:
            raise PhotoError(
                f"{path.name}: it is larger than {MAX_BYTES // 1_000_000} MB",
                hint="take photos of 8 to 24 million pixels as JPEG",
            )
        content = path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        hint = "check its name and rights"
        raise PhotoError(f"{path}: it cannot be read: {reason}", hint=hint) from error
    if not content:
        raise PhotoError(f"{path.name}: the file is empty", hint=RETAKE_HINT)
    return content


def file_name(path: str) -> str:
    r"""Return the last part of a path, whichever system it was written on.

    Examples
    --------
    >>> file_name("D:\\\\photos\\\\tub 12.jpg"), file_name("/photos/tub 12.jpg")
    ('tub 12.jpg', 'tub 12.jpg')
    """
    return path.replace("\\", "/").rsplit("/", 1)[-1]


def printable(text: Path | str) -> str:
    r"""Return a path or text without line breaks, control codes and broken characters.

    Examples
    --------
    >>> printable("tub\n12.jpg")
    'tub?12.jpg'
    """
    return "".join(char if char.isprintable() else "?" for char in str(text))


def distinct_files(paths: Iterable[Path]) -> tuple[Path, ...]:
    """Return the first of each lot of files of the same bytes; raises as `read_photo_file` does."""
    first: dict[str, Path] = {}
    for path in paths:
        first.setdefault(file_sha256(path), path)
    return tuple(first.values())


def file_sha256(path: Path) -> str:
    """Return the SHA-256 of a file's bytes, hexadecimal; raises as `read_photo_file` does."""
    return hashlib.sha256(read_photo_file(path)).hexdigest()
