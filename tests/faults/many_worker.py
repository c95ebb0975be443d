"""Measures invented photos in several processes, each telling its number in a file.

Run as ``python -m tests.faults.many_worker FOLDER``.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

from greasecheck.measure.many import map_photos


def work(path: Path) -> Path:
    """Tell which process works, and take a while."""
    path.with_name(f"process-{os.getpid()}").touch()
    time.sleep(0.2)
    return path


if __name__ == "__main__":
    for done in map_photos(work, [Path(sys.argv[1]) / str(n) for n in range(1000)], 2):
        print(done, flush=True)
