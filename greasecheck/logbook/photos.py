"""Logs photos: each read once, each reading committed by itself, safe to stop and run again."""

from __future__ import annotations

import hashlib
from collections import deque
from dataclasses import dataclass, replace
from datetime import timedelta
from enum import StrEnum
from typing import TYPE_CHECKING

from greasecheck import __version__
from greasecheck.errors import GreasecheckError, LogbookError
from greasecheck.logbook.book import EntryKind
from greasecheck.logbook.checks import checks_text
from greasecheck.logbook.mapping import stored
from greasecheck.logbook.readings import insert_reading, is_logged
from greasecheck.logbook.tables import ATTEMPTS, READINGS
from greasecheck.logbook.times import now, to_text
from greasecheck.logbook.water import tub_start
from greasecheck.logbook.workers import Pool
from greasecheck.model import Check, Reading, Verdict

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from contextlib import AbstractContextManager
    from pathlib import Path

    from greasecheck.logbook.book import Entry, Logbook

    Measure = Callable[[Path], Reading]

CLOCK_SLACK = timedelta(minutes=10)  # own choice: clocks of camera and computer differ a little


class Outcome(StrEnum):
    """What became of a photo."""

    LOGGED = "logged"
    KNOWN = "already logged"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """What became of one photo.

    Attributes
    ----------
    path : pathlib.Path
        The photo.
    outcome : Outcome
        Whether its reading was logged, had been, or was refused.
    reading : Reading or None
        The reading as logged or refused; None when it was known or could not be measured.
    tub : int or None
        The tub it was logged for.
    new_tub : bool
        Whether that tub had never been entered and now stands there unnamed.
    problem, hint : str
        For a refused photo, what is wrong and what to do; otherwise empty.
    """

    path: Path
    outcome: Outcome
    reading: Reading | None = None
    tub: int | None = None
    new_tub: bool = False
    problem: str = ""
    hint: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogSettings:
    """How photos are logged.

    Attributes
    ----------
    tub : int or None
        The tub, when no tag says it; overrides the tag.
    skull : str or None
        The skull on the rest.
    shift : datetime.timedelta
        Added to every photo's time, for a camera whose clock is wrong.
    workers : int
        Processes that measure; 1 measures in this one.
    """

    tub: int | None = None
    skull: str | None = None
    shift: timedelta = timedelta(0)
    workers: int = 1


def log_photos(
    book: Logbook, paths: Iterable[Path], measure: Measure, settings: LogSettings
) -> Iterator[Logged]:
    """Measure and log photos, telling what became of each once it is safely written.

    A photo whose SHA-256 is logged is not measured again, so a stopped run is simply repeated.
    A refused photo is kept as an attempt, never as a reading, and tried again next time.

    Parameters
    ----------
    book : Logbook
        Where to log.
    paths : iterable of pathlib.Path
        The photos.
    measure : callable
        Turns a path into a Reading or raises a GreasecheckError; must be picklable when
        `settings.workers` is more than 1.
    settings : LogSettings
        How they are logged.

    Yields
    ------
    Logged
        One for each path, in their order.

    Raises
    ------
    LogbookError
        When the logbook refuses an entry; what was yielded before is safe.
    """
    run = _Run(book, settings)
    with Pool(measure, settings.workers) as pool:
        waiting: deque[_Ticket | Logged] = deque()
        for path in paths:
            waiting.append(run.start(pool, path))
            if len(waiting) >= 2 * settings.workers:
                yield run.finish(waiting.popleft())
        while waiting:
            yield run.finish(waiting.popleft())


@dataclass(frozen=True, slots=True)
class _Ticket:
    path: Path
    sha256: str
    result: Callable[[], Reading]


class _Run:
    """One run over photos; all its rows belong to one entry of the logbook."""

    def __init__(self, book: Logbook, settings: LogSettings) -> None:
        self._book = book
        self._settings = settings
        self._entry: int | None = None

    def start(self, pool: Pool, path: Path) -> _Ticket | Logged:
        try:
            sha256 = file_sha256(path)
        except LogbookError as error:
            return _refused(path, None, error)
        if is_logged(self._book, sha256):
            return Logged(path=path, outcome=Outcome.KNOWN)
        return _Ticket(path, sha256, pool.submit(path))

    def finish(self, ticket: _Ticket | Logged) -> Logged:
        if isinstance(ticket, Logged):
            return ticket
        try:
            reading = self._prepared(ticket.result())
        except GreasecheckError as error:
            return self._refuse(ticket, None, error)
        try:
            self._require_usable(reading)
        except GreasecheckError as error:
            return self._refuse(ticket, reading, error)
        return self._log(ticket.path, reading)

    def _prepared(self, reading: Reading) -> Reading:
        taken_at = reading.taken_at and reading.taken_at + self._settings.shift
        tub = reading.tub if self._settings.tub is None else self._settings.tub
        return replace(reading, taken_at=taken_at, tub=tub)

    def _require_usable(self, reading: Reading) -> None:
        if reading.verdict is Verdict.REFUSED:
            raise _why_refused(reading)
        if reading.water is None and reading.bone is None:
            raise LogbookError(
                "the photo shows neither a jar of water nor a bone",
                hint="stand the jar before the sight, or lay the bone on the rest",
            )
        if reading.tub is None:
            raise LogbookError(
                "no tub tag hangs in the slot", hint="name the tub by --tub, or take it again"
            )
        _require_time(reading)

    def _log(self, path: Path, reading: Reading) -> Logged:
        assert reading.tub is not None
        checked = self._flagged(reading, reading.tub)
        with self._entry_open() as entry:
            self._entry = entry.number
            if entry.row(READINGS, (checked.photo_sha256,)) is not None:
                return Logged(path=path, outcome=Outcome.KNOWN)
            new_tub = insert_reading(entry, checked, reading.tub, self._settings.skull)
        return Logged(
            path=path, outcome=Outcome.LOGGED, reading=checked, tub=reading.tub, new_tub=new_tub
        )

    def _flagged(self, reading: Reading, tub: int) -> Reading:
        """Make a reading from before the tub's first day doubtful."""
        start = tub_start(self._book, tub)
        if start is None or reading.taken_at is None or reading.taken_at >= start:
            return reading
        check = Check(
            name="before_tub_start_h",
            value=(start - reading.taken_at).total_seconds() / 3600,
            limit=0.0,
            passed=False,
            hard=False,
            advice=(
                f"taken before the first day of tub {tub}: enter its earlier baths, or correct the"
                " camera's clock by --shift"
            ),
        )
        return replace(reading, checks=(*reading.checks, check), verdict=Verdict.DOUBTFUL)

    def _refuse(self, ticket: _Ticket, reading: Reading | None, error: GreasecheckError) -> Logged:
        with self._entry_open() as entry:
            self._entry = entry.number
            entry.put(
                ATTEMPTS,
                {
                    "photo_sha256": ticket.sha256,
                    "photo_path": str(ticket.path),
                    "tried_at": to_text(now()),
                    "tub": reading.tub if reading else None,
                    "taken_at": stored(reading.taken_at) if reading else None,
                    "problem": error.problem,
                    "hint": error.hint,
                    "checks": checks_text(reading.checks) if reading else None,
                    "software_version": __version__,
                },
            )
        return _refused(ticket.path, reading, error)

    def _entry_open(self) -> AbstractContextManager[Entry]:
        return self._book.entry("photos read", EntryKind.READ, resume=self._entry)


def file_sha256(path: Path) -> str:
    """Return the SHA-256 of a file's bytes, hexadecimal.

    Raises
    ------
    LogbookError
        When it cannot be read.
    """
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise LogbookError(
            f"cannot read the photo {path}: {error.strerror}", hint="check its name and rights"
        ) from error


def _refused(path: Path, reading: Reading | None, error: GreasecheckError) -> Logged:
    return Logged(
        path=path,
        outcome=Outcome.REFUSED,
        reading=reading,
        tub=reading.tub if reading else None,
        problem=error.problem,
        hint=error.hint,
    )


def _why_refused(reading: Reading) -> LogbookError:
    failed = [check for check in reading.checks if check.hard and not check.passed]
    advice = "; ".join(check.advice for check in failed) or "take the photo again"
    names = ", ".join(check.name for check in failed) or "its measurement"
    return LogbookError(f"the photo is refused by {names}", hint=advice)


def _require_time(reading: Reading) -> None:
    if reading.taken_at is None:
        raise LogbookError(
            "the photo tells no time", hint="keep the camera's own file, with its EXIF data"
        )
    if reading.taken_at > now() + CLOCK_SLACK:
        raise LogbookError(
            f"the photo's time {reading.taken_at.isoformat()} lies in the future",
            hint="set the camera's clock, and read this photo with --shift, such as --shift -1h",
        )
