"""How each command that touches the logbook grows with the readings in it.

Run ``python -m tests.benchmarks.command_growth``; ``--quick`` takes smaller logbooks, ``--one-tub``
puts all readings into one tub, ``--only WORD`` runs the commands that contain it. Each line shows a
command's processor time at the largest size over that of ``today`` on an empty logbook, the same
without what ten weeks of readings take, and the exponent of its growth: 1 is in proportion.
"""

from __future__ import annotations

import argparse
import math
import shlex
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.store.book import Logbook
from greasecheck.reference import data_folder
from tests.benchmarks.command_cpu import GREASECHECK, cpu_s
from tests.benchmarks.logbook_scale import DAYS_WITH_READING, write_season

if TYPE_CHECKING:
    from collections.abc import Iterator

READINGS = (12_500, 25_000, 50_000, 100_000)
QUICK_READINGS = (1_000, 2_000, 4_000)
FIRST_TUB, MANY_TUBS, QUICK_TUBS = 12, 30, 5
PHOTO = data_folder("sample_images") / "02_tub12_january.jpg"
SHORT_DAYS = 70  # of the logbook that stands for what does not grow
REPEATS = 2
TOLD_S = 0.05  # growth below this share of a second is lost in the clock

LOOKING = (
    "today",
    "read PHOTO",
    "reading list 12 --since '7d ago'",
    "reading list 12",
    "skull",
    "skull 'skull 12-0'",
    "cautions",
    "forecast 12",
    "forecast",
    "today --fresh",
    "calendar FOLDER/a.ics",
    "season --charts FOLDER --tub 12",
    "book where",
    "book check",
    "book backup FOLDER/backup.logbook",
    "book export FOLDER/out",
    "recipes",
    "risk",
    "season FOLDER/season.html",
)
# Each writes into a copy, after the command beside it if there is one.
WRITING = {
    "reading add 12 --haze 5 --std 0.5": "",
    "reading wrong 12": "",
    "reading right 12": "reading wrong 12",
    "reading move 12 --to 13": "",
    "reading shift 12 --by -1m --since '7d ago'": "",
    "tub 12 --volume 61": "",
    "change 12": "",
    "change 12 --empty": "",
    "undo --yes": "change 12",
    "skull new --species fox --tub 12": "",
    "skull 'skull 12-0' returned": "",
    "skull 'skull 12-0' white": "",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """A command's processor times [s] at each number of readings."""

    command: str
    readings: tuple[int, ...]
    spent_s: tuple[float, ...]
    short_s: float

    @property
    def exponent(self) -> float | None:
        """Growth of what comes on top of ten weeks; None where the clock cannot tell."""
        above = [spent - self.short_s for spent in self.spent_s]
        if above[-1] < TOLD_S or above[-2] <= 0:
            return None
        return math.log(above[-1] / above[-2]) / math.log(self.readings[-1] / self.readings[-2])


def make_logbook(folder: Path, readings: int, tubs: int) -> Path:
    """Make a logbook of about so many readings, in so many tubs, that ends now."""
    tables, path = folder / f"csv{readings}", folder / f"{readings}.logbook"
    tables.mkdir()
    a_day = MANY_TUBS if tubs == 1 else 1
    days = round(readings / tubs / a_day / DAYS_WITH_READING)
    write_season(tables, days, range(FIRST_TUB, FIRST_TUB + tubs), a_day)
    with Logbook(path, create=True) as book:
        import_tables(book, [tables])
    shutil.rmtree(tables)
    return path


def measure(command: str, logbook: Path, folder: Path) -> float:
    """Return the least processor time of a command [s], which busy caches only add to."""
    return min(_once(command, logbook, folder) for _ in range(REPEATS))


def _once(command: str, logbook: Path, folder: Path) -> float:
    if command not in WRITING:
        return cpu_s((*GREASECHECK, *words(command, folder)), str(logbook))
    copy = folder / "copy.logbook"
    shutil.copyfile(logbook, copy)
    if WRITING[command]:
        cpu_s((*GREASECHECK, *words(WRITING[command], folder)), str(copy))
    return cpu_s((*GREASECHECK, *words(command, folder)), str(copy))


def words(command: str, folder: Path) -> list[str]:
    """Split a command, its places filled in."""
    fresh = tempfile.mkdtemp(dir=folder)
    return shlex.split(command.replace("FOLDER", fresh).replace("PHOTO", str(PHOTO)))


def grow(commands: list[str], sizes: tuple[int, ...], tubs: int, folder: Path) -> Iterator[Growth]:
    """Measure commands on a logbook of ten weeks, and on larger and larger ones."""
    a_day = MANY_TUBS if tubs == 1 else tubs
    short = make_logbook(folder, SHORT_DAYS * a_day, tubs)
    books = [make_logbook(folder, size, tubs) for size in sizes]
    for book in (short, *books):
        cpu_s((*GREASECHECK, *words("read PHOTO", folder)), str(book))
    for command in commands:
        yield Growth(
            command=command,
            readings=sizes,
            spent_s=tuple(measure(command, book, folder) for book in books),
            short_s=measure(command, short, folder),
        )


def main() -> None:
    """Print a line for each command."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--one-tub", action="store_true")
    parser.add_argument("--only", default="")
    asked = parser.parse_args()
    sizes, tubs = (QUICK_READINGS, QUICK_TUBS) if asked.quick else (READINGS, MANY_TUBS)
    commands = [command for command in (*LOOKING, *WRITING) if asked.only in command]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        empty = folder / "empty.logbook"
        Logbook(empty, create=True).close()
        yardstick = min(cpu_s((*GREASECHECK, "today"), str(empty)) for _ in range(2 * REPEATS))
        print(f"{'command':44}{'/ today, empty':>15}{'above it':>10}{'exponent':>10}")
        for each in grow(commands, sizes, 1 if asked.one_tub else tubs, folder):
            told = "-" if each.exponent is None else f"{each.exponent:.2f}"
            largest = each.spent_s[-1]
            above = (largest - each.short_s) / yardstick
            print(
                f"{each.command:44}{largest / yardstick:15.2f}{above:10.2f}{told:>10}", flush=True
            )


if __name__ == "__main__":
    main()
