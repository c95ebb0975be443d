"""Logs photos: each read once, each reading committed by itself, safe to stop and run again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from enum import StrEnum
from typing import TYPE_CHECKING

from greasecheck import __version__
from greasecheck.errors import PhotoError
from greasecheck.logbook.readings.copies import find_original, keep_copy, original_of
from greasecheck.logbook.readings.corrections import renew_reading
from greasecheck.logbook.readings.earlier_looks import flag_unlike
from greasecheck.logbook.readings.photo_rules import flag_early, require_usable
from greasecheck.logbook.readings.readings import insert_reading, reading_under, readings_of_photo
from greasecheck.logbook.skulls.stays import skulls_in
from greasecheck.logbook.skulls.tags import last_tub, skull_with_tag
from greasecheck.logbook.store.book import EntryKind
from greasecheck.logbook.store.mapping import stored
from greasecheck.logbook.store.tables import ATTEMPTS
from greasecheck.logbook.store.times import now, to_text
from greasecheck.logbook.water.baths import tub_start
from greasecheck.measure.photo.file import file_sha256, printable
from greasecheck.model import ReadingKind

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
    from datetime import datetime
    from pathlib import Path

    from greasecheck.logbook.records import LoggedReading
    from greasecheck.logbook.store.book import Entry, Logbook
    from greasecheck.logbook.store.columns import Value
    from greasecheck.model import Reading

    MeasureAll = Callable[[Sequence[Path]], Iterable[Sequence[Reading]]]

UNREADABLE = "path:"  # before the path of a file that has no digest


class Outcome(StrEnum):
    """What became of a photo."""

    LOGGED = "logged"
    KNOWN = "known"
    RENEWED = "renewed"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """What became of one reading of a photo.

    Attributes
    ----------
    path : pathlib.Path
        The photo.
    outcome : Outcome
        Whether its reading was logged, had been, was corrected or refused.
    reading : Reading or None
        The reading as logged or refused; None when it was not measured.
    known : LoggedReading or None
        What had been logged before.
    tub : int or None
        The tub it was logged for.
    new_tub : bool
        Whether that tub had never been entered and now stands there unnamed.
    problem, hint : str
        For a refused photo, what is wrong and what to do; otherwise empty.
    repeated : bool
        Whether it was refused before for the same cause.
    """

    path: Path
    outcome: Outcome
    reading: Reading | None = None
    known: LoggedReading | None = None
    tub: int | None = None
    new_tub: bool = False
    problem: str = ""
    hint: str = ""
    repeated: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LogSettings:
    """How photos are logged.

    Attributes
    ----------
    skull : str or None
        The skull on the rest.
    shift : datetime.timedelta
        Added to every photo's time, for a camera whose clock is wrong.
    again : bool
        Measure photos that are logged too, and correct their readings to what is found now.
    present : datetime.datetime or None
        What counts as now: photos may not lie in its future. None for the computer's time.
    """

    skull: str | None = None
    shift: timedelta = timedelta(0)
    again: bool = False
    present: datetime | None = None


def log_photos(
    book: Logbook, paths: Iterable[Path], measure_all: MeasureAll, settings: LogSettings
) -> Iterator[Logged]:
    """Measure and log photos, telling what became of each once it is safely written.

    A photo with a logged reading is not measured again, so a stopped run is simply repeated.
    A refused one is kept as an attempt, never as a reading, and tried again next time.

    Parameters
    ----------
    book : Logbook
        Where to log.
    paths : iterable of pathlib.Path
        The photos.
    measure_all : callable
        Takes a sequence of paths and gives the readings of each in order, such as
        `measure.many.map_photos` with its work filled in.
    settings : LogSettings
        How they are logged.

    Yields
    ------
    Logged
        One for each reading of each path, those that are known or cannot be read first.

    Raises
    ------
    LogbookError
        When the logbook refuses an entry; what was yielded before is safe.
    """
    run, unknown = _Run(book, settings), []
    for path in paths:
        try:
            sha256 = file_sha256(path)
        except PhotoError as error:
            yield run.refuse_unreadable(path, error)
            continue
        settled = () if settings.again else readings_of_photo(book, original_of(book, sha256))
        yield from (_known(path, one) for one in settled)
        if not settled:
            unknown.append(path)
    for path, readings in zip(unknown, measure_all(unknown), strict=True):
        yield from run.take_all(path, readings)


def _known(path: Path, known: LoggedReading) -> Logged:
    return Logged(path=path, outcome=Outcome.KNOWN, known=known, tub=known.tub)


class _Run:
    """One run over photos; all its rows belong to one entry of the logbook."""

    def __init__(self, book: Logbook, settings: LogSettings) -> None:
        self._book = book
        self._settings = settings
        self._entry: int | None = None

    def take_all(self, path: Path, measured: Sequence[Reading]) -> list[Logged]:
        """Log the readings of a photo, or keep the attempts, all of them or none."""
        with self._book.entry("photos read", EntryKind.READ, resume=self._entry) as entry:
            prepared = [self._prepared(one) for one in measured]
            original = self._original(prepared)
            if original is None:
                taken = [self._take(entry, path, one) for one in prepared]
            else:
                keep_copy(entry, path, prepared[0].photo_sha256, original)
                taken = [self._take_copy(entry, path, one, original) for one in prepared]
        self._entry = entry.number
        return taken

    def refuse_unreadable(self, path: Path, error: PhotoError) -> Logged:
        """Keep the attempt at a file that cannot even be read, each under its own path."""
        shown = printable(path)
        attempt: dict[str, Value] = {
            "photo_sha256": f"{UNREADABLE}{shown}",
            "photo_path": shown,
            "tried_at": to_text(now()),
            "problem": printable(error.problem),
            "hint": error.hint,
            "software_version": __version__,
        }
        with self._book.entry("photos read", EntryKind.READ, resume=self._entry) as entry:
            repeated = _keep_attempt(entry, attempt)
        self._entry = entry.number
        return Logged(
            path=path,
            outcome=Outcome.REFUSED,
            problem=error.problem,
            hint=error.hint,
            repeated=repeated,
        )

    def _original(self, readings: Sequence[Reading]) -> str | None:
        """Return the digest of the logged photo that this one is a copy of; None for a new one."""
        found = (find_original(self._book, reading) for reading in readings)
        return next((original for original in found if original is not None), None)

    def _take_copy(self, entry: Entry, path: Path, reading: Reading, original: str) -> Logged:
        """Return what is known of a copy, which holds less than the original, even when again."""
        known = reading_under(self._book, replace(reading, photo_sha256=original).key)
        return self._take(entry, path, reading) if known is None else _known(path, known)

    def _take(self, entry: Entry, path: Path, reading: Reading) -> Logged:
        try:
            require_usable(reading, self._settings.present)
        except PhotoError as error:
            return _refuse(entry, path, reading, error)
        return self._log(entry, path, reading)

    def _prepared(self, reading: Reading) -> Reading:
        taken_at = reading.taken_at and reading.taken_at + self._settings.shift
        return replace(reading, taken_at=taken_at, tub=self._tub_of(reading, taken_at))

    def _tub_of(self, reading: Reading, at: datetime | None) -> int | None:
        """Return the reading's tub; for a skull known by its own tag, that it lay in last."""
        if reading.tub is not None or reading.skull_tag is None or at is None:
            return reading.tub
        skull = skull_with_tag(self._book, reading.skull_tag)
        return last_tub(self._book, skull, at) if skull else None

    def _skull_of(self, reading: Reading) -> str | None:
        """Return the skull: as told, by its own tag, or for bone alone the only one in the tub."""
        if self._settings.skull is not None or reading.taken_at is None:
            return self._settings.skull
        if reading.skull_tag is not None:
            return skull_with_tag(self._book, reading.skull_tag)
        if reading.kind is not ReadingKind.BONE or reading.tub is None:
            return None
        there = skulls_in(self._book, reading.tub, reading.taken_at)
        return there[0] if len(there) == 1 else None

    def _log(self, entry: Entry, path: Path, reading: Reading) -> Logged:
        assert reading.tub is not None
        early = flag_early(reading, tub_start(self._book, reading.tub))
        checked = flag_unlike(self._book, early, self._settings.skull)
        # The same photo may have two names, or another process may have been first.
        known = reading_under(self._book, reading.key)
        if known is not None and not self._settings.again:
            return _known(path, known)
        write = insert_reading if known is None else renew_reading
        new_tub = write(entry, checked, reading.tub, self._skull_of(reading))
        return Logged(
            path=path,
            outcome=Outcome.LOGGED if known is None else Outcome.RENEWED,
            reading=checked,
            known=known,
            tub=reading.tub,
            new_tub=new_tub,
        )


def _refuse(entry: Entry, path: Path, reading: Reading, error: PhotoError) -> Logged:
    attempt: dict[str, Value] = {
        "photo_sha256": reading.key,
        "photo_path": reading.photo_path,
        "tried_at": to_text(now()),
        "tub": reading.tub,
        "taken_at": stored(reading.taken_at),
        "problem": error.problem,
        "hint": error.hint,
        "software_version": reading.software_version,
    }
    repeated = _keep_attempt(entry, attempt)
    return Logged(
        path=path,
        outcome=Outcome.REFUSED,
        reading=reading,
        tub=reading.tub,
        problem=error.problem,
        hint=error.hint,
        repeated=repeated,
    )


def _keep_attempt(entry: Entry, attempt: Mapping[str, Value]) -> bool:
    """Keep an attempt; return whether the same was found before."""
    repeated = _tried_alike(entry, attempt)
    if not repeated:
        entry.put(ATTEMPTS, attempt)
    return repeated


def _tried_alike(entry: Entry, attempt: Mapping[str, Value]) -> bool:
    """Return whether the same was found before; then there is nothing to write, nor to undo."""
    before = entry.row(ATTEMPTS, (attempt["photo_sha256"],))
    if before is None:
        return False
    known = dict(zip(ATTEMPTS.names, before, strict=True))
    blank = dict.fromkeys(ATTEMPTS.names)
    return {**blank, **attempt, "tried_at": known["tried_at"]} == known
