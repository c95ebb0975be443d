"""How many small changes of code and tables the tests notice.

Run `python -m tests.benchmarks.mutants`; `--count 120 --seed 3` asks for others, `--room
greasecheck/measure/water` for one room, `--changed main` for the modules that differ from a
revision. A mutant is one constant multiplied by 1.5, one comparison turned round, one sign or
operation exchanged, or one number of a table multiplied. It runs in a copy of the repository under
the tests that the line is covered by, which one run of all tests shows; with `--near` only under
those of files that name its module or table, or lie in the folder that mirrors its own.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from tests.mutation.chosen_tests import NearTests, TestMap, read_map
from tests.mutation.points import Mutant, code_mutants, table_mutants

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

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
HANGS_AFTER_S = 900.0
MAPPED = (  # the faults fill the disk under the coverage's own file
    *(sys.executable, "-m", "pytest", "-q", "--ignore=tests/faults"),
    *("--cov-context=test", "--cov-report=", "--cov-fail-under=0"),
)
PYTEST = (sys.executable, "-m", "pytest", "-q", "-x", "--no-header", "--no-cov", "-n", "0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fate:
    """What became of a mutant."""

    mutant: Mutant
    killed: bool
    tests: int


def main() -> None:
    """Print the survivors and the share of mutants killed; exit 1 below the aim."""
    options = _options()
    mutants = chosen(rooms_of(options), options.count, random.Random(options.seed))
    tests = NearTests(root=ROOT) if options.near else _test_map(Path(options.map))
    fates = []
    for fate in judge(mutants, tests, options.workers):
        fates.append(fate)
        if not fate.killed:
            print(f"survived {fate.tests} tests: {fate.mutant}", flush=True)
    killed = sum(fate.killed for fate in fates)
    print(f"{killed} of {len(fates)} mutants killed")
    if fates and killed / len(fates) < options.least:
        raise SystemExit(1)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--room", action="append")
    parser.add_argument("--changed", metavar="REVISION")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--near", action="store_true", help="go by the tests that name the file")
    parser.add_argument("--least", type=float, default=0.9, help="share that must be killed")
    parser.add_argument("--map", default=".mutants", help="folder for the map of tests, kept")
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


def judge(mutants: Sequence[Mutant], tests: TestMap | NearTests, workers: int) -> Iterator[Fate]:
    """Run each mutant under its tests, in copies of the repository."""
    with (
        tempfile.TemporaryDirectory() as work,
        ThreadPoolExecutor(workers) as pool,
    ):
        copies = [_copy(Path(work) / str(number)) for number in range(workers)]
        free = list(copies)
        yield from pool.map(lambda mutant: _fate(mutant, tests, free), mutants)


def _fate(mutant: Mutant, tests: TestMap | NearTests, free: list[Path]) -> Fate:
    copy, asked = free.pop(), 0
    try:
        for names in tests.rounds(mutant):
            asked += len(names)
            if names and not _passes(mutant, names, copy):
                return Fate(mutant=mutant, killed=True, tests=asked)
        return Fate(mutant=mutant, killed=False, tests=asked)
    finally:
        free.append(copy)


def _passes(mutant: Mutant, names: Sequence[str], copy: Path) -> bool:
    path = copy / mutant.path
    text = path.read_text(encoding="utf-8")
    path.write_text(mutant.applied(text), encoding="utf-8")
    try:
        environment = {**os.environ, "PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"}
        run = subprocess.run(
            (*PYTEST, "-p", "no:cacheprovider", *names),
            cwd=copy,
            env=environment,
            capture_output=True,
            timeout=HANGS_AFTER_S,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return False
    finally:
        path.write_text(text, encoding="utf-8")
    return run.returncode == 0


def _copy(where: Path) -> Path:
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, where / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, where / name)
    return where


def _test_map(folder: Path) -> TestMap:
    """Return the kept map of tests, or make it by one run of all of them."""
    coverage_file, junit_file, state = (
        folder / name for name in ("coverage", "tests.xml", "state")
    )
    now = _state_of_the_code()
    if not state.exists() or state.read_text(encoding="utf-8") != now:
        folder.mkdir(parents=True, exist_ok=True)
        environment = {**os.environ, "COVERAGE_FILE": str(coverage_file.absolute())}
        whole = (*MAPPED, f"--junitxml={junit_file.absolute()}")
        subprocess.run(whole, cwd=ROOT, env=environment, check=True)
        state.write_text(now, encoding="utf-8")
    return read_map(coverage_file, junit_file, ROOT)


def _state_of_the_code() -> str:
    """Return a digest of the package and the tests, of whose lines and names the map is."""
    digest = hashlib.sha256()
    for folder in ("greasecheck", "tests"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            digest.update(path.read_bytes())
    return digest.hexdigest()


def _git(*words: str) -> str:
    return subprocess.run(
        ("git", *words), cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout


if __name__ == "__main__":
    main()
