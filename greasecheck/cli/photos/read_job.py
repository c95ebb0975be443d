"""Reads photos for the command: into the logbook, or to be shown alone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from greasecheck.cli.photos import read_log
from greasecheck.cli.photos.reading_json import moment_json, reading_json
from greasecheck.cli.photos.reading_table import print_moments, print_readings
from greasecheck.cli.shared.logbook_options import open_logbook, open_or_make_logbook
from greasecheck.cli.shared.output import print_json, with_progress
from greasecheck.cli.shared.settings import standards_in_force
from greasecheck.garage.standards import require_depth, with_standards
from greasecheck.logbook.readings.drawings import drawn_by_photo
from greasecheck.logbook.readings.photos import LogSettings, Outcome
from greasecheck.logbook.skulls.skulls import name_of
from greasecheck.measure.moments import moments_of
from greasecheck.model import Verdict
from greasecheck.report.overlay import read_and_draw

if TYPE_CHECKING:
    from collections.abc import Sequence
    from contextlib import AbstractContextManager
    from datetime import timedelta
    from pathlib import Path

    from greasecheck.cli.photos.read_log import Work
    from greasecheck.logbook.readings.photos import Logged
    from greasecheck.logbook.store.book import Logbook
    from greasecheck.measure.reading import ReadSettings
    from greasecheck.measure.workers import Workers
    from greasecheck.model import Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadJob:
    """Photos to read, and how.

    Attributes
    ----------
    named, found : sequence of pathlib.Path
        What the user named, and the photos in it; a folder that is watched in both.
    settings : ReadSettings
        By the options, before the logbook fills in what it has in force.
    path_mm : float or None
        Depth of the jar, where the user gave one [mm].
    overlay : pathlib.Path or None
        Folder for pictures of what was found.
    logbook : pathlib.Path or None
        The logbook named; None for the usual one.
    workers : Workers
        The processes that read.
    as_json : bool
        Whether readings are printed as JSON.
    """

    named: Sequence[Path]
    found: Sequence[Path]
    settings: ReadSettings
    path_mm: float | None
    overlay: Path | None
    logbook: Path | None
    workers: Workers
    as_json: bool

    def work(self, settings: ReadSettings) -> Work:
        """Return what reads a photo."""
        return partial(read_and_draw, settings=settings, overlay=self.overlay)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """How photos go into the logbook.

    Attributes
    ----------
    skull : str or None
        Whose bone lies on the rest, as typed.
    shift : datetime.timedelta
        Correction of the camera's clock.
    again : bool
        Whether logged photos are read once more.
    watch : bool
        Whether what arrives in the folder is read on and on.
    """

    skull: str | None
    shift: timedelta
    again: bool
    watch: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdicts:
    """What the exit status rests on."""

    all_good: bool
    all_refused: bool


def show_photos(job: ReadJob) -> Verdicts:
    """Read photos and print the readings; nothing is logged."""
    settings = standards_in_force(job.settings, job.logbook)
    require_depth(settings.jar, job.path_mm)
    read = job.workers.map(job.work(settings), job.found)
    found = with_progress(read, len(job.found), "reading")
    readings = tuple(reading for each in found for reading in each)
    _print(readings, {}, as_json=job.as_json)
    verdicts = {reading.verdict for reading in readings}
    return Verdicts(all_good=verdicts <= {Verdict.GOOD}, all_refused=verdicts <= {Verdict.REFUSED})


def log_photos(job: ReadJob, wanted: Wanted) -> Verdicts:
    """Read photos into the logbook and print what became of each.

    Raises
    ------
    LogbookError
        When the logbook does not know the skull, or cannot be opened.
    """
    with _opened(job, wanted) as book:
        settings = with_standards(job.settings, book)
        if wanted.again:
            settings = replace(settings, drawn_before=drawn_by_photo(book))
        require_depth(settings.jar, job.path_mm)
        skull = wanted.skull and name_of(book, wanted.skull)
        keep = LogSettings(skull=skull, shift=wanted.shift, again=wanted.again)
        work = job.work(settings)
        if wanted.watch:
            read_log.watch(book, job.found[0], work, keep, job.workers)
        logged = read_log.log_all(book, job.found, work, keep, job.workers)
    _print_logged(job, logged)
    return Verdicts(
        all_good=all(map(read_log.is_good, logged)),
        all_refused=all(one.outcome is Outcome.REFUSED for one in logged),
    )


def _opened(job: ReadJob, wanted: Wanted) -> AbstractContextManager[Logbook]:
    """Open the logbook; one that is watched for is made at once, for others to enter in."""
    if wanted.watch:
        return open_logbook(job.logbook, create=True)
    return open_or_make_logbook(job.logbook)


def _print_logged(job: ReadJob, logged: Sequence[Logged]) -> None:
    shown = logged if job.as_json else read_log.news_of(logged, job.named)
    readings = tuple(one.reading for one in shown if one.reading)
    _print(readings, {"photos": read_log.logged_json(logged)}, as_json=job.as_json)
    read_log.print_outcomes(logged, job.named)


def _print(readings: Sequence[Reading], more: dict[str, object], *, as_json: bool) -> None:
    moments = moments_of(readings)
    if as_json:
        together = {"moments": [moment_json(moment) for moment in moments]}
        print_json({"readings": [reading_json(one) for one in readings], **together, **more})
    else:
        print_readings(readings)
        print_moments(moments)
