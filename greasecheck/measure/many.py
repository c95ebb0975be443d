"""Reads many photos at once, on all cores.

It loads no numpy: other processes begin to load it while this one does.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from greasecheck.errors import PhotoError
from greasecheck.measure.photo.file import OVERLAY_ENDING
from greasecheck.measure.photo.raw import reads_raw
from greasecheck.measure.workers import Workers

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from typing import TypeVar

    Result = TypeVar("Result")

REFUSED_SUFFIXES = frozenset({".gif", ".bmp"})  # in words, rather than passed over
SUFFIXES = REFUSED_SUFFIXES | {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".heic", ".heif", ".webp"}
# Of the makers whose files LibRaw reads (libraw.org, list of cameras); DNG is anybody's.
RAW_SUFFIXES = frozenset(
    {".dng", ".cr2", ".cr3", ".nef", ".nrw", ".arw", ".orf", ".rw2", ".raf", ".pef", ".srw"}
)


def find_photos(paths: Sequence[Path]) -> tuple[Path, ...]:
    """List photos: files as given, folders searched through, each file once, in order of name.

    Parameters
    ----------
    paths : sequence of pathlib.Path
        Files, taken whatever they are called, and folders, of which files with the suffix of a
        photo are taken; hidden ones and pictures of what was found are not. Where raw files can be
        read, they are taken, and not the camera's own picture of the same name beside them.

    Raises
    ------
    PhotoError
        When a folder cannot be looked into.

    Examples
    --------
    >>> from pathlib import Path
    >>> find_photos([Path("a.jpg"), Path("a.jpg")])
    (PosixPath('a.jpg'),)
    """
    found: dict[Path, None] = {}
    for path in paths:
        found |= dict.fromkeys(_photos_in(path) if path.is_dir() else [path])
    return tuple(found)


def _photos_in(folder: Path) -> list[Path]:
    files = [file for file in sorted(_files_below(folder)) if _is_shown(file, folder)]
    raw = [file for file in files if file.suffix.lower() in RAW_SUFFIXES] if reads_raw() else []
    known = {file.with_suffix("") for file in raw}
    pictures = [file for file in files if file.suffix.lower() in SUFFIXES]
    return sorted([*raw, *(one for one in pictures if one.with_suffix("") not in known)])


def _files_below(folder: Path) -> Iterator[Path]:
    for place, _, names in os.walk(folder, onerror=_refuse_folder):
        yield from (Path(place, name) for name in names)


def _refuse_folder(error: OSError) -> NoReturn:
    raise PhotoError(
        f"cannot look into the folder {error.filename}: {error.strerror}",
        hint="make it readable, or name the other folders one by one",
    ) from error


def _is_shown(file: Path, folder: Path) -> bool:
    hidden = any(part.startswith(".") for part in file.relative_to(folder).parts)
    return not (hidden or file.name.endswith(OVERLAY_ENDING)) and file.is_file()


def map_photos(
    work: Callable[[Path], Result],
    paths: Sequence[Path],
    processes: int | None = None,
    workers: Workers | None = None,
) -> Iterator[Result]:
    """Apply `work` to each photo, in order, on all cores.

    Parameters
    ----------
    work : callable
        Takes a path; must be picklable, as must what it returns.
    paths : sequence of pathlib.Path
        The photos.
    processes : int, optional
        How many at once; as many as there are cores without it.
    workers : Workers, optional
        Processes that may be there already; without it some are begun when there is much to do.
    """
    if workers is not None:
        yield from workers.map(work, paths)
        return
    with Workers(processes) as own:
        yield from own.map(work, paths)
