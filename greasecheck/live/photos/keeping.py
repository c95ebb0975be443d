"""Keeps a photo for good and logs it: its whole file beside the logbook, under a name of ours."""

from __future__ import annotations

import os
import shutil
from dataclasses import replace
from typing import TYPE_CHECKING

from greasecheck.errors import LiveError, PhotoError
from greasecheck.live.photos.kept import SUFFIXES
from greasecheck.logbook.readings.photo_rules import require_usable
from greasecheck.logbook.readings.photos import Logged, LogSettings, Outcome, log_photos
from greasecheck.logbook.readings.readings import reading_under
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.drafts import PRIVATE_FILE, make_private_folder, whole_file
from greasecheck.measure.photo.header import read_header
from greasecheck.model import Verdict

if TYPE_CHECKING:
    from pathlib import Path

    from greasecheck.live.photos.waiting import Waiting


def require_loggable(photo: Waiting) -> None:
    """Refuse what can be kept neither as a reading nor as a refused attempt.

    Raises
    ------
    PhotoError
        When it is no picture, or a reading that lacks its tub or time or makes no sense.
    """
    measured = photo.found
    if not measured.is_picture:
        raise PhotoError("this file is no photo that can be read", hint="send the photo itself")
    if measured.reading.verdict is not Verdict.REFUSED:
        require_usable(measured.reading)


def log_photo(logbook: Path, folder: Path, photo: Waiting, skull: str | None) -> Logged:
    """Keep a photo's file and log its reading, or the attempt when it is refused.

    Parameters
    ----------
    logbook, folder : pathlib.Path
        Where to log, and where to keep the file.
    photo : Waiting
        What was read.
    skull : str or None
        The skull on the rest.

    Raises
    ------
    GreasecheckError
        When the logbook or the disk refuses; then nothing is logged, and no new file is kept.
    """
    kept = _kept_path(folder, photo)
    fresh = not kept.exists()
    if fresh:
        _keep(photo.path, kept)
    found = (photo.found.reading, *photo.found.others)
    readings = [replace(one, photo_path=str(kept)) for one in found]
    used = False
    try:
        with Logbook(logbook) as book:
            before = reading_under(book, photo.sha256)
            settings = LogSettings(skull=skull, again=before is not None and before.wrong)
            all_read = log_photos(book, [kept], lambda paths: [readings for _ in paths], settings)
            logged = tuple(all_read)
            used = any(one.outcome is not Outcome.KNOWN for one in logged)
    finally:
        if fresh and not used:
            kept.unlink(missing_ok=True)
    return logged[0]


def _kept_path(folder: Path, photo: Waiting) -> Path:
    """Return where a photo is kept: a name of its time, digest and kind, none of the sender's."""
    kind = read_header(photo.name, photo.path.read_bytes()).kind
    taken_at = photo.found.reading.taken_at or photo.arrived_at
    name = f"{taken_at.astimezone():%Y%m%d-%H%M%S}-{photo.sha256[:12]}{SUFFIXES[kind]}"
    return folder.absolute() / name


def _keep(source: Path, target: Path) -> None:
    """Copy a file with its time, whole or not at all."""
    try:
        make_private_folder(target.parent)
        with whole_file(target) as draft:
            shutil.copy2(source, draft)
            draft.chmod(PRIVATE_FILE)
            with draft.open("rb+") as file:
                os.fsync(file.fileno())
    except OSError as error:
        raise LiveError(
            f"cannot keep the photo in {target.parent}: {error.strerror or error}",
            hint="make room on the disk, or name another folder for photos; nothing is logged",
        ) from error
