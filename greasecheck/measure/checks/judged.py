"""A reading as its photo and its checks alone make it; what was found is added to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from greasecheck import __version__
from greasecheck.measure.checks.verdict import verdict_of
from greasecheck.measure.photo.file import printable
from greasecheck.model import Reading

if TYPE_CHECKING:
    from greasecheck.model import Check, Photo


def judged_reading(photo: Photo, tub: int | None, checks: tuple[Check, ...]) -> Reading:
    """Return the reading of a photo with its verdict, and nothing found in it yet."""
    return Reading(
        photo_path=printable(photo.path),
        photo_sha256=photo.sha256,
        taken_at=photo.taken_at,
        time_source=photo.time_source,
        tub=tub,
        verdict=verdict_of(checks),
        checks=checks,
        water=None,
        bone=None,
        colour=None,
        sheet_version=None,
        software_version=__version__,
    )
