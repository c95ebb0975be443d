"""Which file of a logged photo may be read for a page, and how files are named by their kind."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


SUFFIXES = {
    "JPEG": ".jpg",
    "MPO": ".jpg",
    "PNG": ".png",
    "TIFF": ".tif",
    "WEBP": ".webp",
    "HEIC": ".heic",
    "RAW": ".dng",
}


def kept_file(folder: Path, path: str) -> Path | None:
    """Return the file of a logged photo when it is one that this page kept; None otherwise.

    A logbook may come from elsewhere, and must not make the page send any file of this computer.
    """
    file = folder.absolute() / path.replace("\\", "/").rpartition("/")[2]
    inside = file.parent == folder.absolute() and not file.is_symlink()
    return file if inside and file.suffix in SUFFIXES.values() and file.is_file() else None
