"""Writes to a logbook until it is done or killed; tells each entry on stdout once it is safe.

Run as ``python -m tests.faults.logbook_worker ACTION LOGBOOK FOLDER``.
"""

from __future__ import annotations

import sys
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.readings.photos import LogSettings, log_photos
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.water.baths import Filling, change_water, list_baths
from greasecheck.model import Recipe
from tests.logbook_samples import day, measure_file

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from greasecheck.model import Reading

MEASURING_S = 0.002
CHANGES = 200


def main() -> None:
    """Do what the arguments say."""
    action, logbook, folder = sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3])
    print("started", flush=True)
    with Logbook(logbook, create=True) as book:
        for entry in ACTIONS[action](book, folder):
            print(entry, flush=True)
    print("done", flush=True)


def read(book: Logbook, folder: Path) -> Iterator[str]:
    """Log the folder's photos."""

    def measure(paths: Sequence[Path]) -> Iterator[tuple[Reading, ...]]:
        return ((measure_file(path, MEASURING_S),) for path in paths)

    for done in log_photos(book, sorted(folder.glob("*.jpg")), measure, LogSettings()):
        yield f"{done.outcome} {done.path.name}"


def take_in(book: Logbook, folder: Path) -> Iterator[str]:
    """Import the folder's CSV files."""
    yield f"imported {import_tables(book, [folder]).added['readings']}"


def change(book: Logbook, _: Path) -> Iterator[str]:
    """Enter one water change after the other, going on where a killed run stopped."""
    for number in range(len(list_baths(book, 10)), CHANGES):
        filled_at = day(0) + timedelta(hours=number)
        change_water(book, [10, 11, 12], filled_at, Filling(recipe=Recipe.SOAP))
        yield f"changed {number}"


ACTIONS = {"read": read, "import": take_in, "change": change}

if __name__ == "__main__":
    main()
