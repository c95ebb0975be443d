"""What became slower: each cost as a ratio, beside the last one kept in ``speed_ratios.csv``.

Run ``python -m tests.benchmarks.speed_ratios``; it ends with 1 when a ratio is more than a quarter
above the last one. ``--keep`` writes the new ones into the file, to be committed. All but memory
are of processor time, over a yardstick measured in turn with it: other work on the machine moves
both alike.
"""

from __future__ import annotations

import argparse
import csv
import sys
import tempfile
import time
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from greasecheck.garage.soaks.refresh import refresh_answers
from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.csv.write import export_tables
from greasecheck.logbook.store.book import Logbook
from greasecheck.predict.outlook.forecasting import forecast
from tests.benchmarks.command_cpu import BARE_INTERPRETER, GREASECHECK, cpu_s
from tests.benchmarks.command_growth import make_logbook
from tests.benchmarks.forecast_speed import READINGS, daily_tub
from tests.benchmarks.forecast_speed import yardstick as eigenvalues
from tests.benchmarks.logbook_scale import write_season
from tests.benchmarks.reading_speed import KIB_PER_MIB, cost, kinds, read
from tests.synthetic.tub_simulator import START

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

LAST = Path(__file__).with_suffix(".csv")
SLOWER = 1.25
ROUNDS = 7
SIZES = {5: 1_000, 50: 10_000}  # readings by tubs
DAY = ("today", "tub 12", "skull", "book where")
FEW_READINGS, MANY_READINGS = 20, 120


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratio:
    """A cost over its yardstick, and what these are."""

    name: str
    value: float


def ratio(work: Callable[[], object], yardstick: Callable[[], object], rounds: int) -> float:
    """Return the least processor time of `work` over the least of `yardstick`, taken in turn."""
    work()
    pairs = [(spent_s(yardstick), spent_s(work)) for _ in range(rounds)]
    return min(cost for _, cost in pairs) / min(unit for unit, _ in pairs)


def spent_s(work: Callable[[], object]) -> float:
    """Return the processor time of a piece of work [s]."""
    start = time.process_time()
    work()
    return time.process_time() - start


def reading(folder: Path) -> Iterator[Ratio]:
    """Photos read, over decoding them; and the memory of many readings over that of few."""
    for name, path in kinds(folder):
        yield Ratio(name=name, value=cost(path, ROUNDS))
    photo = folder / "twelve.jpg"
    few = resident_mib(photo, FEW_READINGS)
    many = resident_mib(photo, MANY_READINGS)
    yield Ratio(
        name=f"memory after {MANY_READINGS} photos / after {FEW_READINGS}", value=many / few
    )


def resident_mib(photo: Path, times: int) -> float:
    """Return what this process holds after reading a photo some times [MiB]; Linux alone."""
    for _ in range(times):
        read(photo)
    lines = Path("/proc/self/status").read_text(encoding="utf-8").splitlines()
    return float(next(line for line in lines if line.startswith("VmRSS:")).split()[1]) / KIB_PER_MIB


def forecasting() -> Iterator[Ratio]:
    """A forecast of 180 readings, over the eigenvalues of a matrix of 400 rows."""
    ask = partial(forecast, daily_tub(1), START + timedelta(days=READINGS))
    yield Ratio(name="a forecast of 180 readings / eigvalsh(400)", value=ratio(ask, eigenvalues, 5))


def tables(folder: Path) -> Iterator[Ratio]:
    """A season taken in and out as CSV, over reading its lines with the csv module."""
    source = folder / "tables"
    source.mkdir()
    write_season(source, 100, range(10, 60))

    def bare() -> None:
        for file in source.glob("*.csv"):
            with file.open(newline="", encoding="utf-8") as lines:
                sum(len(row) for row in csv.reader(lines))

    def put() -> None:
        with Logbook(Path(tempfile.mkdtemp(dir=folder)) / "a.logbook", create=True) as book:
            import_tables(book, [source])

    put()
    written = next(folder.glob("*/a.logbook"))

    def take() -> None:
        with Logbook(written) as book:
            export_tables(book, Path(tempfile.mkdtemp(dir=folder)) / "out")

    yield Ratio(name="CSV import / csv.reader", value=ratio(put, bare, 3))
    yield Ratio(name="CSV export / csv.reader", value=ratio(take, bare, 3))


def commands(folder: Path) -> Iterator[Ratio]:
    """Commands of the day over a bare interpreter, by the tubs; answers are kept already."""
    for tubs, readings in SIZES.items():
        book_file = make_logbook(folder, readings, tubs)
        with Logbook(book_file) as book:
            numbers = [number for (number,) in book.rows("SELECT number FROM tubs")]
            list(refresh_answers(book, numbers, datetime.now(UTC)))
        for words in DAY:
            arguments = (*GREASECHECK, *words.split())
            unit = min(cpu_s(BARE_INTERPRETER) for _ in range(3))
            cost = min(cpu_s(arguments, str(book_file)) for _ in range(3))
            yield Ratio(name=f"{words}, {tubs} tubs / bare interpreter", value=cost / unit)


def last_ratios() -> dict[str, float]:
    """Return the ratios that were kept."""
    if not LAST.exists():
        return {}
    with LAST.open(newline="", encoding="utf-8") as file:
        rows = csv.DictReader(line for line in file if not line.startswith("#"))
        return {row["name"]: float(row["ratio"]) for row in rows}


def keep(found: dict[str, float]) -> None:
    """Write ratios into the file."""
    with LAST.open("w", newline="", encoding="utf-8") as file:
        file.write("# title: last ratios of tests.benchmarks.speed_ratios\n")
        file.write(f"# year: {datetime.now(UTC):%Y}\n# units: 1\n")
        writer = csv.writer(file)
        writer.writerow(["name", "ratio"])
        writer.writerows((name, f"{value:.3g}") for name, value in found.items())


def slower(found: dict[str, float], last: dict[str, float]) -> list[str]:
    """Return what costs more than a quarter more than the last time."""
    return [name for name, value in found.items() if value > SLOWER * last.get(name, value)]


def main() -> None:
    """Print the ratios beside the last ones."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--keep", action="store_true", help="keep the new ratios in the file")
    parser.add_argument("--only", default="", help="a word of the names to measure")
    asked = parser.parse_args()
    last, found = last_ratios(), {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        parts = {"photo": reading, "CSV": tables, "commands": commands}
        chosen = [part(folder) for key, part in parts.items() if asked.only in key]
        for part in (*chosen, *([forecasting()] if asked.only in "forecast" else ())):
            for one in part:
                found[one.name] = one.value
                before = f"{last[one.name]:8.2f}" if one.name in last else "       -"
                print(f"{one.value:8.2f}  last {before}  {one.name}", flush=True)
    if asked.keep:
        keep({**last, **found})
    worse = slower(found, last)
    for one in worse:
        print(f"slower by more than a quarter: {one}")
    sys.exit(bool(worse))


if __name__ == "__main__":
    main()
