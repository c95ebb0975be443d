"""Files and folders that are not finished: whole or not at all, swept after a kill."""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

PREFIX = ".greasecheck-"
YOUNG_S = 5.0  # between being made and being held a folder looks abandoned
PRIVATE_FOLDER, PRIVATE_FILE = 0o700, 0o600


@contextmanager
def draft_folder(parent: Path) -> Iterator[Path]:
    """Give a new folder in `parent` that goes with all in it, and sweep abandoned ones."""
    sweep(parent)
    with tempfile.TemporaryDirectory(dir=parent, prefix=PREFIX) as name, held(Path(name)):
        yield Path(name)


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Give a place to write a file to, which takes the name `path` once it is whole.

    When the `with` block fails, `path` is as it was and nothing is left beside it; where two write
    one file at once, it is that of the last.
    """
    with draft_folder(path.parent) as folder:
        draft = folder / path.name
        yield draft
        draft.replace(path)


def sweep(parent: Path) -> None:
    """Remove the draft folders in `parent` that no process holds; what cannot be, stays."""
    with suppress(OSError):
        for folder in parent.glob(f"{PREFIX}*"):
            if folder.is_dir() and time.time() - folder.stat().st_mtime > YOUNG_S:
                with held(folder) as ours:
                    if ours:
                        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def held(folder: Path) -> Iterator[bool]:
    """Hold a folder while the `with` block runs or the process lives; False when another does."""
    if os.name == "nt":  # no locks on folders: nothing is held, nothing swept
        yield False
        return
    import fcntl  # noqa: PLC0415 - not on Windows

    descriptor = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        ours = True
    except OSError:
        ours = False
    try:
        yield ours
    finally:
        os.close(descriptor)


def make_private_folder(folder: Path) -> None:
    """Make a folder, and those above it, that only its owner can look into; one there stays."""
    if not folder.exists():
        folder.parent.mkdir(parents=True, exist_ok=True, mode=PRIVATE_FOLDER)
        folder.mkdir(exist_ok=True, mode=PRIVATE_FOLDER)
