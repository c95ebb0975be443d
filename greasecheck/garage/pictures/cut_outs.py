"""Cuts a skull out of the photos of its looks, in the colours under one white."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.garage.standards import with_standards
from greasecheck.logbook.looks import looks_of
from greasecheck.logbook.readings.drawings import drawn_of
from greasecheck.measure.reading import view_photo
from greasecheck.reference.srgb import LINEAR_FROM_XYZ, srgb_of_linear

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from greasecheck.logbook.looks import Look
    from greasecheck.logbook.records import LoggedReading
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.measure.reading import ReadSettings
    from greasecheck.model import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class CutOut:
    """A look at a skull with its picture.

    Attributes
    ----------
    look : Look
        The look.
    rgb : ndarray, shape (rows, columns, 3), uint8, or None
        The side of the largest area, sRGB; white paper in the photo's light is 255. None when its
        photo is gone or can no longer be read.
    mask : ndarray, shape (rows, columns), bool, or None
        Where the bone is in it.
    """

    look: Look
    rgb: NDArray[np.uint8] | None
    mask: BoolArray | None


def file_there(path: str) -> Path | None:
    """Return the file at a path, if there is one."""
    return Path(path) if Path(path).is_file() else None


def cut_outs(
    book: Logbook,
    skull: str,
    settings: ReadSettings,
    file_of: Callable[[str], Path | None] = file_there,
) -> tuple[CutOut, ...]:
    """Cut a skull out of the photo of each of its looks, oldest first.

    Parameters
    ----------
    book : Logbook
        Where its readings are.
    skull : str
        Its name.
    settings : ReadSettings
        Patch values and lens; the standards in force are the logbook's.
    file_of : callable
        Gives the file of a logged photo by its path; None where it is gone or not to be read.
    """
    dated = with_standards(settings, book)
    return tuple(_cut_out(look, dated, file_of) for look in looks_of(book, skull))


def _cut_out(look: Look, settings: ReadSettings, file_of: Callable[[str], Path | None]) -> CutOut:
    for side in _largest_first(look.sides):
        file = file_of(side.photo_path) if side.photo_path else None
        picture = _picture(side, file, settings) if file else None
        if picture is not None:
            rgb, mask = picture
            return CutOut(look=look, rgb=rgb, mask=mask)
    return CutOut(look=look, rgb=None, mask=None)


def _largest_first(sides: Sequence[LoggedReading]) -> list[LoggedReading]:
    return sorted(sides, key=lambda side: side.bone_area_mm2 or 0, reverse=True)


def _picture(
    side: LoggedReading, file: Path, settings: ReadSettings
) -> tuple[NDArray[np.uint8], BoolArray] | None:
    own = replace(settings, drawn=drawn_of(side.drawn), tub=side.tub)
    view = view_photo(file, own)
    found = view.card or view.bone
    return None if found is None else (_srgb(found.xyz), found.mask)


def _srgb(xyz: FloatArray) -> NDArray[np.uint8]:
    linear = np.clip(xyz / 100 @ LINEAR_FROM_XYZ.T, 0, 1)
    return np.asarray(np.rint(255 * srgb_of_linear(linear)), dtype=np.uint8)
