"""How long a round of twelve tubs in three photos takes, until it stands in the logbook.

Run ``python -m tests.benchmarks.tub_round``: renders three photos of four ladders each, has them
read by `greasecheck read` into a new logbook, and prints its time by the clock, the
processor time of measuring alone, the ratio of that to `cv2.imread` of the three files, and the
lines of the logbook, as JSON.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import numpy as np

from greasecheck.logbook.store.book import Logbook
from greasecheck.measure import read_all
from tests.synthetic.ladder_light.photos import named, random_shooting, write_photo

if TYPE_CHECKING:
    from collections.abc import Callable

AT = datetime(2026, 3, 4, 18, 5, tzinfo=UTC)
PLANS = ("single030", "single089", "single010")  # of a phone, a compact, a web camera
LADDERS = 4  # in each, all of them in view
REPEATS = 3


def write_round(folder: Path) -> list[Path]:
    """Render photos of four ladders each, of twelve tubs in all."""
    rng = np.random.default_rng(3)
    plans = [photo for name in PLANS for photo in named(name)]
    return [
        write_photo(
            folder / f"{number}.jpg",
            photo,
            replace(random_shooting(rng), curve=0.03),
            at=AT + timedelta(seconds=20 * number),
            tubs=[1 + LADDERS * number + place for place in range(LADDERS)],
        )
        for number, photo in enumerate(plans)
    ]


def best_s(work: Callable[[], object], clock: Callable[[], float] = time.perf_counter) -> float:
    """Return the shortest time of some [s]."""
    times = []
    for _ in range(REPEATS):
        begin = clock()
        work()
        times.append(clock() - begin)
    return min(times)


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "photos").mkdir()
        photos = write_round(folder / "photos")
        book = folder / "round.logbook"

        def read() -> None:
            book.unlink(missing_ok=True)
            command = [sys.executable, "-m", "greasecheck", "read", str(folder / "photos")]
            subprocess.run([*command, "--logbook", str(book)], check=True, capture_output=True)

        whole_s = best_s(read)
        measuring_s = best_s(lambda: [read_all(path) for path in photos], time.process_time)
        imread_s = best_s(lambda: [cv2.imread(str(path)) for path in photos], time.process_time)
        with Logbook(book) as opened:
            rows = opened.rows("SELECT verdict, count(*) FROM readings GROUP BY 1")
            refused = opened.rows("SELECT count(*) FROM attempts")
    print(
        json.dumps(
            {
                "whole_s": round(whole_s, 2),
                "imread_s": round(imread_s, 3),
                "measuring_s": round(measuring_s, 2),
                "ratio": round(measuring_s / imread_s, 1),
                "lines": {str(verdict): count for verdict, count in rows},
                "refused": refused[0][0],
            }
        )
    )


if __name__ == "__main__":
    main()
