"""What becomes of spoiled photo files: `python -m tests.benchmarks.mutated_files`.

Each file is read and logged by a worker process, with limits on time and memory. A fault is a
traceback, a stall, too much memory, a line on the terminal that a library wrote, or a reading
called good that differs from that of the sound file by more than one stated standard error.
"""

from __future__ import annotations

import argparse
import itertools
import json
import selectors
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Self

from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.store.safety import faults as logbook_faults
from tests.faults.mutant_worker import Answer
from tests.faults.odd_photos import odd_paths, odd_photos
from tests.faults.photo_mutants import Base, Mutant, random_mutants, sound_file

SEED = 20261125
COUNT = 3000
QUICK_COUNT, QUICK_STEP = 40, 3
LIMIT_CPU_S = 10.0
LIMIT_S = 60.0  # on the clock, which other programs may slow
LIMIT_MIB = 1536.0
SHOWN = 40
TIME_CHANGED = "good, except for a time that looks like any other"


@dataclass(slots=True, kw_only=True)
class Tally:
    """Outcomes by kind of file, and the faults."""

    counts: Counter[tuple[str, str]] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)
    slowest_s: float = 0.0
    largest_mib: float = 0.0

    def add(self, kind: str, outcome: str, fault: str = "") -> None:
        self.counts[kind, outcome] += 1
        if fault:
            self.faults.append(f"{kind}: {fault}")


class Worker:
    """A process that reads photos; it is started again when it dies or stalls."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._noise = (folder / "noise.txt").open("w+b")
        self._process = self._start()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        tb: TracebackType | None,
    ) -> None:
        self._process.kill()
        self._process.communicate()
        self._noise.close()

    def read(self, path: Path) -> tuple[Answer | None, str]:
        """Return what became of a photo, None when the worker died, and the noise it made."""
        assert self._process.stdin is not None
        self._process.stdin.write(json.dumps(str(path)).encode() + b"\n")
        self._process.stdin.flush()
        line = self._line(LIMIT_S)
        noise = self._new_noise()
        if not line:
            self._process.kill()
            self._process.communicate()
            self._process = self._start()
            return None, noise
        return Answer(**json.loads(line)), noise

    def _start(self) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", "tests.faults.mutant_worker", str(self._folder / "book")]
        self._process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=self._noise
        )
        if self._line(LIMIT_S) != b"ready\n":
            raise RuntimeError(f"the worker did not start: {self._new_noise()}")
        return self._process

    def _line(self, limit_s: float) -> bytes:
        assert self._process.stdout is not None
        with selectors.DefaultSelector() as selector:
            selector.register(self._process.stdout, selectors.EVENT_READ)
            return self._process.stdout.readline() if selector.select(limit_s) else b""

    def _new_noise(self) -> str:
        self._noise.seek(0)
        noise = self._noise.read().decode(errors="replace").strip()
        self._noise.seek(0)
        self._noise.truncate()
        return noise


class SoundAnswers:
    """What the worker says of the sound files, each read when it is first asked for."""

    def __init__(self, worker: Worker, folder: Path) -> None:
        self._worker = worker
        self._folder = folder
        self._known: dict[Base, Answer] = {}

    def of(self, base: Base) -> Answer:
        if base not in self._known:
            content = sound_file(base.photo, base.kind)
            mutant = Mutant(kind="sound", base=base, content=content)
            answer, noise = _read(self._worker, self._folder, mutant)
            if answer is None or answer.verdict in ("refused", "bug") or noise:
                raise RuntimeError(f"the sound file {base} is not read: {answer} {noise}")
            self._known[base] = answer
        return self._known[base]


def run(count: int, seed: int, *, odd_step: int = 1) -> Tally:
    """Read every odd file, or each `odd_step`-th one, and `count` random mutants."""
    tally = Tally()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with Worker(folder) as worker:
            sound = SoundAnswers(worker, folder)
            odd = itertools.islice(odd_photos(), 0, None, odd_step)
            for mutant in itertools.chain(odd, random_mutants(count, seed)):
                _judge(tally, mutant, sound, *_read(worker, folder, mutant))
            for path in odd_paths(folder):
                _judge_path(tally, path, *worker.read(path))
        with Logbook(folder / "book") as book:
            tally.faults.extend(logbook_faults(book))
    return tally


def _read(worker: Worker, folder: Path, mutant: Mutant) -> tuple[Answer | None, str]:
    path = folder / mutant.name
    path.write_bytes(mutant.content)
    try:
        return worker.read(path)
    finally:
        path.unlink()


def _judge(
    tally: Tally, mutant: Mutant, sound: SoundAnswers, answer: Answer | None, noise: str
) -> None:
    if _broken(tally, mutant.kind, answer, noise):
        return
    assert answer is not None
    if answer.verdict != "good":
        tally.add(mutant.kind, answer.verdict)
        return
    base = sound.of(mutant.base) if mutant.base else None
    wrong = _difference(answer, base) if base else "good, though it holds no photo of the stand"
    if wrong:
        tally.add(mutant.kind, "good-and-WRONG", f"{mutant.base}: {wrong}")
    elif base and answer.taken_at != base.taken_at:
        fault = "" if mutant.time_touched else f"its time is {answer.taken_at}"
        tally.add(mutant.kind, TIME_CHANGED, fault)
    else:
        tally.add(mutant.kind, "good-and-right")


def _judge_path(tally: Tally, path: Path, answer: Answer | None, noise: str) -> None:
    if not _broken(tally, "no files", answer, noise):
        assert answer is not None
        fault = "" if answer.verdict == "refused" else f"{path.name[:40]} is read"
        tally.add("no files", answer.verdict, fault)


def _broken(tally: Tally, kind: str, answer: Answer | None, noise: str) -> bool:
    """Count what must never happen, whatever the file."""
    if answer is None:
        tally.add(kind, "STALLED or died", noise[-300:])
        return True
    tally.slowest_s = max(tally.slowest_s, answer.cpu_s)
    tally.largest_mib = max(tally.largest_mib, answer.peak_mib)
    if answer.bug:
        tally.add(kind, "TRACEBACK", answer.bug[-600:])
        return True
    if answer.cpu_s > LIMIT_CPU_S:
        tally.faults.append(f"{kind}: it took {answer.cpu_s:.0f} s")
    if answer.peak_mib > LIMIT_MIB:
        tally.faults.append(f"{kind}: it took {answer.peak_mib:.0f} MiB")
    if noise:
        tally.faults.append(f"{kind}: on the terminal: {noise[:300]}")
    return False


def _difference(answer: Answer, base: Answer) -> str:
    """What a good reading has that the sound file's does not allow; empty for none."""
    pairs = {
        "water": (answer.water_per_m, base.water_per_m, base.water_std_per_m),
        "bone": (answer.bone_yi, base.bone_yi, base.bone_std),
    }
    parts = [f"tub {answer.tub} for {base.tub}"] if answer.tub != base.tub else []
    for name, (value, true, std) in pairs.items():
        assert true is not None
        assert std is not None
        if value is None or abs(value - true) > std:
            parts.append(f"{name} {value} for {true:.4g} ± {std:.2g}")
    return ", ".join(parts)


def table(tally: Tally) -> Iterator[str]:
    """Print kinds by outcomes."""
    outcomes = sorted({outcome for _, outcome in tally.counts})
    for number, outcome in enumerate(outcomes, 1):
        yield f"  ({number}) {outcome}"
    yield f"{'':46}" + "".join(f"{f'({n})':>7}" for n in range(1, len(outcomes) + 1))
    for kind in sorted({kind for kind, _ in tally.counts}):
        counts = (tally.counts[kind, outcome] for outcome in outcomes)
        yield f"{kind:46}" + "".join(f"{count or '':>7}" for count in counts)
    totals = (sum(n for (_, o), n in tally.counts.items() if o == outcome) for outcome in outcomes)
    yield f"{f'{tally.counts.total()} files':46}" + "".join(f"{total:>7}" for total in totals)
    yield f"slowest {tally.slowest_s:.1f} s, most memory {tally.largest_mib:.0f} MiB"


def quick_run() -> Tally:
    """Read about 150 files."""
    return run(QUICK_COUNT, SEED, odd_step=QUICK_STEP)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="about 150 files")
    parser.add_argument("--count", type=int, default=COUNT, help="how many random mutants")
    parser.add_argument("--seed", type=int, default=SEED)
    options = parser.parse_args()
    tally = quick_run() if options.quick else run(options.count, options.seed)
    print("\n".join(table(tally)))
    for fault in tally.faults[:SHOWN]:
        print("FAULT", fault)
    print(f"{len(tally.faults)} faults")
    return int(bool(tally.faults))


if __name__ == "__main__":
    sys.exit(main())
