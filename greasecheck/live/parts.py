"""What the live page is made of: its settings, and the parts that its views share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.live.access.forms import Forms
from greasecheck.live.access.origin import LOOPBACK
from greasecheck.live.photos.measuring import Measurer, one_reader
from greasecheck.live.photos.waiting import WaitingRoom
from greasecheck.live.tubs.weighing import Weigher, one_worker

if TYPE_CHECKING:
    from collections.abc import Callable
    from concurrent.futures import Executor
    from pathlib import Path

    from greasecheck.live.access.pairing import Pairing
    from greasecheck.measure.reading import ReadSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveSettings:
    """What the live page serves, and to whom.

    Attributes
    ----------
    logbook : pathlib.Path
        The logbook, which is there already.
    photos : pathlib.Path
        Folder in which logged photos are kept.
    waiting : pathlib.Path
        Folder of photos that wait to be logged.
    read : ReadSettings
        How photos are read.
    names : frozenset of str
        What this machine may be called in Host headers.
    pairing : Pairing or None
        Who may ask; None on the loopback alone.
    make_executor : callable
        Gives what the tubs are weighed by.
    make_reader : callable
        Gives what the photos are read by.
    """

    logbook: Path
    photos: Path
    waiting: Path
    read: ReadSettings
    names: frozenset[str] = LOOPBACK
    pairing: Pairing | None = None
    make_executor: Callable[[], Executor] = one_worker
    make_reader: Callable[[], Executor] = one_reader


@dataclass(frozen=True, slots=True, kw_only=True)
class Live:
    """The settings, and the parts that hold what happens between two requests."""

    settings: LiveSettings
    forms: Forms
    waiting: WaitingRoom
    measurer: Measurer
    weigher: Weigher


def make_live(settings: LiveSettings) -> Live:
    """Return the parts for some settings."""
    return Live(
        settings=settings,
        forms=Forms(),
        waiting=WaitingRoom(settings.waiting),
        measurer=Measurer(settings.logbook, settings.read, settings.make_reader),
        weigher=Weigher(settings.logbook, settings.make_executor),
    )
