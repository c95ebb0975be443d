"""Reads one photo at a time for the live page; what only a person can tell is left open."""

from __future__ import annotations

import os
import threading
from contextlib import contextmanager
from dataclasses import dataclass, replace
from io import BytesIO
from typing import TYPE_CHECKING

from greasecheck.errors import LiveError
from greasecheck.garage.standards import with_standards
from greasecheck.logbook.store.book import Logbook
from greasecheck.measure.checks.verdict import requirement, verdict_of
from greasecheck.measure.reading import view_photo
from greasecheck.model import BoneState, TimeSource
from greasecheck.report.overlay import draw_overlay

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime
    from pathlib import Path

    from greasecheck.measure.reading import ReadSettings
    from greasecheck.model import Reading

WAIT_S = 20.0
OVERLAY_QUALITY = 85
# Checks of what the page asks the person instead, if need be.
TIME_CHECK, TUB_CHECK = "time_from_camera", "tub_tag_seen"


class BusyError(LiveError):
    """Another photo is being read and does not end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
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
        When it was taken, for a photo that does not tell; zone-aware.
    """

    tub: int | None = None
    state: BoneState = BoneState.BLOTTED
    dilution: float = 1.0
    taken_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A photo's reading and the picture of what was found (a JPEG file's content).

    The reading's time is None when neither the photo nor a person tells it; `is_picture` is
    False for a file that could not be opened.
    """

    reading: Reading
    overlay: bytes
    is_picture: bool


class Measurer:
    """Reads photos, one at a time, by the standards that the logbook has in force.

    Parameters
    ----------
    logbook : pathlib.Path
        The logbook.
    settings : ReadSettings
        As the command line named them.
    """

    def __init__(self, logbook: Path, settings: ReadSettings) -> None:
        self._logbook = logbook
        self._settings = settings
        self._lock = threading.Lock()

    def measure(self, path: Path, told: Told) -> Measured:
        """Read a photo.

        Parameters
        ----------
        path : pathlib.Path
            The file; when `told` holds a time, it becomes the file's own.
        told : Told
            What a person says of it.

        Raises
        ------
        BusyError
            When others are read all the time.
        """
        if told.taken_at is not None:
            os.utime(path, (told.taken_at.timestamp(),) * 2)
        with self._alone():
            view = view_photo(path, self._settings_for(told))
            reading = _asked(view.reading, told)
            content = BytesIO()
            draw_overlay(replace(view, reading=reading)).save(
                content, format="JPEG", quality=OVERLAY_QUALITY
            )
        return Measured(
            reading=reading, overlay=content.getvalue(), is_picture=view.photo is not None
        )

    @contextmanager
    def _alone(self) -> Iterator[None]:
        if not self._lock.acquire(timeout=WAIT_S):
            raise BusyError(
                "other photos are being read; this one was not taken in",
                hint="send it again in a few seconds",
            )
        try:
            yield
        finally:
            self._lock.release()

    def _settings_for(self, told: Told) -> ReadSettings:
        named = replace(
            self._settings,
            jar=replace(self._settings.jar, dilution=told.dilution),
            bone_state=told.state,
            tub=told.tub,
        )
        with Logbook(self._logbook) as book:
            return with_standards(named, book)


def _asked(reading: Reading, told: Told) -> Reading:
    """Leave open what the photo does not tell, and take what a person told instead."""
    checks = tuple(check for check in reading.checks if check.passed or check.name != TUB_CHECK)
    taken_at, source = reading.taken_at, reading.time_source
    if source is TimeSource.FILE:
        checks = tuple(check for check in checks if check.name != TIME_CHECK)
        taken_at, source = told.taken_at, None
        if taken_at is not None:
            source = TimeSource.HAND
            checks = (requirement("time_given_by_hand", True, ""), *checks)
    return replace(
        reading, checks=checks, verdict=verdict_of(checks), taken_at=taken_at, time_source=source
    )
