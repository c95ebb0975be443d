"""Reads and logs photos named on its input, one a line, and answers each with a line of JSON."""

from __future__ import annotations

import json
import sys
import traceback
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from time import process_time

from greasecheck.logbook.readings.photos import LogSettings, log_photos
from greasecheck.logbook.store.book import Logbook
from greasecheck.measure.reading import ReadSettings, view_photo
from greasecheck.model import Reading, Verdict
from tests.synthetic.test_sample_readings import stand_settings

RESET_PEAK = "5"  # Linux, proc(5), /proc/pid/clear_refs


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What became of one photo."""

    verdict: str
    outcome: str
    reason: str
    tub: int | None
    taken_at: str | None
    water_per_m: float | None
    water_std_per_m: float | None
    bone_yi: float | None
    bone_std: float | None
    cpu_s: float
    peak_mib: float
    bug: str


def read_and_log(path: Path, book: Logbook, settings: ReadSettings) -> Answer:
    _reset_peak()
    start = process_time()
    try:
        reading = view_photo(path, settings).reading

        def measured(paths: Sequence[Path]) -> Iterator[tuple[Reading, ...]]:
            return ((reading,) for _ in paths)

        [logged] = log_photos(book, [path], measured, LogSettings())
        refused_yet_logged = logged.outcome == "logged" and reading.verdict is Verdict.REFUSED
        assert not refused_yet_logged
        return _answer(reading, str(logged.outcome), logged.problem, process_time() - start)
    except Exception:
        bug = traceback.format_exc()
        return _answer(None, "bug", bug, process_time() - start)


def _answer(reading: Reading | None, outcome: str, reason: str, cpu_s: float) -> Answer:
    water, bone = (reading.water, reading.bone) if reading else (None, None)
    return Answer(
        verdict=str(reading.verdict) if reading else "bug",
        outcome=outcome,
        reason=reason or "; ".join(c.name for c in reading.checks if not c.passed)
        if reading
        else "",
        tub=reading.tub if reading else None,
        taken_at=reading.taken_at.isoformat() if reading and reading.taken_at else None,
        water_per_m=water.main_per_m if water else None,
        water_std_per_m=water.std_per_m if water else None,
        bone_yi=bone.yi_e313 if bone else None,
        bone_std=bone.yi_std if bone else None,
        cpu_s=cpu_s,
        peak_mib=_peak_mib(),
        bug="" if reading else reason,
    )


def _reset_peak() -> None:
    Path("/proc/self/clear_refs").write_text(RESET_PEAK, encoding="ascii")


def _peak_mib() -> float:
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return int(status.split("VmHWM:")[1].split()[0]) / 1024


def main() -> None:
    settings = stand_settings()
    with Logbook(Path(sys.argv[1]), create=True) as book:
        print("ready", flush=True)
        for line in sys.stdin:
            answer = read_and_log(Path(json.loads(line)), book, settings)
            print(json.dumps(asdict(answer)), flush=True)


if __name__ == "__main__":
    main()
