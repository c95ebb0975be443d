"""Reads many photos at once, on all cores."""

from __future__ import annotations

import os
import signal
import threading
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context, parent_process
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import cv2

from greasecheck.errors import PhotoError
from greasecheck.measure.photo.exif import OVERLAY_ENDING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from typing import TypeVar

    Result = TypeVar("Result")

SUFFIXES = frozenset({".jpg", ".jpeg", ".png", ".tif", ".tiff", ".heic", ".heif", ".webp"})
FEWEST_FOR_POOL = 4  # photos; fewer are read before other processes have started (own choice)
AHEAD = 4  # photos handed out beyond those being read


def find_photos(paths: Sequence[Path]) -> tuple[Path, ...]:
    """List photos: files as given, folders searched through, each file once, in order of name.

    Parameters
    ----------
    paths : sequence of pathlib.Path
        Files, taken whatever they are called, and folders, of which files with the suffix of a
        photo are taken; hidden ones and pictures of what was found are not.

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
        inside = sorted(_files_below(path)) if path.is_dir() else [path]
        for file in inside:
            if file == path or _is_photo(file, path):
                found.setdefault(file)
    return tuple(found)


def _files_below(folder: Path) -> Iterator[Path]:
    for place, _, names in os.walk(folder, onerror=_refuse_folder):
        yield from (Path(place, name) for name in names)


def _refuse_folder(error: OSError) -> NoReturn:
    raise PhotoError(
        f"cannot look into the folder {error.filename}: {error.strerror}",
        hint="make it readable, or name the other folders one by one",
    ) from error


def _is_photo(file: Path, folder: Path) -> bool:
    hidden = any(part.startswith(".") for part in file.relative_to(folder).parts)
    drawn = file.name.endswith(OVERLAY_ENDING)
    return file.suffix.lower() in SUFFIXES and not (hidden or drawn) and file.is_file()


def map_photos(
    work: Callable[[Path], Result], paths: Sequence[Path], processes: int | None = None
) -> Iterator[Result]:
    """Apply `work` to each photo, in order, on `processes` cores.

    Parameters
    ----------
    work : callable
        Takes a path; must be picklable, as must what it returns.
    paths : sequence of pathlib.Path
        The photos.
    processes : int, optional
        How many at once; as many as there are cores without it.
    """
    count = min(processes or os.cpu_count() or 1, len(paths))
    if count < 2 or len(paths) < FEWEST_FOR_POOL:
        yield from map(work, paths)
        return
    context = get_context("spawn")
    with ProcessPoolExecutor(count, mp_context=context, initializer=begin_worker) as pool:
        yield from _in_order(pool, work, paths, count)


def _in_order(
    pool: ProcessPoolExecutor, work: Callable[[Path], Result], paths: Sequence[Path], count: int
) -> Iterator[Result]:
    """Keep a few photos ahead of the one waited for, so that a stop wastes little."""
    waiting = [pool.submit(work, path) for path in paths[: count + AHEAD]]
    try:
        for following in range(len(paths)):
            result = waiting.pop(0).result()
            if following + count + AHEAD < len(paths):
                waiting.append(pool.submit(work, paths[following + count + AHEAD]))
            yield result
    finally:
        for future in waiting:
            future.cancel()


def begin_worker() -> None:
    """Use one core, leave Ctrl-C to the parent, and end when the parent does, even when killed."""
    cv2.setNumThreads(1)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
