"""Reads the photos of the live page in a process of its own, so that no page waits for it."""

from __future__ import annotations

import os
import threading
from collections import deque
from concurrent.futures import BrokenExecutor, Future
from concurrent.futures import TimeoutError as LateError
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import partial
from io import BytesIO
from typing import TYPE_CHECKING

from greasecheck.errors import LiveError
from greasecheck.garage.standards import with_standards
from greasecheck.live.photos.strips import strip_content
from greasecheck.logbook.readings.photo_rules import is_ahead
from greasecheck.logbook.store.book import Logbook
from greasecheck.measure.checks.verdict import requirement, verdict_of
from greasecheck.measure.reading import view_photo
from greasecheck.measure.workers import begin_worker, process_pool
from greasecheck.model import BoneState, TimeSource
from greasecheck.report.overlay import draw_overlay, photo_px_per_shown

if TYPE_CHECKING:
    from collections.abc import Callable
    from concurrent.futures import Executor
    from pathlib import Path
    from typing import Any, TypeVar

    from greasecheck.measure.reading import ReadSettings
    from greasecheck.model import Drawn, Reading

    Result = TypeVar("Result")

WAIT_S = 20.0
OVERLAY_QUALITY = 85
KINDER = 5  # how much less of the processor a reading gets than the page, see nice(2)
MOST_TRIES = 2  # a process can be killed for its memory by another's need
# Checks of what the page asks the person instead, if need be.
TIME_CHECK, TUB_CHECK = "time_from_camera", "tub_tag_seen"


class BusyError(LiveError):
    """Another photo is being read and does not end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoFacts:
    """What a person says of a photo.

    Attributes
    ----------
    tub : int or None
        Its tub; None for that of the tag.
    state : BoneState
        How wet the bone is.
    dilution : float
        Volume after over volume before dilution, at least 1.
    taken_at : datetime.datetime or None
        When it was taken, for a photo without a time or with one yet to come; zone-aware.
    drawn : tuple of Drawn
        Corrections of what is bone.
    """

    tub: int | None = None
    state: BoneState = BoneState.BLOTTED
    dilution: float = 1.0
    taken_at: datetime | None = None
    drawn: tuple[Drawn, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A photo's reading and the picture of what was found (a JPEG file's content).

    The reading's time is None when neither the photo nor a person gives a possible one;
    `is_picture` is False for a file that could not be opened. One pixel of the picture, below a
    band of `BAND_PX`, shows `px_per_shown` of the photo. `others` are its further readings, such
    as that of bone beside a card.
    """

    reading: Reading
    overlay: bytes
    is_picture: bool
    px_per_shown: float = 1.0
    others: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Task:
    work: Callable[[], Any]
    future: Future[Any]
    tries: int = 0


class Measurer:
    """Reads photos one after another, by the standards that the logbook has in force.

    Parameters
    ----------
    logbook : pathlib.Path
        The logbook.
    settings : ReadSettings
        As the command line named them.
    make_executor : callable
        Gives what the work is done by.
    """

    def __init__(
        self, logbook: Path, settings: ReadSettings, make_executor: Callable[[], Executor]
    ) -> None:
        self._logbook = logbook
        self._settings = settings
        self._make_executor = make_executor
        self._executor: Executor | None = None
        self._lock = threading.RLock()  # a future that is done already calls back at once
        self._waiting: deque[_Task] = deque()
        self._running = False

    def begin(self, path: Path, facts: PhotoFacts, *, first: bool = False) -> Future[Measured]:
        """Have a photo read when its turn comes.

        Parameters
        ----------
        path : pathlib.Path
            The file; when `facts` holds a time, it becomes the file's own.
        facts : PhotoFacts
            What a person says of it.
        first : bool
            Whether somebody waits for it, so that it goes before all others.
        """
        work = partial(measure_photo, self._logbook, self._settings, path, facts)
        return self._put(work, first=first)

    def measure(self, path: Path, facts: PhotoFacts) -> Measured:
        """Read a photo at once, before those that wait; parameters as for `begin`.

        Raises
        ------
        BusyError
            When another does not end.
        """
        return self._result(self.begin(path, facts, first=True))

    def look_back(self, skull: str, photos: Path) -> bytes | None:
        """Draw a skull's looks side by side before what waits is read.

        Parameters
        ----------
        skull : str
            Its name.
        photos : pathlib.Path
            Folder of the photos that may be shown.

        Returns
        -------
        bytes or None
            A PNG file's content; None when no reading names the skull.

        Raises
        ------
        BusyError
            As for `measure`.
        """
        work = partial(strip_content, self._logbook, self._settings, skull, photos)
        return self._result(self._put(work, first=True))

    def _put(self, work: Callable[[], Result], *, first: bool) -> Future[Result]:
        task = _Task(work=work, future=Future())
        with self._lock:
            (self._waiting.appendleft if first else self._waiting.append)(task)
        self._next()
        return task.future

    @staticmethod
    def _result(future: Future[Result]) -> Result:
        try:
            return future.result(timeout=WAIT_S)
        except LateError as error:
            future.cancel()
            raise BusyError(
                "other photos are being read; nothing was logged",
                hint="try it again in a few seconds",
            ) from error

    def warm_up(self) -> None:
        """Begin the process, so that the first photo does not wait for it."""
        with self._lock:
            self._worker().submit(int)

    def close(self) -> None:
        """Stop once what runs is done; what waits is dropped."""
        with self._lock:
            self._waiting.clear()
            executor, self._executor = self._executor, None
        if executor is not None:
            executor.shutdown(cancel_futures=True)

    def _worker(self) -> Executor:
        if self._executor is None:
            self._executor = self._make_executor()
        return self._executor

    def _next(self) -> None:
        """Begin the next photo unless one is being read."""
        with self._lock:
            while self._waiting and self._waiting[0].future.cancelled():
                self._waiting.popleft()
            if self._running or not self._waiting:
                return
            task = self._waiting.popleft()
            self._running = True
            try:
                running = self._worker().submit(task.work)
            except (OSError, RuntimeError) as error:  # it died, or no other can be started
                running = Future()
                running.set_exception(BrokenExecutor(*error.args))
        running.add_done_callback(partial(self._take, task))

    def _take(self, task: _Task, running: Future[Measured]) -> None:
        with self._lock:
            self._running = False
            if not running.cancelled():
                self._settle(task, running)
        self._next()

    def _settle(self, task: _Task, running: Future[Measured]) -> None:
        fault = running.exception()
        if isinstance(fault, BrokenExecutor):
            self._executor = None
            if task.tries + 1 < MOST_TRIES:
                self._waiting.appendleft(replace(task, tries=task.tries + 1))
                return
            fault = LiveError("it could not be read", hint="make it smaller, or take it again")
        if not task.future.set_running_or_notify_cancel():
            return
        if fault is None:
            task.future.set_result(running.result())
        else:
            task.future.set_exception(fault)


def one_reader() -> Executor:
    """Return a process of its own to read in, which leaves the page its share of the processor."""
    return process_pool(1, begin=_begin_reader)


def _begin_reader() -> None:
    begin_worker()
    if hasattr(os, "nice"):
        os.nice(KINDER)


def measure_photo(logbook: Path, settings: ReadSettings, path: Path, facts: PhotoFacts) -> Measured:
    """Read a photo by the standards in force, and draw what was found; runs in a worker."""
    if facts.taken_at is not None:
        os.utime(path, (facts.taken_at.timestamp(),) * 2)
    view = view_photo(path, _settings_for(logbook, settings, facts))
    reading = _asked(view.reading, facts)
    content = BytesIO()
    picture = draw_overlay(replace(view, reading=reading))
    picture.save(content, format="JPEG", quality=OVERLAY_QUALITY)
    return Measured(
        reading=reading,
        overlay=content.getvalue(),
        is_picture=view.photo is not None,
        px_per_shown=photo_px_per_shown(view),
        others=tuple(_asked(one, facts) for one in view.others),
    )


def _settings_for(logbook: Path, settings: ReadSettings, facts: PhotoFacts) -> ReadSettings:
    named = replace(
        settings,
        jar=replace(settings.jar, dilution=facts.dilution),
        bone_state=facts.state,
        tub=facts.tub,
        drawn=facts.drawn,
    )
    with Logbook(logbook) as book:
        return with_standards(named, book)


def _asked(reading: Reading, facts: PhotoFacts) -> Reading:
    """Leave open what the photo does not show, and take what a person said instead."""
    checks = tuple(check for check in reading.checks if check.passed or check.name != TUB_CHECK)
    taken_at, source = reading.taken_at, reading.time_source
    is_later = taken_at is not None and is_ahead(taken_at, datetime.now(UTC))
    if source is TimeSource.FILE or is_later:
        checks = tuple(check for check in checks if check.name != TIME_CHECK)
        taken_at, source = facts.taken_at, None
        if taken_at is not None:
            source = TimeSource.HAND
            checks = (requirement("time_given_by_hand", True), *checks)
    return replace(
        reading, checks=checks, verdict=verdict_of(checks), taken_at=taken_at, time_source=source
    )
