"""The pictures of rounds that are kept: whole ones for a while, of each tub the newest, cut out."""

from __future__ import annotations

import os
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.logbook.store.drafts import whole_file

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import timedelta
    from pathlib import Path

    from numpy.typing import NDArray

    from greasecheck.measure.ladder.look import LadderView
    from greasecheck.model import FloatArray

WHOLE, OF_TUB = "round-", "newest-"
QUALITY = 95
EXIF_TIME, EXIF_OFFSET, EXIF_DETAIL = 0x9003, 0x9011, 0x8769  # CIPA DC-008-2023, section 4.6.5
STAMP = "%Y%m%d-%H%M%S"
AROUND = 0.25  # of a ladder's size that is left around it: the rim, and what floats beside it
MOST_PX = 1200  # of a cut-out's longer side; enough for a telephone's screen


@dataclass(frozen=True, slots=True, kw_only=True)
class TubPicture:
    """The newest picture of a tub: its file, and when it was taken."""

    path: Path
    at: datetime


def rounds_folder(logbook: Path) -> Path:
    """Return the folder beside a logbook in which the newest picture of each tub lies."""
    return logbook.with_name("rounds")


def keep_picture(folder: Path, pixels: NDArray[np.uint8], at: datetime) -> Path:
    """Write a whole picture with its time; return its path.

    Raises
    ------
    OSError
        When the disk refuses; nothing is left of it then.
    """
    path = folder / f"{WHOLE}{at:{STAMP}}.jpg"
    _write(path, pixels, at)
    return path


def _write(path: Path, pixels: NDArray[np.uint8], at: datetime) -> None:
    """Write a picture with its time, whole or not at all."""
    from PIL import Image  # noqa: PLC0415 - the list of newest pictures needs none

    path.parent.mkdir(parents=True, exist_ok=True)
    exif = Image.Exif()
    detail = exif.get_ifd(EXIF_DETAIL)
    detail[EXIF_TIME] = f"{at:%Y:%m:%d %H:%M:%S}"
    detail[EXIF_OFFSET] = f"{at:%z}"[:3] + ":" + f"{at:%z}"[3:5]
    with whole_file(path) as draft, draft.open("wb") as file:
        Image.fromarray(pixels).save(file, format="JPEG", quality=QUALITY, exif=exif)
        file.flush()
        os.fsync(file.fileno())


def crop_picture(
    path: Path, pixels: NDArray[np.uint8], ladders: Iterable[LadderView], at: datetime
) -> None:
    """Replace a whole picture by the part of it that shows the ladders."""
    corners = [ladder.outline_px for ladder in ladders]
    if corners:
        _write(path, _cut_out(pixels, np.concatenate(corners)), at)


def keep_newest(
    folder: Path, pixels: NDArray[np.uint8], ladders: Iterable[LadderView], at: datetime
) -> None:
    """Cut the tubs out of a picture, and keep those of which no newer one is kept."""
    for ladder in ladders:
        if ladder.tub is None or _is_late(folder, ladder.tub, at):
            continue
        path = folder / f"{OF_TUB}{ladder.tub}-{at.astimezone(UTC):{STAMP}}.jpg"
        _write(path, _shrunk(_cut_out(pixels, ladder.outline_px)), at)
        for old in _of_tub(folder, ladder.tub):
            if old.path != path:
                old.path.unlink(missing_ok=True)


def newest_of(folder: Path, *numbers: int) -> TubPicture | None:
    """Return the newest picture of a tub; None when no camera has seen it.

    Parameters
    ----------
    folder : pathlib.Path
        Where the pictures of rounds are.
    *numbers : int
        The tub's number, and those that it had before.
    """
    found = [one for number in numbers for one in _of_tub(folder, number)]
    return max(found, key=lambda one: one.at, default=None)


def _is_late(folder: Path, tub: int, at: datetime) -> bool:
    """Return whether a newer picture of the tub is kept already."""
    kept = newest_of(folder, tub)
    return kept is not None and kept.at > at


def _of_tub(folder: Path, tub: int) -> list[TubPicture]:
    found = []
    for path in folder.glob(f"{OF_TUB}{tub}-*.jpg"):
        try:
            at = datetime.strptime(path.stem.split("-", 2)[2], STAMP).replace(tzinfo=UTC)
        except ValueError:
            continue  # not of this program
        found.append(TubPicture(path=path, at=at))
    return found


def _cut_out(pixels: NDArray[np.uint8], corners_px: FloatArray) -> NDArray[np.uint8]:
    low, high = corners_px.min(axis=0), corners_px.max(axis=0)
    margin = AROUND * float((high - low).max())
    rows, columns = pixels.shape[:2]
    left, top = np.clip(low - margin, 0, [columns - 2, rows - 2]).astype(int)
    right, bottom = np.clip(high + margin, [left + 2, top + 2], [columns, rows]).astype(int)
    return pixels[top:bottom, left:right]


def _shrunk(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    import cv2  # noqa: PLC0415 - as Pillow

    scale = MOST_PX / max(pixels.shape[:2])
    if scale >= 1:
        return np.ascontiguousarray(pixels)
    small = cv2.resize(pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    return np.asarray(small, dtype=np.uint8)


def forget_old(folder: Path, path: Path, at: datetime, keep: timedelta, *, marked: bool) -> None:
    """Keep the day's first whole picture and those that are marked, for so long.

    Parameters
    ----------
    folder : pathlib.Path
        Where they are.
    path : pathlib.Path
        The newest one.
    at : datetime.datetime
        Its time.
    keep : datetime.timedelta
        How long pictures are kept.
    marked : bool
        Whether the newest one shows something of note.
    """
    others = [one for one in folder.glob(f"{WHOLE}{at:%Y%m%d}-*.jpg") if one != path]
    if others and not marked:
        path.unlink(missing_ok=True)
    oldest = f"{WHOLE}{at - keep:{STAMP}}"
    for one in folder.glob(f"{WHOLE}*.jpg"):
        if one.stem < oldest:
            one.unlink(missing_ok=True)
