"""Reads photos into the logbook and tells what became of each."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from greasecheck.cli.photos.reading_table import print_readings
from greasecheck.cli.shared.output import print_new_tub, with_progress
from greasecheck.logbook.readings.photos import Logged, LogSettings, Outcome, log_photos
from greasecheck.logbook.readings.watch import watch_folder
from greasecheck.measure.many import map_photos
from greasecheck.model import TimeSource, Verdict
from greasecheck.words.times import day_words

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Sequence
    from pathlib import Path
    from typing import NoReturn

    from greasecheck.logbook.store.book import Logbook
    from greasecheck.measure.workers import Workers
    from greasecheck.model import Reading, ReadingKind

    Work = Callable[[Path], tuple[Reading, ...]]

WORDS = {
    Outcome.LOGGED: "logged",
    Outcome.KNOWN: "logged before",
    Outcome.RENEWED: "corrected",
    Outcome.REFUSED: "not logged",
}


def log_all(
    book: Logbook,
    photos: Sequence[Path],
    work: Work,
    settings: LogSettings,
    workers: Workers | None = None,
) -> tuple[Logged, ...]:
    """Read and log photos on all cores, with a progress bar on stderr when it takes long."""

    def measure_all(paths: Sequence[Path]) -> Iterable[tuple[Reading, ...]]:
        return map_photos(work, paths, workers=workers)

    logged = log_photos(book, photos, measure_all, settings)
    return tuple(with_progress(logged, len(photos), "reading"))


def watch(
    book: Logbook, folder: Path, work: Work, settings: LogSettings, workers: Workers
) -> NoReturn:
    """Read and log what arrives in a folder, until interrupted."""
    typer.echo(f"watching {folder}; Ctrl-C ends", err=True)
    for photos in watch_folder(folder):
        if photos:
            logged = log_all(book, photos, work, settings, workers)
            print_readings([one.reading for one in news_of(logged, ()) if one.reading])
            print_outcomes(logged)
    raise AssertionError


def logged_json(logged: Sequence[Logged]) -> list[dict[str, object]]:
    """Return what became of each photo as plain JSON values."""
    return [
        {
            "photo": str(one.path),
            "outcome": one.outcome,
            "kind": _kind(one),
            "tub": one.tub,
            "new_tub": one.new_tub,
            "problem": one.problem,
            "hint": one.hint,
        }
        for one in logged
    ]


def _kind(logged: Logged) -> ReadingKind | None:
    one = logged.reading or logged.known
    return one.kind if one else None


def is_good(logged: Logged) -> bool:
    """Return whether a photo gave a good reading, now or before."""
    if logged.outcome is Outcome.REFUSED:
        return False
    one = logged.reading or logged.known
    return one is not None and one.verdict is Verdict.GOOD


def news_of(logged: Sequence[Logged], named: Collection[Path]) -> tuple[Logged, ...]:
    """Return what is printed: not again why a photo is refused, unless it was named itself."""
    return tuple(one for one in logged if not one.repeated or one.path in named)


def _print_file_times(logged: Sequence[Logged]) -> None:
    """Print on stderr as of when photos were logged that carry no time, such as a messenger's."""
    for one in logged:
        read = one.reading if one.outcome is Outcome.LOGGED else None
        if read is None or read.taken_at is None or read.time_source is not TimeSource.FILE:
            continue
        typer.echo(
            f"{one.path.name} is logged as of {day_words(read.taken_at)}, the day of its file; if"
            f" it is older: greasecheck reading wrong {one.tub}, and read the photo as the camera"
            " saved it",
            err=True,
        )


def print_outcomes(logged: Sequence[Logged], named: Collection[Path] = ()) -> None:
    """Print on stderr what the table of readings lacks: refusals by the log, counts, new tubs."""
    for one in news_of(logged, named):
        if one.problem and not (one.reading and one.reading.verdict is Verdict.REFUSED):
            problem = one.problem.removeprefix(f"{one.path.name}: ")
            typer.echo(f"{one.path.name} is not logged: {problem}: {one.hint}", err=True)
    counts = {outcome: sum(one.outcome is outcome for one in logged) for outcome in Outcome}
    repeated = sum(one.repeated for one in logged)
    counts[Outcome.REFUSED] -= repeated
    parts = [f"{count} {WORDS[outcome]}" for outcome, count in counts.items() if count]
    words = ", ".join([*parts, *([f"{repeated} still not logged"] if repeated else [])])
    number = len({one.path for one in logged})
    photos = "1 photo" if number == 1 else f"{number} photos"
    typer.echo(f"{photos}: {words}", err=True)
    _print_file_times(logged)
    for tub in sorted({one.tub for one in logged if one.new_tub and one.tub is not None}):
        print_new_tub(tub)
