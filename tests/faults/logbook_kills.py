"""Kills a process that writes to a logbook at random moments, and looks for what is lost."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from greasecheck.logbook.csv.read import import_tables
from greasecheck.logbook.csv.write import export_tables
from greasecheck.logbook.readings.photos import LogSettings, Outcome, log_photos
from greasecheck.logbook.records import Tub
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.safety import faults
from greasecheck.logbook.store.tables import ATTEMPTS, BATHS, READINGS, TUBS
from greasecheck.logbook.water.baths import enter_tub
from tests.faults.logbook_worker import change
from tests.logbook_samples import day, measure_files, write_photos

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

PHOTOS = 200
IMPORT_READINGS = 8000
LONGEST_S = {"read": 1.0, "import": 1.2, "change": 1.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class KillReport:
    """What the kills did.

    Attributes
    ----------
    kills : int
        Processes that were killed while they ran.
    finished : int
        Processes that were done before their kill came.
    told : int
        Entries that were told to be safe; each was found again.
    faults : tuple of str
        What was lost, doubled or damaged.
    """

    kills: int
    finished: int
    told: int
    faults: tuple[str, ...]


def kill_at_random(action: str, folder: Path, kills: int, seed: int) -> KillReport:
    """Run a worker until it was killed `kills` times, then to its end, and look for faults.

    When a worker ends before its kill, the next starts on a fresh logbook.
    """
    chance = random.Random(seed)
    source = prepare(action, folder / "source")
    killed = finished = told = 0
    found: list[str] = []
    while killed < kills:
        logbook = folder / f"season{finished}.logbook"
        begin(action, logbook)
        safe: set[str] = set()
        done = False
        while not done and killed < kills:
            lines, done = _run(action, logbook, source, chance.uniform(0.0, LONGEST_S[action]))
            killed += not done
            safe |= set(lines)
            found.extend(look(action, logbook, safe))
        found.extend(_finish(action, logbook, source, folder / f"export{finished}"))
        finished += done
        told += len(safe)
    return KillReport(kills=killed, finished=finished, told=told, faults=tuple(found))


def prepare(action: str, source: Path) -> Path:
    """Make what the worker reads."""
    if action == "read":
        write_photos(source, PHOTOS)
    elif action == "import":
        source.mkdir(parents=True)
        lines = ["tub,taken_at,attenuation_per_m,attenuation_std_per_m"]
        lines += [
            f"{10 + n % 5},{day(n / 100).isoformat()},{5 + n % 17},0.4"
            for n in range(IMPORT_READINGS)
        ]
        (source / "readings.csv").write_text("\n".join(lines), encoding="utf-8")
    return source


def begin(action: str, logbook: Path) -> None:
    """Enter the tubs that changes of water need."""
    if action == "change":
        with Logbook(logbook, create=True) as book:
            for number in (10, 11, 12):
                enter_tub(book, Tub(number=number))


def look(action: str, logbook: Path, safe: Iterable[str]) -> list[str]:
    """Return what is wrong with a logbook whose writer was killed."""
    if not logbook.exists():
        return [f"{action}: told safe, but there is no logbook" for _ in safe]
    with Logbook(logbook) as book:
        found = [f"{action}: {fault}" for fault in faults(book)]
        there = {ATTEMPT: names(book, ATTEMPT), READING: names(book, READING)}
        for line in safe:
            found.extend(_lost(book, line, there))
        found.extend(_halves(book))
    return found


ATTEMPT, READING = "attempts", "readings"


def names(book: Logbook, table: str) -> list[str]:
    """Return the names of the photos in a table."""
    return [
        path.rsplit("/")[-1] for (path,) in book.rows(f"SELECT photo_path FROM {table}") if path
    ]


def _lost(book: Logbook, line: str, there: dict[str, list[str]]) -> list[str]:
    told, last = line.split(" ")
    if told == "changed":
        ((count,),) = book.rows("SELECT count(*) FROM baths WHERE tub = 10")
        return [] if count > int(last) else [f"change {last} is lost"]
    if told == "imported":
        ((count,),) = book.rows("SELECT count(*) FROM readings")
        return [] if count == IMPORT_READINGS else ["the import is lost"]
    table = ATTEMPT if told == Outcome.REFUSED else READING
    return [] if there[table].count(last) == 1 else [f"{last} stands {there[table].count(last)} x"]


def _halves(book: Logbook) -> list[str]:
    """Return the entries that are there in part only."""
    imported = book.rows(
        "SELECT count(*) FROM readings WHERE key LIKE 'hand:%' HAVING count(*) NOT IN (0, ?)",
        (IMPORT_READINGS,),
    )
    changed = book.rows("SELECT filled_at FROM baths GROUP BY filled_at HAVING count(*) != 3")
    return [f"half an import: {row}" for row in imported] + [
        f"half a change: {row}" for row in changed
    ]


def _run(action: str, logbook: Path, source: Path, wait_s: float) -> tuple[list[str], bool]:
    """Start a worker and kill it `wait_s` [s] after it has begun; return what it told."""
    worker = subprocess.Popen(
        [sys.executable, "-m", "tests.faults.logbook_worker", action, str(logbook), str(source)],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert worker.stdout is not None
    assert worker.stdout.readline() == "started\n"
    time.sleep(wait_s)
    worker.kill()
    lines = worker.stdout.read().splitlines()
    worker.stdout.close()
    worker.wait()
    done = lines[-1:] == ["done"]
    return [line for line in lines if line != "done"], done


def _finish(action: str, logbook: Path, source: Path, export: Path) -> list[str]:
    """Let the work be done to its end, and compare with a logbook that was never disturbed."""
    calm = export.with_name(export.name + ".calm.logbook")
    begin(action, calm)
    for path in (logbook, calm):
        _work(action, path, source)
    tables = [TUBS, BATHS, READINGS]
    with Logbook(logbook) as book, Logbook(calm) as other:
        killed = export_tables(book, export / "killed", tables)
        undisturbed = export_tables(other, export / "calm", tables)
        same = names(book, ATTEMPTS.name) == names(other, ATTEMPTS.name)
    differing = [
        f"{action}: {one.name} differs from an undisturbed run"
        for one, other in zip(killed, undisturbed, strict=True)
        if one.read_bytes() != other.read_bytes()
    ]
    return differing + ([] if same else [f"{action}: the refused photos differ"])


def _work(action: str, path: Path, source: Path) -> None:
    with Logbook(path, create=True) as book:
        if action == "read":
            list(log_photos(book, sorted(source.glob("*.jpg")), measure_files, LogSettings()))
        elif action == "import":
            import_tables(book, [source])
        else:
            list(change(book, source))
