"""One round after the other: take, keep, read, log, notice what a person should know."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from greasecheck.errors import GreasecheckError, PhotoError
from greasecheck.garage.camera.pictures import (
    crop_picture,
    forget_old,
    keep_newest,
    keep_picture,
)
from greasecheck.logbook.readings.photos import LogSettings, Outcome, log_photos
from greasecheck.logbook.readings.readings import list_readings
from greasecheck.logbook.today import garage_today
from greasecheck.logbook.water.baths import bath_at
from greasecheck.model.camera_notices import Notice, NoticeKind

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from datetime import timedelta
    from pathlib import Path

    from numpy.typing import NDArray

    from greasecheck.logbook.readings.photos import Logged
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.measure.reading import PhotoView
    from greasecheck.model import Photo, Reading

FALLEN_MM = 8.0  # a level this much below its highest since the filling; evaporation of some days
MOVED_SHARE = 0.04  # of the picture's longest side; a lens or shelf that gives way moves less


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
    folder, newest : pathlib.Path
        Where whole pictures are kept, and the newest one of each tub.
    keep : datetime.timedelta
        How long.
    take : callable
        Gives a picture in R, G, B; raises PhotoError when there is none.
    view : callable
        Reads a picture's file.
    crop : bool
        Whether of whole pictures only the part with the ladders is kept.
    """

    folder: Path
    newest: Path
    keep: timedelta
    take: Callable[[], NDArray[np.uint8]]
    view: Callable[[Path], PhotoView]
    crop: bool = False


@dataclass(slots=True)
class Watch:
    """What a round remembers of those before: where each ladder hung, which notices were given."""

    places: dict[int, NDArray[np.float64]] = field(default_factory=dict)
    notices_given: set[tuple[str, int | None, str]] = field(default_factory=set)


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
        path = keep_picture(settings.folder, settings.take(), at)
    except PhotoError as error:
        return _failed(at, NoticeKind.NO_PICTURE, error)
    except OSError as error:
        return _failed(at, NoticeKind.NOT_KEPT, _disk_error(settings.folder, error))
    seen, done = _read(book, settings, watch, path, at)
    marked = any(notice.kind is NoticeKind.WATER_CHANGED for notice in done.notices)
    if settings.crop and seen is not None and seen.photo is not None and done.picture is not None:
        with suppress(OSError):  # the whole picture stays
            crop_picture(path, _whole(seen.photo), seen.ladders, at)
    forget_old(settings.folder, path, at, settings.keep, marked=marked)
    return done


def read_arrived(book: Logbook, settings: RoundSettings, watch: Watch, path: Path) -> Round | None:
    """Read a picture that another program took, as a round; None when it had been logged.

    Parameters
    ----------
    book, settings, watch
        As for `do_round`; the picture stays as it is, where it is.
    path : pathlib.Path
        The picture.
    """
    seen, done = _read(book, settings, watch, path, None)
    return done if seen is not None or not done.logged else None


def no_folder(error: PhotoError) -> Round:
    """Return the round in which the folder of pictures could not be looked into."""
    return _failed(datetime.now(UTC), NoticeKind.NO_PICTURE, error)


def _disk_error(folder: Path, error: OSError) -> PhotoError:
    return PhotoError(
        f"the picture cannot be kept in {folder}: {error.strerror or error}",
        hint="make room on the disk; the next round tries again",
    )


def _failed(at: datetime, kind: NoticeKind, error: GreasecheckError) -> Round:
    notice = Notice(kind=kind, problem=error.problem, hint=error.hint)
    return Round(at=at, picture=None, logged=(), notices=(notice,))


def _read(
    book: Logbook, settings: RoundSettings, watch: Watch, path: Path, at: datetime | None
) -> tuple[PhotoView | None, Round]:
    """Read and log a picture; the view is None when it had been logged before.

    Without a time `at`, that of the picture counts.
    """
    views: list[PhotoView] = []

    def measured(paths: Sequence[Path]) -> Iterator[tuple[Reading, ...]]:
        for one in paths:
            views.append(settings.view(one))
            yield views[-1].readings

    try:
        logged = tuple(log_photos(book, [path], measured, LogSettings(present=at)))
    except GreasecheckError as error:
        return None, _failed(at or datetime.now(UTC), NoticeKind.NOT_KEPT, error)
    seen = views[0] if views else None
    taken_at = at or (seen and seen.reading.taken_at) or datetime.now(UTC)
    notices = _notices(book, settings, watch, seen, logged, taken_at) if seen else ()
    return seen, Round(at=taken_at, picture=path, logged=logged, notices=notices)


def _notices(
    book: Logbook,
    settings: RoundSettings,
    watch: Watch,
    seen: PhotoView,
    logged: Sequence[Logged],
    at: datetime,
) -> tuple[Notice, ...]:
    """Keep what is newest of each tub, and return what a person should know."""
    found = [*_moved(watch, seen), *_tub_notices(book, watch, logged, at)]
    if seen.photo is None:
        return (*found, Notice(kind=NoticeKind.UNREADABLE, problem=seen.reading.checks[0].note))
    if not seen.ladders:
        return (*found, Notice(kind=NoticeKind.NO_LADDER))
    try:
        keep_newest(settings.newest, _whole(seen.photo), seen.ladders, at)
    except OSError as error:
        found += _failed(at, NoticeKind.NOT_KEPT, _disk_error(settings.newest, error)).notices
    return tuple(found)


def _whole(photo: Photo) -> NDArray[np.uint8]:
    return np.asarray(photo.pixels // (photo.full_scale // 255), dtype=np.uint8)


def _moved(watch: Watch, seen: PhotoView) -> list[Notice]:
    """Compare where each ladder hangs with where it hung; several that moved are the camera."""
    if seen.photo is None:
        return []
    longest = max(seen.photo.pixels.shape[:2])
    whole = [view for view in seen.ladders if view.is_whole]
    places = {view.tub: view.outline_px for view in whole if view.tub is not None}
    known = [tub for tub in places if tub in watch.places]
    shifts = [np.abs(places[tub] - watch.places[tub]).max() / longest for tub in known]
    watch.places |= places
    away = bool(shifts) and float(np.median(shifts)) > MOVED_SHARE
    return [Notice(kind=NoticeKind.MOVED)] if away else []


def _tub_notices(
    book: Logbook, watch: Watch, logged: Sequence[Logged], at: datetime
) -> list[Notice]:
    tubs = sorted({one.tub for one in logged if one.tub is not None and _is_logged(one)})
    found = [notice for tub in tubs for notice in (*_change(book, tub, at), *_level(book, tub, at))]
    fresh = []
    for notice, mark in found:
        key = (str(notice.kind), notice.tub, mark)
        if key not in watch.notices_given:
            watch.notices_given.add(key)
            fresh.append(notice)
    return fresh


def _is_logged(one: Logged) -> bool:
    return one.outcome is Outcome.LOGGED


def _change(book: Logbook, tub: int, at: datetime) -> list[tuple[Notice, str]]:
    """Return the newest fall of the haze that is asked about, with what marks it as such."""
    [today] = garage_today(book, at, tub)
    if not today.unentered:
        return []
    notice = Notice(kind=NoticeKind.WATER_CHANGED, tub=tub)
    return [(notice, today.unentered[-1].latest.isoformat())]


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
