"""Watches a folder for photos that have arrived whole."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.errors import PhotoError
from greasecheck.measure.many import find_photos

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from pathlib import Path

POLL_S = 2.0  # between looks at the folder


@dataclass(frozen=True, slots=True)
class _Stamp:
    size: int
    changed_ns: int


def watch_folder(
    folder: Path, *, sleep: Callable[[float], object] = time.sleep
) -> Iterator[tuple[Path, ...]]:
    """Yield the photos that have arrived whole, poll after poll, without end.

    A photo is whole when its size and time of change are those of the poll before; one that
    changes later is given again.

    Parameters
    ----------
    folder : pathlib.Path
        What to watch.
    sleep : callable
        Waits between polls, for a time [s].

    Yields
    ------
    tuple of pathlib.Path
        Those of one poll, by name; often none.

    Raises
    ------
    PhotoError
        When there is no such folder.
    """
    seen: dict[Path, _Stamp] = {}
    given: dict[Path, _Stamp] = {}
    while True:
        stamps = _stamps(folder)
        whole = {path: stamp for path, stamp in stamps.items() if _is_whole(path, stamp, seen)}
        yield tuple(path for path, stamp in whole.items() if given.get(path) != stamp)
        seen, given = stamps, {**given, **whole}
        sleep(POLL_S)


def _is_whole(path: Path, stamp: _Stamp, seen: Mapping[Path, _Stamp]) -> bool:
    return stamp.size > 0 and seen.get(path) == stamp


def _stamps(folder: Path) -> dict[Path, _Stamp]:
    if not folder.is_dir():
        raise PhotoError(f"there is no folder {folder}", hint="check its name")
    stamps = {}
    for path in find_photos([folder]):
        try:
            status = path.stat()
        except FileNotFoundError:
            continue  # gone since it was listed
        stamps[path] = _Stamp(status.st_size, status.st_mtime_ns)
    return stamps
