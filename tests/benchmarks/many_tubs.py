"""Today's list by the terminal and the page: with 12 tubs, and with 500 and 100,000 readings.

Run ``python -m tests.benchmarks.many_tubs``; ``--quick`` makes a tenth of the tubs. Times are those
of the processor, over that of a bare interpreter's start. The kept answers of all tubs are copies
of one that was worked out, as a season of that size would have taken hours to work out.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from greasecheck.garage.soaks.model_version import answers_version
from greasecheck.garage.soaks.refresh import advice_of_tubs
from greasecheck.logbook.answers import KeptAnswer, answer_keys, keep_answer, read_answers
from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.store.book import Logbook
from tests.benchmarks.command_cpu import BARE_INTERPRETER, GREASECHECK, cpu_s
from tests.benchmarks.logbook_scale import write_season
from tests.unit.live.phones import make_phone

FIRST = 10
FEW, MANY = 12, 500
DAYS = 210
ROUNDS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What a list of tubs costs, over the start of a bare interpreter."""

    tubs: int
    readings: int
    today: float
    page: float


def measure(folder: Path, tubs: int, days: int) -> Cost:
    """Make a season of so many tubs, and measure its lists."""
    tables = folder / "csv"
    tables.mkdir(parents=True)
    counts = write_season(tables, days, range(FIRST, FIRST + tubs))
    logbook = folder / "season.logbook"
    with Logbook(logbook, create=True) as book:
        import_tables(book, [tables])
        _keep_for_all(book, range(FIRST, FIRST + tubs))
    bare = min(cpu_s(BARE_INTERPRETER) for _ in range(ROUNDS))
    today = min(cpu_s([*GREASECHECK, "today"], str(logbook)) for _ in range(ROUNDS))
    return Cost(
        tubs=tubs,
        readings=counts["readings"],
        today=today / bare,
        page=_page_s(folder) / bare,
    )


def _keep_for_all(book: Logbook, tubs: range) -> None:
    """Keep the answer of the first tub in which something soaks for all others, too."""
    now = datetime.now(UTC)
    first = next(tub for tub, advice in advice_of_tubs(book, tubs[:FEW], now) if advice)
    kept = read_answers(book, first)[first]
    for tub, key in answer_keys(book, tubs, answers_version(book)).items():
        copy: KeptAnswer = replace(kept, tub=tub, key=key)
        keep_answer(book, copy, None)


def _page_s(folder: Path) -> float:
    """Return the processor time of the page's list, asked for after a first time [s]."""
    phone = make_phone(folder)
    times = []
    for _ in range(ROUNDS + 1):
        begin = time.process_time()
        answer = phone.get("/")
        times.append(time.process_time() - begin)
        assert answer.status_code == 200
    return min(times[1:])


def main() -> None:
    """Print the costs."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    many = MANY // 10 if parser.parse_args().quick else MANY
    print("tubs  readings  today  page (bare interpreters)")
    for tubs in (FEW, many):
        with tempfile.TemporaryDirectory() as folder:
            cost = measure(Path(folder), tubs, DAYS)
        print(f"{cost.tubs:4} {cost.readings:9} {cost.today:6.1f} {cost.page:6.1f}")


if __name__ == "__main__":
    main()
