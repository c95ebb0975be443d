"""Fills a logbook of its own with the invented season: sample photos read, a simulated log."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from greasecheck.errors import DataFileError, LogbookError
from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.readings.standards import list_standards, put_in_force
from greasecheck.logbook.records import Standard, StandardKind
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.drafts import draft_folder
from greasecheck.logbook.store.last_link import note_path
from greasecheck.measure.stand import view_clear_water
from greasecheck.measure.water.reference import make_clear_water
from greasecheck.measure.water.reference_file import clear_water_to_json

if TYPE_CHECKING:
    from collections.abc import Iterator

    from greasecheck.logbook.csv.read import Imported
    from greasecheck.measure.reading import ReadSettings

# The day after the last sample photo; sample_images/season_story.py holds the season up to it.
NOW = datetime(2026, 5, 25, 10, tzinfo=UTC)
CLEAR_WATER = "01_tap_water.jpg"
LADDERS = "ladders/2026-05-24_18h.jpg"  # three tubs in one photo, the newest of a fixed camera
PATCHES = "sheet_measured.cgats"
MARK = "tap water of the invented season"
LOGBOOK, PAGE = "season.greasecheck", "season.html"
HINT = "name another folder for the demo"


def sample_photos(samples: Path) -> tuple[Path, ...]:
    """Return the sample photos of tubs and bones; the tap water is not among them."""
    jars = sorted(path for path in samples.glob("*.jpg") if path.name != CLEAR_WATER)
    return (*jars, samples / LADDERS)


@contextmanager
def fresh_logbook(folder: Path) -> Iterator[Logbook]:
    """Make the demo's logbook anew; it takes the old one's place once all has gone well.

    Parameters
    ----------
    folder : pathlib.Path
        Made when it does not exist.

    Raises
    ------
    LogbookError
        When the folder holds a logbook that is not the demo's own, or the disk refuses.
    DataFileError
        When it holds a page that the demo did not write.
    """
    target = folder / LOGBOOK
    _refuse_foreign(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with draft_folder(folder) as place:
            draft = place / LOGBOOK
            with Logbook(draft, create=True) as book:
                yield book
            draft.replace(target)
            note_path(draft).replace(note_path(target))
    except OSError as error:
        raise LogbookError(
            f"cannot write to {folder}: {error.strerror or error}", hint=HINT
        ) from error


def _refuse_foreign(folder: Path) -> None:
    """Refuse a folder whose logbook or page is not the demo's; it is left as it is."""
    target, page = folder / LOGBOOK, folder / PAGE
    if not target.exists():
        if page.exists():
            raise DataFileError(f"{page} is there already and not of the demo", hint=HINT)
        return
    try:
        with Logbook(target) as book:
            own = any(one.note == MARK for one in list_standards(book))
    except LogbookError as error:
        raise LogbookError(f"{target} is no logbook of the demo", hint=HINT) from error
    if not own:
        raise LogbookError(f"{target} is a logbook of somebody's own", hint=HINT)
    if target.with_name(f"{LOGBOOK}-wal").exists():
        raise LogbookError(f"{target} is in use", hint="end what uses it, and run the demo again")


def present() -> datetime:
    """Return what counts as now: never before the season's end, even by a clock that is behind."""
    return max(datetime.now(UTC), NOW)


def fill_with_log(book: Logbook, samples: Path) -> Imported:
    """Take the simulated log in; each of its rows is marked as simulated."""
    return import_tables(book, [samples / "season"], present=present())


def put_tap_water_in_force(book: Logbook, samples: Path, settings: ReadSettings) -> ReadSettings:
    """Make the clear-water reference of the sample tap water, and return settings with it."""
    seen = view_clear_water(samples / CLEAR_WATER, settings)
    clear = make_clear_water([seen], settings.jar.path_mm)
    put_in_force(
        book,
        Standard(
            kind=StandardKind.CLEAR_WATER,
            in_force_from=clear.taken_at,
            body=clear_water_to_json(clear),
            note=MARK,
        ),
    )
    return replace(settings, jar=replace(settings.jar, clear=clear))
