"""How many small changes of code and tables the tests notice.

Run `python -m tests.benchmarks.mutants`; `--count 120 --seed 3` asks for others, `--room
greasecheck/measure/water` for one room, `--changed main` for the modules that differ from a
revision. A mutant is one constant multiplied by 1.5, one comparison turned round, one sign or
operation exchanged, or one number of a table multiplied. It runs in a copy of the repository under
the files of tests that name its module or table or lie in the folder that mirrors its own, for
`--seconds` at most. One that these do not kill in that time counts as a survivor, also where other
tests would. Mutants that nothing but a table's digest kills are counted apart.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from tests.mutation.chosen_tests import DIGESTS, NearTests
from tests.mutation.points import code_mutants, table_mutants

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from tests.mutation.points import Mutant

ROOT = Path(__file__).parents[2]
ROOMS = (
    "greasecheck/measure/sight",
    "greasecheck/measure/water",
    "greasecheck/measure/colour",
    "greasecheck/measure/bone",
    "greasecheck/predict/model",
    "greasecheck/predict/fit",
    "greasecheck/logbook",
    "calibration",
)
COPIED = ("greasecheck", "calibration", "tests", "sample_images", "pyproject.toml", "README.md")
NO_TESTS = 5  # what pytest exits with where there are none
PYTEST = (
    *(sys.executable, "-m", "pytest", "-q", "-x", "--no-header", "--no-cov", "-n", "0"),
    *("-p", "no:cacheprovider"),
)


class Fate(StrEnum):
    """What became of a mutant."""

    KILLED = "killed"
    BY_DIGEST = "killed by its table's digest alone"
    SURVIVED = "survived"
    OUT_OF_TIME = "survived as long as its tests may take"


def main() -> None:
    """Print the survivors and the share of mutants killed; exit 1 below the aim."""
    options = _options()
    mutants = chosen(rooms_of(options), options.count, random.Random(options.seed))
    fates = []
    for mutant, fate in judge(mutants, options.workers, options.seconds):
        fates.append(fate)
        if fate is not Fate.KILLED:
            print(f"{fate}: {mutant}", flush=True)
    digests = fates.count(Fate.BY_DIGEST)
    killed = fates.count(Fate.KILLED) + digests
    print(f"{killed} of {len(fates)} mutants killed, {digests} of them by digests alone")
    if fates and killed / len(fates) < options.least:
        raise SystemExit(1)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--room", action="append")
    parser.add_argument("--changed", metavar="REVISION")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--seconds", type=float, default=60.0, help="of tests for each mutant")
    parser.add_argument("--least", type=float, default=0.9, help="share that must be killed")
    return parser.parse_args()


def rooms_of(options: argparse.Namespace) -> list[Path]:
    """Return the files to mutate."""
    rooms = options.room or ROOMS
    files = [path for room in rooms for path in _files(ROOT / room)]
    if options.changed:
        changed = _git("diff", "--name-only", options.changed).split()
        files = [path for path in files if str(path.relative_to(ROOT)) in changed]
    return files


def _files(room: Path) -> list[Path]:
    if room.is_file():
        return [room]
    return sorted(path for path in room.rglob("*") if path.suffix in {".py", ".csv"})


def chosen(files: Iterable[Path], count: int, rng: random.Random) -> list[Mutant]:
    """Return `count` mutants at most, spread evenly over the files."""
    by_file = [found for path in files if (found := mutants_of(path))]
    for found in by_file:
        rng.shuffle(found)
    rng.shuffle(by_file)
    rounds = max((len(found) for found in by_file), default=0)
    in_turns = [found[turn] for turn in range(rounds) for found in by_file if turn < len(found)]
    return in_turns[:count]


def mutants_of(path: Path) -> list[Mutant]:
    """Return all mutants of one file."""
    text = path.read_text(encoding="utf-8")
    find = code_mutants if path.suffix == ".py" else table_mutants
    return list(find(path.relative_to(ROOT), text))


def judge(mutants: Sequence[Mutant], workers: int, seconds: float) -> Iterator[tuple[Mutant, Fate]]:
    """Run each mutant under its tests, in copies of the repository."""
    near = NearTests(root=ROOT)
    with (
        tempfile.TemporaryDirectory() as work,
        ThreadPoolExecutor(workers) as pool,
    ):
        free = [_copy(Path(work) / str(number)) for number in range(workers)]

        def fate(mutant: Mutant) -> Fate:
            copy = free.pop()
            try:
                return _fate(mutant, near.of(mutant), copy, seconds)
            finally:
                free.append(copy)

        yield from zip(mutants, pool.map(fate, mutants), strict=True)


def _fate(mutant: Mutant, tests: Sequence[str], copy: Path, seconds: float) -> Fate:
    path = copy / mutant.path
    text = path.read_text(encoding="utf-8")
    path.write_text(mutant.applied(text), encoding="utf-8")
    environment = {**os.environ, "PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"}
    try:
        run = subprocess.run(
            (*PYTEST, *tests),
            cwd=copy,
            env=environment,
            capture_output=True,
            text=True,
            timeout=seconds,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return Fate.OUT_OF_TIME
    finally:
        path.write_text(text, encoding="utf-8")
    if run.returncode in {0, NO_TESTS}:
        return Fate.SURVIVED
    return Fate.BY_DIGEST if f"FAILED {DIGESTS}" in run.stdout else Fate.KILLED


def _copy(where: Path) -> Path:
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, where / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, where / name)
    return where


def _git(*words: str) -> str:
    return subprocess.run(
        ("git", *words), cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout


if __name__ == "__main__":
    main()
