"""One round after the other: take, keep, read, log, and notice what a person should know."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from datetime import timedelta
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from greasecheck.errors import GreasecheckError, PhotoError
from greasecheck.logbook.changes import newest_probable
from greasecheck.logbook.readings.photos import LogSettings, Outcome, log_photos
from greasecheck.logbook.readings.readings import list_readings
from greasecheck.logbook.water.baths import bath_at

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from datetime import datetime
    from pathlib import Path

    from numpy.typing import NDArray

    from greasecheck.logbook.readings.photos import Logged
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.measure.reading import PhotoView

PREFIX = "round-"
QUALITY = 95
EXIF_TIME, EXIF_OFFSET, EXIF_DETAIL = 0x9003, 0x9011, 0x8769  # CIPA DC-008-2023, section 4.6.5
FALLEN_MM = 8.0  # a level this much below its highest since the filling; evaporation of some days
MOVED_SHARE = 0.04  # of the picture's longest side; a lens or shelf that gives way moves less


class NoticeKind(StrEnum):
    """What a person should know of a round."""

    NO_PICTURE = "no picture"
    NOT_KEPT = "not kept"
    NO_LADDER = "no ladder"
    MOVED = "camera moved"
    WATER_CHANGED = "water changed"
    LEVEL_FALLS = "level falls"


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """Something to know: of what kind, of which tub, how much [mm], and details of a failure."""

    kind: NoticeKind
    tub: int | None = None
    amount_mm: float | None = None
    problem: str = ""
    hint: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """What a round gave."""

    at: datetime
    picture: Path | None
    logged: tuple[Logged, ...]
    notices: tuple[Notice, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundSettings:
    """How rounds are made.

    Attributes
    ----------
    folder : pathlib.Path
        Where pictures are kept.
    keep : datetime.timedelta
        How long.
    take : callable
        Gives a picture in R, G, B; raises PhotoError when there is none.
    view : callable
        Reads a picture's file.
    """

    folder: Path
    keep: timedelta
    take: Callable[[], NDArray[np.uint8]]
    view: Callable[[Path], PhotoView]


@dataclass(slots=True)
class Watch:
    """What a round remembers of those before: where each ladder hung, what was told."""

    places: dict[int, NDArray[np.float64]] = field(default_factory=dict)
    told: set[tuple[str, int | None, str]] = field(default_factory=set)


def do_round(book: Logbook, settings: RoundSettings, watch: Watch, at: datetime) -> Round:
    """Do one round; what fails is a notice, and the next round tries again.

    Parameters
    ----------
    book : Logbook
        Where readings go.
    settings : RoundSettings
        How.
    watch : Watch
        What is remembered from round to round; it is changed.
    at : datetime.datetime
        The time of the picture, zone-aware.
    """
    try:
        pixels = settings.take()
    except PhotoError as error:
        return _failed(at, NoticeKind.NO_PICTURE, error)
    try:
        path = _keep(settings.folder, pixels, at)
    except OSError as error:
        trouble = PhotoError(
            f"the picture cannot be kept in {settings.folder}: {error.strerror or error}",
            hint="make room on the disk; the next round tries again",
        )
        return _failed(at, NoticeKind.NOT_KEPT, trouble)
    done = _read(book, settings, watch, path, at)
    _forget_old(settings, at, path, done)
    return done


def _failed(at: datetime, kind: NoticeKind, error: PhotoError) -> Round:
    notice = Notice(kind=kind, problem=error.problem, hint=error.hint)
    return Round(at=at, picture=None, logged=(), notices=(notice,))


def _keep(folder: Path, pixels: NDArray[np.uint8], at: datetime) -> Path:
    """Write a picture with its time, whole or not at all."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{PREFIX}{at:%Y%m%d-%H%M%S}.jpg"
    draft = path.with_suffix(".part")
    exif = Image.Exif()
    detail = exif.get_ifd(EXIF_DETAIL)
    detail[EXIF_TIME] = f"{at:%Y:%m:%d %H:%M:%S}"
    detail[EXIF_OFFSET] = f"{at:%z}"[:3] + ":" + f"{at:%z}"[3:5]
    try:
        with draft.open("wb") as file:
            Image.fromarray(pixels).save(file, format="JPEG", quality=QUALITY, exif=exif)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(path)
    except BaseException:
        draft.unlink(missing_ok=True)
        raise
    return path


def _read(book: Logbook, settings: RoundSettings, watch: Watch, path: Path, at: datetime) -> Round:
    seen = settings.view(path)
    moved = _moved(watch, seen)

    def measured(_: Sequence[Path]) -> Iterable[Sequence[object]]:
        return [seen.readings]

    try:
        logged = tuple(log_photos(book, [path], measured, LogSettings(present=at)))  # type: ignore[arg-type]
    except GreasecheckError as error:
        trouble = PhotoError(error.problem, hint=error.hint)
        return _failed(at, NoticeKind.NOT_KEPT, trouble)
    notices = [*moved, *_tub_notices(book, watch, logged, at)]
    if not seen.ladders:
        notices.append(Notice(kind=NoticeKind.NO_LADDER))
    return Round(at=at, picture=path, logged=logged, notices=tuple(notices))


def _moved(watch: Watch, seen: PhotoView) -> list[Notice]:
    """Compare where each ladder hangs with where it hung; several that moved are the camera."""
    if seen.photo is None:
        return []
    longest = max(seen.photo.pixels.shape[:2])
    places = {view.tub: view.outline_px for view in seen.ladders if view.tub is not None}
    known = [tub for tub in places if tub in watch.places]
    shifts = [np.abs(places[tub] - watch.places[tub]).max() / longest for tub in known]
    watch.places |= places
    away = bool(shifts) and float(np.median(shifts)) > MOVED_SHARE
    return [Notice(kind=NoticeKind.MOVED)] if away else []


def _tub_notices(
    book: Logbook, watch: Watch, logged: Sequence[Logged], at: datetime
) -> list[Notice]:
    tubs = sorted({one.tub for one in logged if one.tub is not None and _is_logged(one)})
    found = [notice for tub in tubs for notice in (*_change(book, tub), *_level(book, tub, at))]
    fresh = []
    for notice, mark in found:
        key = (str(notice.kind), notice.tub, mark)
        if key not in watch.told:
            watch.told.add(key)
            fresh.append(notice)
    return fresh


def _is_logged(one: Logged) -> bool:
    return one.outcome is Outcome.LOGGED


def _change(book: Logbook, tub: int) -> list[tuple[Notice, str]]:
    """Return the newest fall of the haze that no entry explains, with what marks it as told."""
    change = newest_probable(book, tub)
    if change is None:
        return []
    notice = Notice(kind=NoticeKind.WATER_CHANGED, tub=tub)
    return [(notice, change.latest.isoformat())]


def _level(book: Logbook, tub: int, at: datetime) -> list[tuple[Notice, str]]:
    """Return how far the water stands below its highest since the bath was filled."""
    bath = bath_at(book, tub, at)
    if bath is None:
        return []
    levels = [
        one.level_mm
        for one in list_readings(book, tub, since=bath.filled_at)
        if one.level_mm is not None
    ]
    fallen = max(levels) - levels[-1] if levels else 0.0
    if fallen < FALLEN_MM:
        return []
    notice = Notice(kind=NoticeKind.LEVEL_FALLS, tub=tub, amount_mm=fallen)
    return [(notice, f"{bath.filled_at.isoformat()} {fallen // FALLEN_MM:.0f}")]


def _forget_old(settings: RoundSettings, at: datetime, path: Path, done: Round) -> None:
    """Keep the day's first picture and those of changes, as long as the user says."""
    told = {notice.kind for notice in done.notices}
    first = f"{PREFIX}{at:%Y%m%d}"
    others = [one for one in settings.folder.glob(f"{first}-*.jpg") if one != path]
    if others and NoticeKind.WATER_CHANGED not in told:
        path.unlink(missing_ok=True)
    oldest = f"{PREFIX}{at - settings.keep:%Y%m%d-%H%M%S}"
    for one in settings.folder.glob(f"{PREFIX}*.jpg"):
        if one.stem < oldest:
            one.unlink(missing_ok=True)
