"""Two hundred kills at random moments of reading, importing and changing water.

Run ``python -m tests.benchmarks.logbook_kills``; ``--quick`` kills 9 times.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from pathlib import Path

from tests.faults.logbook_kills import kill_at_random

KILLS = {"read": 80, "import": 60, "change": 60}
QUICK_KILLS = {"read": 3, "import": 3, "change": 3}


def main() -> None:
    """Print what the kills did as JSON; exit with 1 when anything was lost or doubled."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="9 kills instead of 200")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    kills = QUICK_KILLS if given.quick else KILLS
    faults = 0
    for action, count in kills.items():
        with tempfile.TemporaryDirectory() as folder:
            report = kill_at_random(action, Path(folder), count, given.seed)
        faults += len(report.faults)
        told = {"kills": report.kills, "finished": report.finished, "told_safe": report.told}
        print(json.dumps({"action": action, **told, "faults": list(report.faults)}))
    sys.exit(faults > 0)


if __name__ == "__main__":
    main()
