"""How long commands take to answer on a small logbook, against a bare interpreter.

Run ``python -m tests.benchmarks.start_up``. It also prints how many modules each one imports and
which of the heavy libraries are among them.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.benchmarks.command_cpu import BARE_INTERPRETER, GREASECHECK, in_turn

HEAVY = ("numpy", "cv2", "scipy", "skimage", "sklearn", "matplotlib", "PIL", "reportlab", "jinja2")
SMALL_LOGBOOK = (
    "tub 12 --volume 60",
    "change 12 --recipe soap --temperature 45",
    "skull fox --species fox --tub 12",
)
LIGHT = (
    "--version",
    "--help",
    "today",
    "tub 12 --name a",
    "change 12",
    "undo",
    "skull",
    "reading list 12",
    "book check",
    "cautions",
)
WITH_FORECAST = ("forecast", "tub 12", "recipes", "risk")
PROBE = """
import runpy, sys
try:
    runpy.run_module("greasecheck", run_name="__main__", alter_sys=True)
except SystemExit:
    pass
print(*sys.modules, file=sys.stderr)
"""


def modules_of(command: str, logbook: Path) -> set[str]:
    """Return the names of the modules that a command imports."""
    done = subprocess.run(
        [sys.executable, "-c", PROBE, *command.split()],
        capture_output=True,
        check=True,
        env={**os.environ, "GREASECHECK_LOGBOOK": str(logbook)},
        text=True,
    )
    return set(done.stderr.splitlines()[-1].split())


def make_small_logbook(path: Path) -> None:
    """Enter a tub, its bath and a skull."""
    for command in SMALL_LOGBOOK:
        modules_of(command, path)


def main() -> None:
    """Print a line for each command."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=9)
    rounds = parser.parse_args().rounds
    with tempfile.TemporaryDirectory() as folder:
        logbook = Path(folder) / "season.logbook"
        make_small_logbook(logbook)
        commands = {name: (*GREASECHECK, *name.split()) for name in (*LIGHT, *WITH_FORECAST)}
        spent = in_turn({"bare": BARE_INTERPRETER, **commands}, rounds, str(logbook))
        print(f"{'command':16}{'/ bare interpreter':>20}{'modules':>9}  heavy ones")
        for name in commands:
            modules = modules_of(name, logbook)
            heavy = ", ".join(library for library in HEAVY if library in modules)
            print(f"{name:16}{spent[name] / spent['bare']:20.1f}{len(modules):9}  {heavy}")


if __name__ == "__main__":
    main()
