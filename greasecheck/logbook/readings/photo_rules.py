"""Which readings of photos may be logged, and which are doubtful for their time."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

from greasecheck.errors import LogbookError, PhotoError
from greasecheck.logbook.readings.readings import reading_values
from greasecheck.logbook.store.tables import READINGS
from greasecheck.logbook.store.times import now
from greasecheck.model import Check, Verdict
from greasecheck.words.photos.checks import check_words
from greasecheck.words.times import exact

if TYPE_CHECKING:
    from datetime import datetime

    from greasecheck.model import Reading

CLOCK_SLACK = timedelta(minutes=10)  # clocks of camera and computer differ a little


def require_usable(reading: Reading, present: datetime | None = None) -> None:
    """Refuse what cannot be logged as a reading.

    Parameters
    ----------
    reading : Reading
        As measured.
    present : datetime.datetime, optional
        What counts as now; the computer's time without it.

    Raises
    ------
    PhotoError
        When the measurement refused it or gave an impossible value, it holds neither water nor
        bone, names no tub, or has no time or one that has not come yet.
    """
    if reading.verdict is Verdict.REFUSED:
        raise _why_refused(reading)
    if reading.water is None and reading.bone is None:
        raise PhotoError(
            "the photo shows neither a jar of water nor a bone",
            hint="stand the jar before the sight, or lay the bone on the rest",
        )
    if reading.tub is None and reading.skull_tag is not None:
        raise PhotoError(
            f"no skull that ever lay in a tub bears tag {reading.skull_tag}",
            hint="enter the skull with that tag, or name the tub",
        )
    if reading.tub is None:
        raise PhotoError("no tub tag hangs in the slot", hint="name the tub, or take it again")
    _require_time(reading, present or now())
    _require_possible(reading)


def _why_refused(reading: Reading) -> PhotoError:
    """Return the most informative cause, the first of those that failed: others follow from it."""
    failed = [check for check in reading.checks if check.hard and not check.passed]
    problem, _, hint = (check_words(failed[0]) if failed else "").partition(": ")
    return PhotoError(
        problem if hint else "the photo cannot be used",
        hint=hint or problem or "take the photo again",
    )


def _require_time(reading: Reading, present: datetime) -> None:
    if reading.taken_at is None:
        raise PhotoError(
            "the photo tells no time", hint="keep the camera's own file, with its EXIF data"
        )
    if is_ahead(reading.taken_at, present):
        raise PhotoError(
            f"the photo's time {exact(reading.taken_at)} lies in the future",
            hint="set the camera's clock, or shift the time of this photo",
        )


def is_ahead(taken_at: datetime, present: datetime) -> bool:
    """Return whether a photo's time has not come yet, by more than clocks differ."""
    return taken_at > present + CLOCK_SLACK


def _require_possible(reading: Reading) -> None:
    try:
        READINGS.row(reading_values(reading))
    except LogbookError as error:
        raise PhotoError(
            f"the measurement gave an impossible value: {error.problem}",
            hint="take the photo again, and report it as a bug",
        ) from error


def flag_early(reading: Reading, start: datetime | None) -> Reading:
    """Return a reading from before its tub's first day as a doubtful one; others as they are."""
    if start is None or reading.taken_at is None or reading.taken_at >= start:
        return reading
    check = Check(
        name="before_tub_start_h",
        value=(start - reading.taken_at).total_seconds() / 3600,
        limit=0.0,
        passed=False,
        hard=False,
        note=str(reading.tub),
    )
    return replace(reading, checks=(*reading.checks, check), verdict=Verdict.DOUBTFUL)
